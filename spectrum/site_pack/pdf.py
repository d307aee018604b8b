"""The pack as a PDF, A4, to be kept at the mast."""

from __future__ import annotations

import io
from collections.abc import Iterable
from xml.sax.saxutils import escape

from django.utils.translation import get_language, gettext, gettext_noop
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
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

from spectrum.paper import (
    EDGE,
    FACE,
    FIGURE,
    PART,
    QUIET,
    RULED,
    SMALL,
    SOFT,
    STRONG,
    TEXT,
    TITLE,
    WIDTH,
    Speller,
    line_table,
    listed,
)

from .pack import CAUTIONS, LicencePart, Pack
from .stations import StationPart

_FOOT = gettext_noop(
    "A copy of the register, not the licences. Nothing here is a permission to transmit. Local codes decide."
)


def pack_pdf(pack: Pack) -> bytes:
    """The pack, ready to be sent; every page carries the site, the day, the revision and its number."""
    spell = Speller()
    file = io.BytesIO()
    head = spell(
        gettext("{heading}: licence pack of {made_on}, register revision {revision}").format(
            heading=pack.heading, made_on=pack.made_on, revision=pack.revision
        )
    )

    def frame_of(canvas: Canvas, document: BaseDocTemplate) -> None:
        canvas.saveState()
        canvas.setFont(FACE, 7.5)
        canvas.setFillColor(SOFT)
        canvas.drawString(EDGE, A4[1] - 10 * mm, head)
        canvas.drawRightString(
            A4[0] - EDGE, A4[1] - 10 * mm, spell(gettext("page {page}").format(page=document.page))
        )
        canvas.drawString(EDGE, 9 * mm, spell(gettext(_FOOT)))
        canvas.restoreState()

    document = BaseDocTemplate(
        file,
        pagesize=A4,
        title=gettext("{heading}: licence pack").format(heading=pack.heading),
        author="Link register",
        lang=get_language() or "en",
    )
    area = Frame(EDGE, 14 * mm, WIDTH, A4[1] - 30 * mm, 0, 0, 0, 0)
    document.addPageTemplates([PageTemplate(frames=[area], onPage=frame_of)])
    document.build(list(_flow(pack, spell)))
    return file.getvalue()


def _flow(pack: Pack, spell: Speller) -> Iterable[Flowable]:
    yield Paragraph(escape(spell(pack.heading)), TITLE)
    yield Paragraph(escape(spell(gettext("Licence pack. {as_of}").format(as_of=pack.as_of))), TEXT)
    yield Paragraph(escape(spell(pack.answer)), STRONG)
    if pack.off:
        yield Paragraph(escape(spell(gettext("What is off"))), SMALL)
        yield from listed(pack.off, spell)
    yield Paragraph(escape(spell(gettext("The site"))), PART)
    yield line_table(pack.site_lines, spell)
    yield Paragraph(escape(spell(gettext("Before anybody climbs or transmits"))), PART)
    yield from listed(CAUTIONS, spell)
    if pack.stations:
        yield Paragraph(escape(spell(gettext("Stations at a glance"))), PART)
        yield _glance(pack, spell)
        yield Paragraph(escape(spell(gettext("Stations"))), PART)
    for part in pack.stations:
        yield from _station(part, spell)
    yield Paragraph(escape(spell(gettext("Licences that cover the site"))), PART)
    if not pack.licences:
        yield Paragraph(escape(spell(gettext("None in the register."))), TEXT)
    for licence in pack.licences:
        yield from _licence(licence, spell)
    for title, lines in (
        (gettext("Contacts"), pack.contacts),
        (gettext("Papers in the register"), pack.papers),
    ):
        if lines:
            yield KeepTogether([Paragraph(escape(spell(title)), PART), line_table(lines, spell)])
    if spell.lacking:
        yield Paragraph(
            escape(
                spell(
                    gettext(
                        "Letters that this sheet's face lacks are printed without their mark or as ¿; see the page of the site."
                    )
                )
            ),
            QUIET,
        )


def _glance(pack: Pack, spell: Speller) -> Flowable:
    right = ParagraphStyle("head", parent=QUIET, alignment=TA_RIGHT)
    heads = (
        (gettext("station"), QUIET),
        (gettext("transmits MHz"), right),
        (gettext("receives MHz"), right),
        (gettext("e.i.r.p. dBm"), right),
        (gettext("emission"), QUIET),
        (gettext("allowed by"), QUIET),
    )
    rows = [[Paragraph(escape(spell(head)), style) for head, style in heads]]
    for part in pack.stations:
        figures = (part.transmits, part.receives, part.eirp)
        rows.append(
            [
                Paragraph(escape(spell(part.name)), STRONG),
                *(Paragraph(escape(text), FIGURE) for text in figures),
                Paragraph(escape(part.emission), TEXT),
                Paragraph(escape(spell(part.licensed_by)), TEXT),
            ]
        )
    widths = [WIDTH * share for share in (0.18, 0.15, 0.15, 0.12, 0.15, 0.25)]
    return Table(rows, colWidths=widths, repeatRows=1, style=TableStyle(RULED))


def _station(part: StationPart, spell: Speller) -> Iterable[Flowable]:
    whole: list[Flowable] = [Paragraph(escape(spell(part.heading)), SMALL)]
    whole += [
        Paragraph(escape(spell(gettext("Off: {sentence}").format(sentence=sentence))), STRONG)
        for sentence in part.off
    ]
    whole.append(line_table(part.lines, spell))
    yield KeepTogether(whole)
    if part.exposure:
        title = Paragraph(escape(spell(gettext("Exposure distances in the main beam, guidance only"))), SMALL)
        yield KeepTogether([title, line_table(part.exposure, spell)])
    yield Spacer(0, 3 * mm)


def _licence(part: LicencePart, spell: Speller) -> Iterable[Flowable]:
    yield KeepTogether([Paragraph(escape(spell(part.heading)), SMALL), line_table(part.lines, spell)])
    for channel in part.channels:
        heading = Paragraph(escape(spell(channel.heading)), SMALL)
        yield KeepTogether([heading, line_table(channel.lines, spell)])
    yield Spacer(0, 3 * mm)
