"""Checking a variant: the register as it stands on a date, with and without the planned changes.

Both are checked whole and compared by the identity of the findings; neither writes to the
register. The planned links are records for the time of the check only: a link that is in the
register keeps its number, a new one gets a negative one, so that nothing can be taken for it.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace

from django.db import transaction
from django.utils import timezone

from sites.models import Job, Person
from sites.services import jobs
from spectrum.conflicts.criteria import MODEL_VERSION
from spectrum.conflicts.drafts import Draft
from spectrum.conflicts.evidence import rows_as_json
from spectrum.conflicts.gather import criteria_in_force, drafted_network, terrain_in_force, whole_network
from spectrum.conflicts.kinds import RANK
from spectrum.conflicts.network import Network, StationRecord
from spectrum.conflicts.run import run_checks
from spectrum.conflicts.site_checks import AtSites, Equipment
from spectrum.conflicts.wording import kept_words
from spectrum.models import Link, PlannedChange, Variant, VariantCheck, VariantFinding
from spectrum.services.site_surroundings import all_sites, equipment_of

from .planned import loose_rows
from .state import drawn_up_digest, held_open, same_as

Tick = Callable[[int, int], None]
NEW, STILL, GONE = VariantFinding.Standing.NEW, VariantFinding.Standing.STILL, VariantFinding.Standing.GONE
_STANDING_RANK = {NEW: 0, STILL: 1, GONE: 2}
# A margin that moves by less is the same: the rounding of what is shown.
MOVED_BY = 0.05
BATCH = 500
HALF_WAY = 500


def ask_for_check(variant: Variant, *, by: Person) -> Job:
    """Have an open variant checked by a worker."""
    with transaction.atomic():
        held_open(variant)
    return jobs.submit("check_variant", {"variant": variant.pk}, by=by, same_as=same_as(variant))


def check_variant(variant_id: int, *, by: Person | None = None, progress: Tick | None = None) -> VariantCheck:
    """Check an open variant and keep what was found with it. ``progress(done, total)`` may raise to stop.

    StaleWriteError if the variant is no longer open, at the beginning or when the check comes to its end.
    """
    with transaction.atomic():
        variant = held_open(Variant(pk=variant_id))
        changes = list(variant.changes.select_related("link"))
    started_at, digest = timezone.now(), drawn_up_digest(variant, changes)
    criteria, terrain = criteria_in_force(), terrain_in_force()
    now = all_sites(whole_network(variant.as_of))
    then = as_it_would_stand(now, changes)
    found = [
        run_checks(at.network, criteria, terrain=terrain, at_sites=at, tick=_half(progress, number))
        for number, at in enumerate((now, then))
    ]
    before, after = ({draft.identity: draft for draft in outcome.drafts} for outcome in found)
    touched = {change.link_id or -change.pk for change in changes}
    codes = {station.link.id: station.link.code for at in (now, then) for station in at.network.stations}
    rows, untouched = [], 0
    for identity in sorted(before.keys() | after.keys()):
        row = _row(before.get(identity), after.get(identity), touched, codes)
        if row is None:
            untouched += 1
        else:
            rows.append(row)
    counts = Counter(row.standing for row in rows)
    with transaction.atomic():
        held_open(variant)
        VariantCheck.objects.filter(variant=variant).delete()
        check = VariantCheck.objects.create(
            variant=variant,
            drawn_up=digest,
            as_of=variant.as_of,
            started_at=started_at,
            ended_at=timezone.now(),
            asked_by=by,
            parameters=criteria.as_json(),
            model_version=MODEL_VERSION,
            counts={
                "new": counts[NEW],
                "still": counts[STILL] + untouched,
                "gone": counts[GONE],
                "untouched": untouched,
            },
        )
        for row in rows:
            row.check_made = check
        VariantFinding.objects.bulk_create(rows, batch_size=BATCH)
    return check


def as_it_would_stand(now: AtSites, changes: Sequence[PlannedChange]) -> AtSites:
    """The network and its equipment with the planned changes carried out, on the same date."""
    as_of = now.network.as_of
    replaced = {change.link_id for change in changes if change.kind == PlannedChange.Kind.CHANGE}
    last_day = {
        change.link_id: change.last_day
        for change in changes
        if change.kind == PlannedChange.Kind.RETIRE and change.last_day is not None
    }
    kept = []
    for station in now.network.stations:
        ends_on = last_day.get(station.link.id)
        if station.link.id in replaced or (ends_on is not None and ends_on < as_of):
            continue
        kept.append(
            station if ends_on is None else replace(station, link=replace(station.link, ends_on=ends_on))
        )
    planned = [change for change in changes if change.kind != PlannedChange.Kind.RETIRE]
    records, equipment = _planned_stations(planned, as_of)
    network = Network(
        as_of=as_of,
        stations=[*kept, *records],
        licences=now.network.licences,
        channels=now.network.channels,
    )
    return replace(now, network=network, equipment={**now.equipment, **equipment})


def _planned_stations(
    changes: Sequence[PlannedChange], as_of: dt.date
) -> tuple[list[StationRecord], dict[int, Equipment]]:
    """The stations of planned links under negative numbers, with what is planned about their isolation."""
    rows = [(change, *loose_rows(change)) for change in changes]
    live = [(change, link, stations) for change, link, stations in rows if _is_live(link, as_of)]
    stations = [station for _, _, stations in live for station in stations]
    # Links and stations are numbered from 1 in the order given.
    drafted = drafted_network([(link, stations) for _, link, stations in live], as_of).stations
    records = []
    for record in drafted:
        change = live[record.link.id - 1][0]
        link = replace(record.link, id=change.link_id or -change.pk)
        records.append(replace(record, id=-record.id, link=link))
    return records, {record.id: equipment_of(stations[-record.id - 1]) for record in records}


def _is_live(link: Link, as_of: dt.date) -> bool:
    return link.status in Link.LIVE and (link.ends_on is None or link.ends_on >= as_of)


def _half(progress: Tick | None, number: int) -> Tick | None:
    """The first or second of two runs, each half of the way whatever it looks at."""
    if progress is None:
        return None
    tell = progress

    def tick(done: int, total: int) -> None:
        tell(number * HALF_WAY + HALF_WAY * done // max(total, 1), 2 * HALF_WAY)

    return tick


def _row(
    before: Draft | None, after: Draft | None, touched: set[int], codes: dict[int, str]
) -> VariantFinding | None:
    """The finding to keep; None for one that stays and that the planned changes do not move."""
    draft = after or before
    assert draft is not None  # noqa: S101 - an identity comes from one of the two
    parties = draft.parties
    links = [pk for pk in (parties.link_id, parties.other_link_id) if pk is not None]
    if before is not None and after is not None and not touched & set(links) and not _moved(before, after):
        return None
    standing = NEW if before is None else GONE if after is None else STILL
    return VariantFinding(
        standing=standing,
        standing_rank=_STANDING_RANK[standing],
        identity=draft.identity,
        kind=draft.kind,
        severity=draft.severity,
        rank=RANK[draft.severity],
        headline=draft.headline[:300],
        cure=draft.cure[:300],
        margin=None if after is None else after.margin,
        margin_before=None if before is None else before.margin,
        margin_unit=draft.margin_unit,
        evidence=rows_as_json(draft.evidence),
        not_judged=draft.not_judged,
        words=kept_words(draft),
        links=[codes[pk] for pk in links if pk in codes],
    )


def _moved(before: Draft, after: Draft) -> bool:
    if before.severity != after.severity or (before.margin is None) != (after.margin is None):
        return True
    return (
        before.margin is not None
        and after.margin is not None
        and abs(before.margin - after.margin) > MOVED_BY
    )
