"""The data sheet as a PDF, A4: what is asked of each station, and the conflict report behind it."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape

from django.utils.translation import get_language, gettext, gettext_noop
from reportlab.lib.pagesizes import A4
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

from licences.applying import SheetField, State
from spectrum.paper import (
    EDGE,
    FACE,
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
    listed,
)

from .sheet import DataSheet, LinkPart, StationPart
from .words import CAUTIONS

DRAFT = gettext_noop("Draft: not filed. Figures as the register has them on the day of printing.")
_FOOT = gettext_noop(
    "An application is not a permission to transmit. The authority decides; local rules come first."
)


def application_pdf(sheet: DataSheet) -> bytes:
    """The sheet, ready to be sent; every page carries the number, what it is and the page's number."""
    spell = Speller()
    file = io.BytesIO()
    application = sheet.application
    heading = spell(
        gettext("Application {application} to {authority}").format(
            application=application.number, authority=application.authority
        )
    )

    def frame_of(canvas: Canvas, document: BaseDocTemplate) -> None:
        canvas.saveState()
        canvas.setFont(FACE, 7.5)
        canvas.setFillColor(SOFT)
        canvas.drawString(
            EDGE, A4[1] - 10 * mm, spell(gettext("{heading}: technical data").format(heading=heading))
        )
        canvas.drawRightString(
            A4[0] - EDGE, A4[1] - 10 * mm, spell(gettext("page {page}").format(page=document.page))
        )
        canvas.drawString(EDGE, 9 * mm, spell(gettext(_FOOT)))
        if sheet.state is State.DRAFTING:
            canvas.setFillColor(MUST)
            canvas.drawString(EDGE, A4[1] - 14 * mm, spell(gettext(DRAFT)))
        canvas.restoreState()

    document = BaseDocTemplate(
        file,
        pagesize=A4,
        title=gettext("{application}: technical data").format(application=application.number),
        author="Link register",
        lang=get_language() or "en",
    )
    area = Frame(EDGE, 14 * mm, WIDTH, A4[1] - 32 * mm, 0, 0, 0, 0)
    document.addPageTemplates([PageTemplate(frames=[area], onPage=frame_of)])
    document.build(list(_flow(sheet, heading, spell)))
    return file.getvalue()


def _flow(sheet: DataSheet, heading: str, spell: Speller) -> Iterable[Flowable]:
    application = sheet.application
    yield Paragraph(escape(heading), TITLE)
    yield Paragraph(escape(spell(_standing(sheet))), TEXT)
    if sheet.missing:
        yield Paragraph(escape(spell(gettext("{count} missing").format(count=len(sheet.missing)))), SMALL)
        yield from listed([line.missing for line in sheet.missing], spell)
    yield Paragraph(escape(spell(gettext("The application"))), PART)
    yield _lines(sheet.general, spell)
    yield Paragraph(escape(spell(gettext("Before you read on"))), SMALL)
    yield from listed(CAUTIONS, spell)
    for part in sheet.links:
        yield Paragraph(escape(spell(part.heading)), PART)
        for station in part.stations:
            yield from _station(station, spell)
    if sheet.links:
        yield Paragraph(escape(spell(gettext("Conflict report"))), PART)
        yield Paragraph(escape(spell(_conflict_words(sheet))), TEXT)
        if application.filed_despite:
            yield Paragraph(
                escape(
                    spell(
                        gettext("Filed nevertheless, because: {filed_despite}").format(
                            filed_despite=application.filed_despite
                        )
                    )
                ),
                STRONG,
            )
    for part in sheet.links:
        yield from _report(part, spell)
    if spell.lacking:
        yield Paragraph(
            escape(
                spell(
                    gettext(
                        "Letters that this sheet's face lacks are printed without their mark or as ¿; "
                        "see the page of the application."
                    )
                )
            ),
            QUIET,
        )


def _standing(sheet: DataSheet) -> str:
    application = sheet.application
    if sheet.state is State.DRAFTING:
        return gettext("Being drawn up. As the register stands on {made_on}.").format(made_on=sheet.made_on)
    sentence = (
        gettext("Filed on {filed_on}, reference {reference}. The figures are those that were filed.")
        if application.authority_reference
        else gettext("Filed on {filed_on}. The figures are those that were filed.")
    )
    filed = sentence.format(filed_on=application.filed_on, reference=application.authority_reference)
    if not application.decided_on:
        return filed
    decided = gettext("{state} on {decided_on}.").format(
        state=sheet.state.words.capitalize(), decided_on=application.decided_on
    )
    return f"{filed} {decided}"


def _conflict_words(sheet: DataSheet) -> str:
    return (
        gettext("What the checks of the register found about each link, worst first, as found up to now.")
        if sheet.state is State.DRAFTING
        else gettext(
            "What the checks of the register found about each link, worst first, as it was on the day of filing."
        )
    )


def _station(station: StationPart, spell: Speller) -> Iterable[Flowable]:
    lines = _lines(station.lines, spell)
    yield KeepTogether([Paragraph(escape(spell(station.heading)), SMALL), lines, Spacer(0, 2 * mm)])
    if station.channel is not None:
        name = f"{station.channel.licence}/{station.channel.label}"
        said = (
            [gettext("Granted as {name}, as it was asked.").format(name=name)]
            if not station.otherwise
            else station.otherwise
        )
        yield Paragraph(escape(spell(gettext("Granted: {name}").format(name=name))), SMALL)
        yield from listed(said, spell)
    if station.moved:
        yield Paragraph(escape(spell(gettext("The register has moved away from what was filed"))), SMALL)
        yield from listed(station.moved, spell)


def _lines(lines: Sequence[SheetField], spell: Speller) -> Flowable:
    if not lines:
        return Paragraph(escape(spell(gettext("Nothing is asked."))), QUIET)
    rows = []
    for line in lines:
        value = (
            Paragraph(escape(spell(line.value)), STRONG)
            if line.value
            else Paragraph(escape(spell(gettext("missing"))), QUIET)
        )
        wanted = line.note if line.value else line.notation
        note = f"{wanted} ({line.item})".strip() if line.item else wanted
        rows.append(
            [Paragraph(escape(spell(line.title)), QUIET), value, Paragraph(escape(spell(note)), QUIET)]
        )
    return Table(rows, colWidths=[WIDTH * 0.28, WIDTH * 0.44, WIDTH * 0.28], style=TableStyle(RULED))


def _report(part: LinkPart, spell: Speller) -> Iterable[Flowable]:
    report = part.report
    yield Paragraph(escape(spell(f"{part.link.code}: {report.sentence}")), SMALL)
    yield Paragraph(escape(spell(report.checked)), QUIET)
    if report.rows:
        head = [
            Paragraph(escape(spell(name)), QUIET)
            for name in (gettext("weight"), gettext("finding"), gettext("margin"), gettext("standing"))
        ]
        body = [
            [
                Paragraph(escape(spell(row.weight)), TEXT),
                Paragraph(escape(spell(row.headline)), TEXT),
                Paragraph(escape(spell(row.margin)), TEXT),
                Paragraph(escape(spell(row.standing)), TEXT),
            ]
            for row in report.rows
        ]
        widths = [WIDTH * 0.12, WIDTH * 0.46, WIDTH * 0.12, WIDTH * 0.30]
        yield Table([head, *body], colWidths=widths, repeatRows=1, style=TableStyle(RULED))
    if report.more:
        yield Paragraph(
            escape(
                spell(
                    gettext("{more} more, less far off, stand on the page of the link.").format(
                        more=report.more
                    )
                )
            ),
            QUIET,
        )
    if report.not_judged:
        yield Paragraph(escape(spell(gettext("Not judged, and counted against the link"))), SMALL)
        yield from listed(report.not_judged, spell)
