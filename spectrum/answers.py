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
# Their question is whether something may be done; that of the others, how things stand.
_AHEAD = (Link.Status.PLANNED, Link.Status.GRANTED)
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
    its_own = [f for f in still_open if link.pk in (f.link_id, f.other_link_id)]
    at_its_sites = [f for f in still_open if link.pk not in (f.link_id, f.other_link_id)]
    for severity, side in ((Finding.Severity.MUST_FIX, "no"), (Finding.Severity.DECIDE, "decide")):
        its = [f for f in its_own if f.severity == severity]
        others = [f for f in at_its_sites if f.severity == severity]
        if its or others:
            return Answer(side, " ".join(_stands_against(link, severity, its, others)))
    return Answer("yes", " ".join(_nothing_against(link, len(still_open), len(findings), last_check)))


def _stands_against(
    link: Link, severity: Finding.Severity, its: Sequence[Finding], others: Sequence[Finding]
) -> Iterator[str]:
    """What must be fixed or decided about a link, apart from that at its sites in which it may have no part."""
    first = _sentence((its or others)[0])
    if severity == Finding.Severity.MUST_FIX:
        yield (_must_fix(len(its), first) if its else _must_fix_there(len(others), first))
    elif link.status in _AHEAD:
        yield (_decide_before(len(its), first) if its else _decide_there_before(len(others), first))
    else:
        yield (_decide(len(its), first) if its else _decide_there(len(others), first))
    if its and others:
        yield ngettext(
            "{count} more stands at its sites, where it may take part.",
            "{count} more stand at its sites, where it may take part.",
            len(others),
        ).format(count=len(others))


def _must_fix(count: int, first: str) -> str:
    return ngettext(
        "No: {count} finding must be fixed. First: {first}",
        "No: {count} findings must be fixed. First: {first}",
        count,
    ).format(count=count, first=first)


def _must_fix_there(count: int, first: str) -> str:
    return ngettext(
        "No: {count} finding at its sites must be fixed, in which it may take part. First: {first}",
        "No: {count} findings at its sites must be fixed, in which it may take part. First: {first}",
        count,
    ).format(count=count, first=first)


def _decide_before(count: int, first: str) -> str:
    return ngettext(
        "Not before {count} finding is decided. First: {first}",
        "Not before {count} findings are decided. First: {first}",
        count,
    ).format(count=count, first=first)


def _decide_there_before(count: int, first: str) -> str:
    return ngettext(
        "Not before {count} finding at its sites is decided, in which it may take part. First: {first}",
        "Not before {count} findings at its sites are decided, in which it may take part. First: {first}",
        count,
    ).format(count=count, first=first)


def _decide(count: int, first: str) -> str:
    return ngettext(
        "Not settled: {count} finding waits for a decision. First: {first}",
        "Not settled: {count} findings wait for a decision. First: {first}",
        count,
    ).format(count=count, first=first)


def _decide_there(count: int, first: str) -> str:
    return ngettext(
        "Not settled: {count} finding at its sites waits for a decision; the link itself may have no part in it. "
        "First: {first}",
        "Not settled: {count} findings at its sites wait for a decision; the link itself may have no part in them. "
        "First: {first}",
        count,
    ).format(count=count, first=first)


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
