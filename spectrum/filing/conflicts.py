"""The conflict report behind an application: what stands about each link, how far off, and what was accepted and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from typing import Any, Final

from django.utils.translation import gettext, ngettext

from sites.reading import written_day
from spectrum import selectors
from spectrum.conflicts.kinds import INTERFERENCE, KINDS, LINK, SITE
from spectrum.models import Check, Finding, Link
from spectrum.templatetags.drawings import in_unit
from spectrum.wording import headline_of, unjudged_of

#: What can be said before there is a licence; limits and dates of licences come with the grant.
REPORTED: Final = (INTERFERENCE, SITE, LINK)
SHOWN_OPEN: Final = 12


@dataclass(frozen=True)
class ReportRow:
    """One finding of the report, as text."""

    weight: str
    headline: str
    margin: str
    standing: str


@dataclass(frozen=True)
class LinkReport:
    """The report of one link. ``must_fix`` counts findings that must be fixed and that nobody accepted."""

    sentence: str
    checked: str
    rows: list[ReportRow] = field(default_factory=list)
    more: int = 0
    must_fix: int = 0
    not_judged: list[str] = field(default_factory=list)
    objection: str = ""

    def as_json(self) -> dict[str, Any]:
        return asdict(self)

    @classmethod
    def from_json(cls, kept: dict[str, Any]) -> LinkReport:
        return cls(**{**kept, "rows": [ReportRow(**row) for row in kept["rows"]]})


def no_report() -> LinkReport:
    """The report of a link that was filed before the register kept applications."""
    return LinkReport(gettext("What was known of its conflicts is not in the register."), gettext("not kept"))


def link_report(link: Link) -> LinkReport:
    """What the latest checks say about one link, worst first; what was accepted is listed whole, with its reason."""
    found = [f for f in selectors.findings_of_link(link) if _is_reported(f)]
    still_open = [f for f in found if f.accepted_at is None]
    accepted = [f for f in found if f.accepted_at is not None]
    must_fix = [f for f in still_open if f.severity == Finding.Severity.MUST_FIX]
    decide = [f for f in still_open if f.severity == Finding.Severity.DECIDE]
    check = selectors.last_check_of(link)
    return LinkReport(
        sentence=_sentence(still_open, accepted, must_fix, decide, check),
        checked=_checked(link, check),
        rows=[_row(f) for f in [*still_open[:SHOWN_OPEN], *accepted]],
        more=max(0, len(still_open) - SHOWN_OPEN),
        must_fix=len(must_fix),
        not_judged=sorted({sentence for f in found for sentence in unjudged_of(f)}),
        objection=_objection(link, must_fix, decide, check),
    )


def _is_reported(finding: Finding) -> bool:
    kind = KINDS.get(finding.kind)
    return kind is None or kind.group in REPORTED


def _row(finding: Finding) -> ReportRow:
    standing = gettext("open")
    if finding.accepted_at is not None:
        who = finding.accepted_by or gettext("somebody")
        standing = gettext("accepted by {who} on {day}: {reason}").format(
            who=who, day=written_day(finding.accepted_at), reason=finding.accepted_reason
        )
    margin = "" if finding.margin is None else in_unit(finding.margin, finding.margin_unit)
    return ReportRow(finding.get_severity_display(), headline_of(finding), margin, standing)


def _sentence(
    still_open: Sequence[Finding],
    accepted: Sequence[Finding],
    must_fix: Sequence[Finding],
    decide: Sequence[Finding],
    check: Check | None,
) -> str:
    if check is None:
        return gettext("The link has not been checked; nothing is known about its conflicts.")
    if not still_open and not accepted:
        return gettext("Nothing was found against it.")
    return ngettext(
        "{count} finding open, of which {must_fix} must be fixed and {decide} decided; {accepted} accepted.",
        "{count} findings open, of which {must_fix} must be fixed and {decide} decided; {accepted} accepted.",
        len(still_open),
    ).format(count=len(still_open), must_fix=len(must_fix), decide=len(decide), accepted=len(accepted))


def _checked(link: Link, check: Check | None) -> str:
    if check is None:
        return gettext("not checked")
    sentence = (
        gettext("Checked on {day} with model {model}. The link was changed since.")
        if link.changed_at > check.started_at
        else gettext("Checked on {day} with model {model}.")
    )
    return sentence.format(day=written_day(check.started_at), model=check.model_version)


def _objection(
    link: Link, must_fix: Sequence[Finding], decide: Sequence[Finding], check: Check | None
) -> str:
    """Why one would not file the link yet; empty where nothing stands against it."""
    if check is None:
        return gettext("{link} has not been checked.").format(link=link.code)
    if must_fix:
        return ngettext(
            "{link} has {count} finding that must be fixed or accepted.",
            "{link} has {count} findings that must be fixed or accepted.",
            len(must_fix),
        ).format(link=link.code, count=len(must_fix))
    if link.changed_at > check.started_at:
        return gettext("{link} was changed after its last check.").format(link=link.code)
    if decide:
        return ngettext(
            "{link} has {count} finding that waits for a decision.",
            "{link} has {count} findings that wait for a decision.",
            len(decide),
        ).format(link=link.code, count=len(decide))
    return ""
