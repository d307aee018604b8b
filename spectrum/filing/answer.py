"""What the page of an application asks and answers in its first lines."""

from __future__ import annotations

from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from licences.applying import SheetField, State
from sites.reading import written_day
from spectrum.answers import Answer

from .sheet import DataSheet

_QUESTIONS = {
    State.DRAFTING: _("may it be filed?"),
    State.FILED: _("what did the authority decide?"),
    State.GRANTED: _("what was granted?"),
    State.REFUSED: _("what became of it?"),
    State.WITHDRAWN: _("what became of it?"),
}


def question(sheet: DataSheet) -> str:
    return str(_QUESTIONS[sheet.state])


def answer(sheet: DataSheet) -> Answer:
    """The first line: whether it may be filed, or how it stands."""
    match sheet.state:
        case State.DRAFTING:
            return _drafting(sheet)
        case State.FILED:
            return _filed(sheet)
        case State.GRANTED:
            return _granted(sheet)
        case _:
            return _ended(sheet)


def _drafting(sheet: DataSheet) -> Answer:
    if not sheet.links:
        return Answer(
            "open", gettext("Not yet: it is for no link. Add the links that are to be filed together.")
        )
    if silent := [part.link.code for part in sheet.links if not part.stations]:
        return Answer(
            "no",
            gettext(
                "No: every transmitting station of {links} has a licensed channel already; take it out."
            ).format(links=", ".join(silent)),
        )
    if missing := len(sheet.missing):
        return Answer(
            "no",
            ngettext(
                "Not yet: {count} field is missing. First: {first}",
                "Not yet: {count} fields are missing. First: {first}",
                missing,
            ).format(count=missing, first=_lacking(sheet.missing[0])),
        )
    if sheet.objections:
        more = len(sheet.objections) - 1
        sentence = (
            gettext("Only with a reason: {objection} The same or the like holds for {more} more.")
            if more
            else gettext("Only with a reason: {objection}")
        )
        return Answer("decide", sentence.format(objection=sheet.objections[0], more=more))
    return Answer(
        "yes",
        gettext(
            "Yes: every field that the authority asks is filled, and nothing found is left to be fixed or decided."
        ),
    )


def _lacking(line: SheetField) -> str:
    """What is missing and where it is entered."""
    if line.where is None:
        return gettext("{title} ({notation}).").format(title=line.title, notation=line.notation)
    return gettext("{title} ({notation}). Enter it at {where}.").format(
        title=line.title, notation=line.notation, where=line.where.name
    )


def _filed(sheet: DataSheet) -> Answer:
    days = (sheet.made_on - sheet.application.filed_on).days if sheet.application.filed_on else 0
    since = ngettext(
        "It was filed on {filed_on}, {days} day ago.", "It was filed on {filed_on}, {days} days ago.", days
    ).format(
        filed_on=written_day(sheet.application.filed_on) if sheet.application.filed_on else "", days=days
    )
    moved = sum(1 for station in sheet.stations if station.moved)
    if moved:
        return Answer(
            "decide",
            ngettext(
                "Nothing yet. {since} {moved} station is no longer in the register as filed.",
                "Nothing yet. {since} {moved} stations are no longer in the register as filed.",
                moved,
            ).format(since=since, moved=moved),
        )
    return Answer(
        "open", gettext("Nothing yet. {since} Its pairs are held until it is decided.").format(since=since)
    )


def _granted(sheet: DataSheet) -> Answer:
    licences = ", ".join(str(licence) for licence in sheet.application.licences.all())
    otherwise = sum(1 for station in sheet.stations if station.otherwise)
    decided_on = written_day(sheet.application.decided_on) if sheet.application.decided_on else ""
    if not otherwise:
        return Answer(
            "yes",
            gettext("Licence {licences}, granted on {decided_on}, as it was asked.").format(
                licences=licences, decided_on=decided_on
            ),
        )
    return Answer(
        "decide",
        ngettext(
            "Licence {licences}, granted on {decided_on}; for {count} station otherwise than asked. "
            "Read below what is off.",
            "Licence {licences}, granted on {decided_on}; for {count} stations otherwise than asked. "
            "Read below what is off.",
            otherwise,
        ).format(licences=licences, decided_on=decided_on, count=otherwise),
    )


def _ended(sheet: DataSheet) -> Answer:
    application = sheet.application
    said = gettext("It was {state} on {decided_on}; its pairs were given back.").format(
        state=sheet.state.words,
        decided_on=written_day(application.decided_on) if application.decided_on else "",
    )
    return Answer("no", f"{said} {application.decision_remarks}".strip())
