"""The sheet as a PDF, A4, to be printed and written on."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape

from django.utils.translation import get_language, gettext
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

from sites.templatetags.figures import fixed
from spectrum.conflicts.evidence import Row
from spectrum.paper import (
    BOLD,
    EDGE,
    FACE,
    FIGURE,
    HEAD,
    INK,
    MUST,
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

from .sheet import End, Sheet
from .words import BENCH, CAUTIONS, RECORD, Line

_WARNING = 22 * mm
_STOP = ParagraphStyle("stop", parent=TEXT, fontName=BOLD, fontSize=9, leading=11.5, textColor=MUST)


def sheet_pdf(sheet: Sheet) -> bytes:
    """The sheet, ready to be sent: every page carries its heading, the warning if there is one, and its number."""
    spell = Speller()
    file = io.BytesIO()
    warning = spell(sheet.warning)

    def frame_of(canvas: Canvas, document: BaseDocTemplate) -> None:
        canvas.saveState()
        canvas.setFont(FACE, 7.5)
        canvas.setFillColor(SOFT)
        canvas.drawString(
            EDGE,
            A4[1] - 10 * mm,
            spell(
                gettext("{heading}: commissioning sheet of {made_on}").format(
                    heading=spell(sheet.heading), made_on=sheet.made_on
                )
            ),
        )
        canvas.drawRightString(
            A4[0] - EDGE, A4[1] - 10 * mm, spell(gettext("page {page}").format(page=document.page))
        )
        canvas.drawString(
            EDGE,
            9 * mm,
            spell(
                gettext(
                    "Licence first. A predicted clear channel is not a permission to transmit. Local codes decide."
                )
            ),
        )
        if warning:
            _draw_warning(canvas, warning)
        canvas.restoreState()

    top = HEAD + (_WARNING if warning else 4 * mm)
    document = BaseDocTemplate(
        file,
        pagesize=A4,
        title=gettext("{heading}: commissioning sheet").format(heading=sheet.heading),
        author="Link register",
        lang=get_language() or "en",
    )
    area = Frame(EDGE, 14 * mm, WIDTH, A4[1] - 14 * mm - top, 0, 0, 0, 0)
    document.addPageTemplates([PageTemplate(frames=[area], onPage=frame_of)])
    document.build(list(_flow(sheet, spell)))
    return file.getvalue()


def _draw_warning(canvas: Canvas, warning: str) -> None:
    """The box at the head of every page; a text too long for it ends in an ellipsis, whole on the first page."""
    words = warning
    while True:
        paragraph = Paragraph(escape(words), _STOP)
        _, height = paragraph.wrap(WIDTH - 6 * mm, _WARNING)
        if height <= _WARNING - 7 * mm:
            break
        words = f"{words.rstrip('… ').rsplit(' ', 1)[0]} …"
    bottom = A4[1] - HEAD - height - 3 * mm
    canvas.setStrokeColor(MUST)
    canvas.setLineWidth(1.5)
    canvas.rect(EDGE, bottom, WIDTH, height + 3 * mm)
    paragraph.drawOn(canvas, EDGE + 3 * mm, bottom + 1.5 * mm)


def _flow(sheet: Sheet, spell: Speller) -> Iterable[Flowable]:
    yield Paragraph(escape(spell(sheet.heading)), TITLE)
    yield Paragraph(
        escape(
            spell(
                gettext(
                    "What each end is set to. As the register stands on {made_on}. Status of the link: {status}."
                ).format(made_on=sheet.made_on, status=sheet.link.get_status_display())
            )
        ),
        TEXT,
    )
    if sheet.reasons:
        yield Paragraph(escape(spell(gettext("Why it is not to be switched on"))), SMALL)
        yield from listed(sheet.reasons, spell)
    if sheet.open_findings:
        yield Paragraph(escape(spell(gettext("Findings that must be fixed and are not accepted"))), SMALL)
        yield from listed(sheet.open_findings, spell)
    yield Paragraph(escape(spell(gettext("Before anybody transmits or climbs"))), PART)
    yield from listed(CAUTIONS, spell)
    yield Paragraph(escape(spell(gettext("On the bench first"))), PART)
    yield from listed(BENCH, spell, numbered=True)
    for end in sheet.ends:
        yield from _end(end, spell)
    yield Paragraph(escape(spell(gettext("To be recorded"))), PART)
    yield Paragraph(
        escape(
            spell(
                gettext(
                    "As found, before anything is changed; then as left. Enter it on the page of the link."
                )
            )
        ),
        TEXT,
    )
    yield Spacer(0, 2 * mm)
    for number in range(0, len(sheet.ends), 2):
        yield KeepTogether(_record_table(sheet.ends[number : number + 2], spell))
        yield Spacer(0, 3 * mm)
    if spell.lacking:
        yield Paragraph(
            escape(
                spell(
                    gettext(
                        "Letters that this sheet's face lacks are printed without their mark or as ¿; see the page of the link."
                    )
                )
            ),
            QUIET,
        )


def _end(end: End, spell: Speller) -> Iterable[Flowable]:
    big = ParagraphStyle("big", parent=TEXT, fontName=BOLD, fontSize=13, leading=16)
    titles = (gettext("transmits (MHz)"), gettext("receives (MHz)"), gettext("output power to set"))
    values = (end.sends, end.hears, spell(end.power_text))
    head = Table(
        [
            [Paragraph(escape(spell(title)), QUIET) for title in titles],
            [Paragraph(escape(value), big) for value in values],
        ],
        colWidths=[WIDTH / 3] * 3,
        style=TableStyle([("BOX", (0, 0), (-1, -1), 0.8, INK), ("LINEBEFORE", (1, 0), (-1, -1), 0.3, SOFT)]),
    )
    settings = line_table(end.settings, spell)
    yield KeepTogether([Paragraph(escape(spell(end.heading)), PART), head, Spacer(0, 2 * mm), settings])
    if end.power is not None:
        parts: list[Flowable] = [Paragraph(escape(spell(gettext("Output power: the arithmetic"))), SMALL)]
        parts.append(Paragraph(escape(spell(end.power.sentence)), TEXT))
        if end.power.rows:
            parts.append(_rows(end.power.rows, spell))
        yield KeepTogether(parts)
    for title, lines in (
        (gettext("Duplexer or spacing"), end.isolation),
        (gettext("Predicted, to be held against what is measured"), end.expected),
        (gettext("Recorded last"), _recorded(end)),
        (gettext("Exposure distances in the main beam, guidance only"), end.exposure),
    ):
        if lines:
            yield KeepTogether([Paragraph(escape(spell(title)), SMALL), line_table(lines, spell)])


def _recorded(end: End) -> list[Line]:
    if end.recorded is None:
        return []
    row = end.recorded.row
    return [
        Line(gettext("who and when"), f"{row.found_by}, {row.found_on}"),
        *end.recorded.lines,
        *(Line(gettext("off"), sentence) for sentence in end.recorded.off),
    ]


def _rows(rows: Sequence[Row], spell: Speller) -> Table:
    return Table(
        [
            [
                Paragraph(escape(spell(gettext(row.name))), STRONG if row.role == "sum" else TEXT),
                Paragraph(fixed(row.value, 2), FIGURE),
                Paragraph(row.unit, TEXT),
                Paragraph(escape(spell(gettext(row.source))), QUIET),
            ]
            for row in rows
        ],
        colWidths=[WIDTH * 0.4, WIDTH * 0.12, WIDTH * 0.1, WIDTH * 0.38],
        style=TableStyle(RULED),
    )


def _record_table(ends: Sequence[End], spell: Speller) -> Table:
    names = [f"{end.station.label}: {end.station.site.code}" for end in ends]
    head = [Paragraph("", TEXT), *(Paragraph(escape(spell(name)), STRONG) for name in names)]
    asked = [f"{name} ({unit})" if unit else name for name, unit in RECORD]
    body = [[Paragraph(escape(spell(str(name))), TEXT), *("" for _ in ends)] for name in asked]
    wide = WIDTH * 0.32
    return Table(
        [head, *body],
        colWidths=[wide, *([(WIDTH - wide) / len(ends)] * len(ends))],
        rowHeights=[None, *([7 * mm] * (len(body) - 1)), 14 * mm],
        style=TableStyle([("GRID", (0, 0), (-1, -1), 0.5, SOFT), ("VALIGN", (0, 0), (-1, -1), "MIDDLE")]),
    )
