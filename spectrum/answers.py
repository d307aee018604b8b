"""What a link's page asks and answers in its first lines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from spectrum.models import Check, Finding, Link
from spectrum.wording import headline_of

_QUESTIONS = {
    Link.Status.PLANNED: "may it be filed?",
    Link.Status.FILED: "does it still stand clear?",
    Link.Status.GRANTED: "may it be switched on?",
    Link.Status.ON_AIR: "is it clear of others and inside its licence?",
    Link.Status.LAPSED: "what became of it?",
    Link.Status.RETIRED: "what was it?",
}
_NOT_CHECKED = {
    Link.Status.LAPSED: "Its reservation has lapsed: the pair is free for others. It is not checked any more.",
    Link.Status.RETIRED: "It is retired. It transmits nothing and is not checked any more.",
}


@dataclass(frozen=True)
class Answer:
    """The first line under the heading; ``side`` is no, decide, yes or open."""

    side: str
    sentence: str


def question(link: Link) -> str:
    """What the page of a link is asked, by its status."""
    if not link.holder.own and link.status in Link.LIVE:
        return "is it left undisturbed?"
    return _QUESTIONS[Link.Status(link.status)]


def answer(link: Link, findings: Sequence[Finding], last_check: Check | None) -> Answer:
    """What the findings that nobody has accepted say to the question."""
    if link.status in _NOT_CHECKED:
        return Answer("open", _NOT_CHECKED[Link.Status(link.status)])
    if last_check is None:
        return Answer("open", "Not known yet: the link has not been checked.")
    still_open = [f for f in findings if f.accepted_at is None]
    must_fix = [f for f in still_open if f.severity == Finding.Severity.MUST_FIX]
    decide = [f for f in still_open if f.severity == Finding.Severity.DECIDE]
    if must_fix:
        return Answer(
            "no", f"No: {_count(len(must_fix), 'finding')} must be fixed. First: {_sentence(must_fix[0])}"
        )
    if decide:
        return Answer(
            "decide",
            f"Not before {_count(len(decide), 'finding')} {_is(decide)} decided. First: {_sentence(decide[0])}",
        )
    notes = f" There {_is(still_open)} {_count(len(still_open), 'note')}." if still_open else ""
    accepted = len(findings) - len(still_open)
    taken = (
        f" {_count(accepted, 'finding')} {'was' if accepted == 1 else 'were'} accepted." if accepted else ""
    )
    changed = " It was changed since; check it again." if link.changed_at > last_check.started_at else ""
    return Answer(
        "yes",
        f"Yes, as far as was checked on {last_check.started_at:%Y-%m-%d}: nothing stands against it.{notes}{taken}{changed}",
    )


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _is(found: Sequence[Finding]) -> str:
    return "is" if len(found) == 1 else "are"


def _sentence(finding: Finding) -> str:
    headline = headline_of(finding)
    return headline if headline.endswith((".", "?")) else f"{headline}."
