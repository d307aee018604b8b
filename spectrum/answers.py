"""What a link's page asks and answers in its first lines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from sites.reading import written_day
from spectrum.models import Check, Finding, Link
from spectrum.wording import headline_of

_QUESTIONS = {
    Link.Status.PLANNED: _("may it be filed?"),
    Link.Status.FILED: _("does it still stand clear?"),
    Link.Status.GRANTED: _("may it be switched on?"),
    Link.Status.ON_AIR: _("is it clear of others and inside its licence?"),
    Link.Status.LAPSED: _("what became of it?"),
    Link.Status.RETIRED: _("what was it?"),
}
_NOT_CHECKED = {
    Link.Status.LAPSED: _(
        "Its reservation has lapsed: the pair is free for others. It is not checked any more."
    ),
    Link.Status.RETIRED: _("It is retired. It transmits nothing and is not checked any more."),
}


@dataclass(frozen=True)
class Answer:
    """The first line under the heading; ``side`` is no, decide, yes or open."""

    side: str
    sentence: str


def question(link: Link) -> str:
    """What the page of a link is asked, by its status."""
    if not link.holder.own and link.status in Link.LIVE:
        return gettext("is it left undisturbed?")
    return str(_QUESTIONS[Link.Status(link.status)])


def answer(link: Link, findings: Sequence[Finding], last_check: Check | None) -> Answer:
    """What the findings that nobody has accepted say to the question."""
    if link.status in _NOT_CHECKED:
        return Answer("open", str(_NOT_CHECKED[Link.Status(link.status)]))
    if last_check is None:
        return Answer("open", gettext("Not known yet: the link has not been checked."))
    still_open = [f for f in findings if f.accepted_at is None]
    must_fix = [f for f in still_open if f.severity == Finding.Severity.MUST_FIX]
    decide = [f for f in still_open if f.severity == Finding.Severity.DECIDE]
    if must_fix:
        return Answer(
            "no",
            ngettext(
                "No: {count} finding must be fixed. First: {first}",
                "No: {count} findings must be fixed. First: {first}",
                len(must_fix),
            ).format(count=len(must_fix), first=_sentence(must_fix[0])),
        )
    if decide:
        return Answer(
            "decide",
            ngettext(
                "Not before {count} finding is decided. First: {first}",
                "Not before {count} findings are decided. First: {first}",
                len(decide),
            ).format(count=len(decide), first=_sentence(decide[0])),
        )
    return Answer("yes", " ".join(_nothing_against(link, len(still_open), len(findings), last_check)))


def _nothing_against(link: Link, notes: int, known: int, last_check: Check) -> Iterator[str]:
    """That nothing stands against a link, how much was accepted, and whether it was changed since."""
    yield gettext("Yes, as far as was checked on {day}: nothing stands against it.").format(
        day=written_day(last_check.started_at)
    )
    if notes:
        yield ngettext("There is {count} note.", "There are {count} notes.", notes).format(count=notes)
    if accepted := known - notes:
        yield ngettext("{count} finding was accepted.", "{count} findings were accepted.", accepted).format(
            count=accepted
        )
    if link.changed_at > last_check.started_at:
        yield gettext("It was changed since; check it again.")


def _sentence(finding: Finding) -> str:
    headline = headline_of(finding)
    return headline if headline.endswith((".", "?")) else f"{headline}."
