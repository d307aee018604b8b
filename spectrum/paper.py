"""What every printed sheet shares: A4, the face, the styles, and the letters that the face has.

The face is Bitstream Vera, which comes with reportlab: Latin of Western Europe (all of Latin-1), the letters of
Polish in part, Czech in part, Croatian, Slovene and Turkish, and the mathematical signs used here; no Greek, no
Cyrillic. A letter that it lacks is printed without its mark (ő as o) or as ¿, and the sheet says so at its end.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from functools import cache
from xml.sax.saxutils import escape

from reportlab.lib import colors
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont
from reportlab.platypus import Flowable, Paragraph, Table, TableStyle

from sites.lazily import Words
from spectrum.commissioning.words import Line

FACE, BOLD = "Vera", "VeraBd"
EDGE, HEAD = 16 * mm, 12 * mm
WIDTH = A4[0] - 2 * EDGE
INK, SOFT, MUST = colors.HexColor("#1b211f"), colors.HexColor("#55605c"), colors.HexColor("#9c1f14")

TEXT = ParagraphStyle("text", fontName=FACE, fontSize=8.5, leading=11, textColor=INK)
STRONG = ParagraphStyle("strong", parent=TEXT, fontName=BOLD)
QUIET = ParagraphStyle("quiet", parent=TEXT, fontSize=7.5, leading=9.5, textColor=SOFT)
FIGURE = ParagraphStyle("figure", parent=TEXT, alignment=TA_RIGHT)
TITLE = ParagraphStyle("title", parent=TEXT, fontName=BOLD, fontSize=15, leading=19)
PART = ParagraphStyle(
    "part", parent=TEXT, fontName=BOLD, fontSize=11, leading=14, spaceBefore=9, spaceAfter=3
)
SMALL = ParagraphStyle("small", parent=TEXT, fontName=BOLD, spaceBefore=6, spaceAfter=2)
RULED = [
    ("LINEBELOW", (0, 0), (-1, -1), 0.3, SOFT),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 1.5),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
]


@cache
def _covered() -> frozenset[int]:
    """The characters of the face; registers it on the way."""
    for name in (FACE, BOLD):
        pdfmetrics.registerFont(TTFont(name, f"{name}.ttf"))
    return frozenset(pdfmetrics.getFont(FACE).face.charToGlyph)


class Speller:
    """Writes text with the letters that the face has, and remembers those that it has not."""

    def __init__(self) -> None:
        self.covered, self.lacking = _covered(), set[str]()

    def __call__(self, text: str) -> str:
        return "".join(self._letter(letter) for letter in text.replace("→", "to").replace("\n", " "))

    def _letter(self, letter: str) -> str:
        if ord(letter) in self.covered:
            return letter
        self.lacking.add(letter)
        plain = unicodedata.normalize("NFKD", letter)[:1]
        return plain if ord(plain) in self.covered else "¿"


def listed(texts: Sequence[Words], spell: Speller, *, numbered: bool = False) -> Iterable[Flowable]:
    """Sentences under each other, each with a dash or its number."""
    for number, text in enumerate(texts, start=1):
        style = ParagraphStyle("item", parent=TEXT, leftIndent=5 * mm, bulletIndent=0, spaceAfter=1.5)
        yield Paragraph(escape(spell(str(text))), style, bulletText=f"{number}." if numbered else "–")


def line_table(lines: Sequence[Line], spell: Speller) -> Table:
    """What, how much, and what belongs beside it, one line each."""
    return Table(
        [
            [
                Paragraph(escape(spell(line.name)), QUIET),
                Paragraph(escape(spell(line.value)), STRONG),
                Paragraph(escape(spell(line.note)), QUIET),
            ]
            for line in lines
        ],
        colWidths=[WIDTH * 0.28, WIDTH * 0.34, WIDTH * 0.38],
        style=TableStyle(RULED),
    )
