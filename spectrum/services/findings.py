"""Keeping findings: new, still there, gone – with their identity and what people decided about them."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext

from sites.errors import NotAllowedError, RegisterError, StaleWriteError
from sites.models import Person
from sites.reading import written_day
from sites.services import record
from sites.services.record import Author
from spectrum.conflicts.drafts import Draft
from spectrum.conflicts.evidence import rows_as_json
from spectrum.conflicts.kinds import RANK
from spectrum.conflicts.wording import kept_words
from spectrum.models import Finding

BATCH = 500
# What a run may rewrite; first_seen_at and the acceptance are not among them.
_REFRESHED = [
    "kind", "severity", "rank", "headline", "cure", "margin", "margin_unit", "evidence", "not_judged", "words",
    "link", "other_link", "station_label", "other_station_label", "licence", "licensed_channel", "site",
    "last_seen_at", "gone_at",
]  # fmt: skip


def store(drafts: Sequence[Draft], *, scope: Q, started_at: dt.datetime) -> dict[str, Any]:
    """Bring the stored findings of a scope in line with what a run found; all or nothing.

    A finding that is not among the drafts is marked gone, unless a run that started
    later has seen it. Returns counts: new, still, gone, by kind and by severity.
    """
    found = {draft.identity: draft for draft in drafts}
    with transaction.atomic():
        current = _current(sorted(found))
        rows = [as_finding(identity, found[identity], started_at) for identity in sorted(found)]
        Finding.objects.bulk_create(
            rows,
            batch_size=BATCH,
            update_conflicts=True,
            unique_fields=["identity"],
            update_fields=_REFRESHED,
        )
        stale = Finding.objects.filter(scope, gone_at=None, last_seen_at__lt=started_at)
        gone = stale.update(gone_at=started_at)
    return {
        "new": len(found.keys() - current),
        "still": len(found.keys() & current),
        "gone": gone,
        "by_kind": dict(sorted(Counter(d.kind for d in drafts).items())),
        "by_severity": dict(sorted(Counter(d.severity for d in drafts).items())),
    }


def _current(identities: list[str]) -> set[str]:
    """Those of the identities that stand as current findings already."""
    known: set[str] = set()
    for start in range(0, len(identities), BATCH):
        part = identities[start : start + BATCH]
        known.update(
            Finding.objects.filter(gone_at=None, identity__in=part).values_list("identity", flat=True)
        )
    return known


def current_victims_of_sums() -> set[int]:
    """The links at whose receivers a sum of interferers stands near or over its limit."""
    sums = Finding.objects.filter(kind="aggregate", gone_at=None, link__isnull=False)
    return {number for number in sums.order_by().values_list("link_id", flat=True) if number is not None}


def as_finding(identity: str, draft: Draft, seen_at: dt.datetime) -> Finding:
    """A draft as a finding that was first seen then; nothing is stored."""
    parties = draft.parties
    return Finding(
        identity=identity,
        kind=draft.kind,
        severity=draft.severity,
        rank=RANK[draft.severity],
        headline=draft.headline[:300],
        cure=draft.cure[:300],
        margin=draft.margin,
        margin_unit=draft.margin_unit,
        evidence=rows_as_json(draft.evidence),
        not_judged=draft.not_judged,
        words=kept_words(draft),
        link_id=parties.link_id,
        other_link_id=parties.other_link_id,
        station_label=parties.station_label,
        other_station_label=parties.other_station_label,
        licence_id=parties.licence_id,
        licensed_channel_id=parties.licensed_channel_id,
        site_id=parties.site_id,
        first_seen_at=seen_at,
        last_seen_at=seen_at,
        gone_at=None,
    )


def accept(finding: Finding, *, reason: str, by: Person) -> Finding:
    """Accept a finding with a reason; it stays accepted in later runs."""
    reason = reason.strip()
    if not reason:
        raise RegisterError(
            gettext("Say why the finding is accepted, for example the agreement with the other party."),
            field="reason",
        )
    with transaction.atomic():
        stored = _held(finding, by)
        if stored.accepted_at is not None:
            raise StaleWriteError(
                gettext("{accepted_by} accepted this finding on {day} already.").format(
                    accepted_by=stored.accepted_by, day=written_day(stored.accepted_at)
                )
            )
        stored.accepted_at, stored.accepted_by, stored.accepted_reason = timezone.now(), by, reason
        record.change(stored, by=Author.of(by), reason=reason)
    return stored


def reopen(finding: Finding, *, by: Person) -> Finding:
    """Take an acceptance back; the change record keeps it."""
    with transaction.atomic():
        stored = _held(finding, by)
        if stored.accepted_at is None:
            raise StaleWriteError(gettext("This finding is not accepted."))
        stored.accepted_at, stored.accepted_by, stored.accepted_reason = None, None, ""
        record.change(stored, by=Author.of(by), reason="reopened")
    return stored


def _held(finding: Finding, by: Person) -> Finding:
    if not by.has_perm("spectrum.accept_finding"):
        raise NotAllowedError(
            gettext("Accepting or reopening a finding needs the role of planner, manager or administrator.")
        )
    stored = Finding.objects.select_for_update().filter(pk=finding.pk).first()
    if stored is None:
        raise StaleWriteError(
            gettext(
                "This finding is no longer in the register; the link or licence it was about was removed."
            )
        )
    return stored
