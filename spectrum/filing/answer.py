"""What the page of an application asks and answers in its first lines."""

from __future__ import annotations

from licences.applying import State
from spectrum.answers import Answer

from .sheet import DataSheet

_QUESTIONS = {
    State.DRAFTING: "may it be filed?",
    State.FILED: "what did the authority decide?",
    State.GRANTED: "what was granted?",
    State.REFUSED: "what became of it?",
    State.WITHDRAWN: "what became of it?",
}


def question(sheet: DataSheet) -> str:
    return _QUESTIONS[sheet.state]


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
        return Answer("open", "Not yet: it is for no link. Add the links that are to be filed together.")
    if silent := [part.link.code for part in sheet.links if not part.stations]:
        return Answer(
            "no",
            f"No: every transmitting station of {', '.join(silent)} has a licensed channel already; take it out.",
        )
    if missing := len(sheet.missing):
        fields = "1 field is missing" if missing == 1 else f"{missing} fields are missing"
        return Answer("no", f"Not yet: {fields}. First: {sheet.missing[0].missing.removeprefix('Missing: ')}")
    if sheet.objections:
        more = len(sheet.objections) - 1
        others = f" The same or the like holds for {more} more." if more else ""
        return Answer("decide", f"Only with a reason: {sheet.objections[0]}{others}")
    return Answer(
        "yes", "Yes: every field that the authority asks is filled, and nothing found stands against it."
    )


def _filed(sheet: DataSheet) -> Answer:
    days = (sheet.made_on - sheet.application.filed_on).days if sheet.application.filed_on else 0
    since = f"It was filed on {sheet.application.filed_on}, {days} day{'' if days == 1 else 's'} ago."
    moved = sum(1 for station in sheet.stations if station.moved)
    if moved:
        which = "1 station is" if moved == 1 else f"{moved} stations are"
        return Answer("decide", f"Nothing yet. {since} {which} no longer in the register as filed.")
    return Answer("open", f"Nothing yet. {since} Its pairs are held until it is decided.")


def _granted(sheet: DataSheet) -> Answer:
    licences = ", ".join(str(licence) for licence in sheet.application.licences.all())
    otherwise = sum(1 for station in sheet.stations if station.otherwise)
    said = f"Licence {licences}, granted on {sheet.application.decided_on}"
    if not otherwise:
        return Answer("yes", f"{said}, as it was asked.")
    which = "1 station" if otherwise == 1 else f"{otherwise} stations"
    return Answer("decide", f"{said}; for {which} otherwise than asked. Read below what is off.")


def _ended(sheet: DataSheet) -> Answer:
    application = sheet.application
    why = f" {application.decision_remarks}" if application.decision_remarks else ""
    return Answer(
        "no", f"It was {sheet.state.words} on {application.decided_on}; its pairs were given back.{why}"
    )
