"""The sheet as a PDF, A4, to be printed and written on.

The face is Bitstream Vera, which comes with reportlab: Latin of Western Europe (all of Latin-1), the letters of
Polish in part, Czech in part, Croatian, Slovene and Turkish, and the mathematical signs used here; no Greek, no
Cyrillic. A letter that it lacks is printed without its mark (ő as o) or as ¿, and the sheet says so at its end.
"""

from __future__ import annotations

import io
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
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    KeepTogether,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
    TableStyle,
)

from sites.templatetags.figures import fixed
from spectrum.conflicts.evidence import Row

from .sheet import End, Sheet
from .words import BENCH, CAUTIONS, RECORD, Line

FACE, BOLD = "Vera", "VeraBd"
_EDGE, _HEAD, _WARNING = 16 * mm, 12 * mm, 22 * mm
_WIDTH = A4[0] - 2 * _EDGE
_INK, _SOFT, _MUST = colors.HexColor("#1b211f"), colors.HexColor("#55605c"), colors.HexColor("#9c1f14")

_TEXT = ParagraphStyle("text", fontName=FACE, fontSize=8.5, leading=11, textColor=_INK)
_STRONG = ParagraphStyle("strong", parent=_TEXT, fontName=BOLD)
_QUIET = ParagraphStyle("quiet", parent=_TEXT, fontSize=7.5, leading=9.5, textColor=_SOFT)
_FIGURE = ParagraphStyle("figure", parent=_TEXT, alignment=TA_RIGHT)
_TITLE = ParagraphStyle("title", parent=_TEXT, fontName=BOLD, fontSize=15, leading=19)
_PART = ParagraphStyle(
    "part", parent=_TEXT, fontName=BOLD, fontSize=11, leading=14, spaceBefore=9, spaceAfter=3
)
_SMALL = ParagraphStyle("small", parent=_TEXT, fontName=BOLD, spaceBefore=6, spaceAfter=2)
_STOP = ParagraphStyle("stop", parent=_TEXT, fontName=BOLD, fontSize=9, leading=11.5, textColor=_MUST)


@cache
def _covered() -> frozenset[int]:
    """The characters of the face; registers it on the way."""
    for name in (FACE, BOLD):
        pdfmetrics.registerFont(TTFont(name, f"{name}.ttf"))
    return frozenset(pdfmetrics.getFont(FACE).face.charToGlyph)


class _Speller:
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


def sheet_pdf(sheet: Sheet) -> bytes:
    """The sheet, ready to be sent: every page carries its heading, the warning if there is one, and its number."""
    spell = _Speller()
    file = io.BytesIO()
    warning = spell(sheet.warning)

    def frame_of(canvas: Canvas, document: BaseDocTemplate) -> None:
        canvas.saveState()
        canvas.setFont(FACE, 7.5)
        canvas.setFillColor(_SOFT)
        canvas.drawString(
            _EDGE, A4[1] - 10 * mm, f"{spell(sheet.heading)}: commissioning sheet of {sheet.made_on}"
        )
        canvas.drawRightString(A4[0] - _EDGE, A4[1] - 10 * mm, f"page {document.page}")
        canvas.drawString(
            _EDGE,
            9 * mm,
            "Licence first. A predicted clear channel is not a permission to transmit. Local codes decide.",
        )
        if warning:
            _draw_warning(canvas, warning)
        canvas.restoreState()

    top = _HEAD + (_WARNING if warning else 4 * mm)
    document = BaseDocTemplate(
        file, pagesize=A4, title=f"{sheet.heading}: commissioning sheet", author="Link register", lang="en"
    )
    area = Frame(_EDGE, 14 * mm, _WIDTH, A4[1] - 14 * mm - top, 0, 0, 0, 0)
    document.addPageTemplates([PageTemplate(frames=[area], onPage=frame_of)])
    document.build(list(_flow(sheet, spell)))
    return file.getvalue()


def _draw_warning(canvas: Canvas, warning: str) -> None:
    """The box at the head of every page; a text too long for it ends in an ellipsis, whole on the first page."""
    words = warning
    while True:
        paragraph = Paragraph(escape(words), _STOP)
        _, height = paragraph.wrap(_WIDTH - 6 * mm, _WARNING)
        if height <= _WARNING - 7 * mm:
            break
        words = f"{words.rstrip('… ').rsplit(' ', 1)[0]} …"
    bottom = A4[1] - _HEAD - height - 3 * mm
    canvas.setStrokeColor(_MUST)
    canvas.setLineWidth(1.5)
    canvas.rect(_EDGE, bottom, _WIDTH, height + 3 * mm)
    paragraph.drawOn(canvas, _EDGE + 3 * mm, bottom + 1.5 * mm)


def _flow(sheet: Sheet, spell: _Speller) -> Iterable[Flowable]:
    yield Paragraph(escape(spell(sheet.heading)), _TITLE)
    yield Paragraph(
        f"What each end is set to. As the register stands on {sheet.made_on}. "
        f"Status of the link: {sheet.link.get_status_display()}.",
        _TEXT,
    )
    if sheet.reasons:
        yield Paragraph("Why it is not to be switched on", _SMALL)
        yield from _listed(sheet.reasons, spell)
    if sheet.open_findings:
        yield Paragraph("Findings that must be fixed and are not accepted", _SMALL)
        yield from _listed(sheet.open_findings, spell)
    yield Paragraph("Before anybody transmits or climbs", _PART)
    yield from _listed(CAUTIONS, spell)
    yield Paragraph("On the bench first", _PART)
    yield from _listed(BENCH, spell, numbered=True)
    for end in sheet.ends:
        yield from _end(end, spell)
    yield Paragraph("To be recorded", _PART)
    yield Paragraph(
        "As found, before anything is changed; then as left. Enter it on the page of the link.", _TEXT
    )
    yield Spacer(0, 2 * mm)
    for number in range(0, len(sheet.ends), 2):
        yield KeepTogether(_record_table(sheet.ends[number : number + 2], spell))
        yield Spacer(0, 3 * mm)
    if spell.lacking:
        yield Paragraph(
            "Letters that this sheet's face lacks are printed without their mark or as ¿; see the page of the link.",
            _QUIET,
        )


def _listed(texts: Sequence[str], spell: _Speller, *, numbered: bool = False) -> Iterable[Flowable]:
    for number, text in enumerate(texts, start=1):
        style = ParagraphStyle("item", parent=_TEXT, leftIndent=5 * mm, bulletIndent=0, spaceAfter=1.5)
        yield Paragraph(escape(spell(text)), style, bulletText=f"{number}." if numbered else "–")


def _end(end: End, spell: _Speller) -> Iterable[Flowable]:
    big = ParagraphStyle("big", parent=_TEXT, fontName=BOLD, fontSize=13, leading=16)
    titles = ("transmits (MHz)", "receives (MHz)", "output power to set")
    values = (end.sends, end.hears, spell(end.power_text))
    head = Table(
        [[Paragraph(title, _QUIET) for title in titles], [Paragraph(escape(value), big) for value in values]],
        colWidths=[_WIDTH / 3] * 3,
        style=TableStyle(
            [("BOX", (0, 0), (-1, -1), 0.8, _INK), ("LINEBEFORE", (1, 0), (-1, -1), 0.3, _SOFT)]
        ),
    )
    settings = _lines(end.settings, spell)
    yield KeepTogether([Paragraph(escape(spell(end.heading)), _PART), head, Spacer(0, 2 * mm), settings])
    if end.power is not None:
        parts: list[Flowable] = [Paragraph("Output power: the arithmetic", _SMALL)]
        parts.append(Paragraph(escape(spell(end.power.sentence)), _TEXT))
        if end.power.rows:
            parts.append(_rows(end.power.rows, spell))
        yield KeepTogether(parts)
    for title, lines in (
        ("Duplexer or spacing", end.isolation),
        ("Predicted, to be held against what is measured", end.expected),
        ("Recorded last", _recorded(end)),
        ("Exposure distances in the main beam, guidance only", end.exposure),
    ):
        if lines:
            yield KeepTogether([Paragraph(title, _SMALL), _lines(lines, spell)])


def _recorded(end: End) -> list[Line]:
    if end.recorded is None:
        return []
    row = end.recorded.row
    return [
        Line("who and when", f"{row.found_by}, {row.found_on}"),
        *end.recorded.lines,
        *(Line("off", sentence) for sentence in end.recorded.off),
    ]


_RULED = [
    ("LINEBELOW", (0, 0), (-1, -1), 0.3, _SOFT),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("LEFTPADDING", (0, 0), (-1, -1), 0),
    ("TOPPADDING", (0, 0), (-1, -1), 1.5),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
]


def _lines(lines: Sequence[Line], spell: _Speller) -> Table:
    return Table(
        [
            [
                Paragraph(escape(spell(line.name)), _QUIET),
                Paragraph(escape(spell(line.value)), _STRONG),
                Paragraph(escape(spell(line.note)), _QUIET),
            ]
            for line in lines
        ],
        colWidths=[_WIDTH * 0.28, _WIDTH * 0.34, _WIDTH * 0.38],
        style=TableStyle(_RULED),
    )


def _rows(rows: Sequence[Row], spell: _Speller) -> Table:
    return Table(
        [
            [
                Paragraph(escape(spell(row.name)), _STRONG if row.role == "sum" else _TEXT),
                Paragraph(fixed(row.value, 2), _FIGURE),
                Paragraph(row.unit, _TEXT),
                Paragraph(escape(spell(row.source)), _QUIET),
            ]
            for row in rows
        ],
        colWidths=[_WIDTH * 0.4, _WIDTH * 0.12, _WIDTH * 0.1, _WIDTH * 0.38],
        style=TableStyle(_RULED),
    )


def _record_table(ends: Sequence[End], spell: _Speller) -> Table:
    names = [f"{end.station.label}: {end.station.site.code}" for end in ends]
    head = [Paragraph("", _TEXT), *(Paragraph(escape(spell(name)), _STRONG) for name in names)]
    asked = [f"{name} ({unit})" if unit else name for name, unit in RECORD]
    body = [[Paragraph(name, _TEXT), *("" for _ in ends)] for name in asked]
    wide = _WIDTH * 0.32
    return Table(
        [head, *body],
        colWidths=[wide, *([(_WIDTH - wide) / len(ends)] * len(ends))],
        rowHeights=[None, *([7 * mm] * (len(body) - 1)), 14 * mm],
        style=TableStyle([("GRID", (0, 0), (-1, -1), 0.5, _SOFT), ("VALIGN", (0, 0), (-1, -1), "MIDDLE")]),
    )
