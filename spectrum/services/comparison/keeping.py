"""After an import, and after changes of the register: which differences stand."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.db.models import Max

from licences.models import Licence, LicensedChannel
from sites.models import ChangeRecord, Registered
from spectrum.extracts.planning import Plan
from spectrum.models import Difference, ExtractMapping, ExtractRun, Link, RegulatorRecord

from .values import MODELS, POSITION, RELATED, apart_m, differs, fields_of, key_of, kind_of, values_of

BATCH = 500
LOOK_BACK = 500
"""Entries of the change record get their number before they are committed: so many are looked at again."""
What, State = Difference.What, Difference.State


@dataclass(frozen=True)
class Found:
    """One difference as it stands now."""

    what: str
    register: Any
    then: Any
    now: Any
    distance_m: float | None


def keep(plan: Plan, run: ExtractRun) -> None:
    """Keep what an extract stated, and find its differences with the register; called when the import has written."""
    mapping = run.mapping
    first = not RegulatorRecord.objects.filter(mapping=mapping).exists()
    stored = {(r.kind, r.key): r for r in RegulatorRecord.objects.filter(mapping=mapping)}
    seen, objects = _keep_statements(plan, run, stored)
    gone = [record for key, record in stored.items() if key not in seen and record.gone_run_id is None]
    for record in gone:
        record.gone_run = run
    RegulatorRecord.objects.bulk_update(gone, ["gone_run"], batch_size=BATCH)
    _list_followed(plan, run, seen, first=first)
    records = [*seen.values(), *(record for key, record in stored.items() if key not in seen)]
    missing = [record for record in records if record.gone_run_id is not None]
    objects |= _objects_of(missing)
    _settle(records, objects, run)
    _note_compared(run)


def bring_up_to_date(mapping: ExtractMapping) -> None:
    """Compare again what was changed in the register since the last comparison."""
    run = mapping.runs.first()
    newest = _newest_change()
    if run is None or newest <= run.compared_upto:
        return
    with transaction.atomic():
        ExtractMapping.objects.select_for_update().get(pk=mapping.pk)
        changed: dict[str, set[int]] = defaultdict(set)
        kinds = {model._meta.label_lower: kind for kind, model in MODELS.items()}
        rows = ChangeRecord.objects.filter(id__gt=run.compared_upto - LOOK_BACK, object_type__in=kinds)
        for label, pk in rows.order_by().values_list("object_type", "object_id").distinct():
            changed[kinds[label]].add(pk)
        records = [
            record
            for kind, keys in changed.items()
            for part in _parts(sorted(keys))
            for record in RegulatorRecord.objects.filter(mapping=mapping, kind=kind, object_id__in=part)
        ]
        _settle(records, _objects_of(records), run)
        _note_compared(run)


def compare_again(records: list[RegulatorRecord], run: ExtractRun) -> None:
    """Compare some records with the register as it stands now."""
    _settle(records, _objects_of(records), run)


def register_values(record: RegulatorRecord, obj: Registered | None) -> dict[str, Any]:
    """What the register says of what the regulator states of a thing."""
    return {} if obj is None else values_of(obj, fields_of(record.now))


def object_of(record: RegulatorRecord) -> Registered | None:
    return _objects_of([record]).get((record.kind, record.object_id or 0))


def _keep_statements(
    plan: Plan, run: ExtractRun, stored: dict[tuple[str, str], RegulatorRecord]
) -> tuple[dict[tuple[str, str], RegulatorRecord], dict[tuple[str, int], Registered]]:
    seen: dict[tuple[str, str], RegulatorRecord] = {}
    objects: dict[tuple[str, int], Registered] = {}
    new, changed = [], []
    keys = [(kind_of(said.wanted), key_of(said.wanted)) for said in plan.stated]
    renamed = _no_longer_named(stored, set(keys))
    for said, (kind, key) in zip(plan.stated, keys, strict=True):
        values = values_of(said.wanted, said.fields)
        object_id = None if said.obj is None else said.obj.pk
        if said.obj is not None:
            objects[kind, said.obj.pk] = said.obj
        record = stored.get((kind, key))
        if record is None and (record := renamed.pop((kind, object_id or 0), None)) is not None:
            del stored[kind, record.key]
            record.key = key
            stored[kind, key] = record
        if record is None:
            record = RegulatorRecord(
                mapping=run.mapping,
                kind=kind,
                key=key,
                label=str(said.obj or said.wanted)[:200],
                own=said.own,
                object_id=object_id,
                now=values,
                row=said.row,
                first_run=run,
            )
            new.append(record)
        elif _moved(record, values, object_id, said.own) or record.gone_run_id is not None:
            if any(differs(name, record.now.get(name), value) for name, value in values.items()):
                record.then, record.changed_run = record.now, run
            record.now, record.object_id, record.own = values, object_id, said.own
            record.gone_run, record.row = None, said.row
            changed.append(record)
        seen[kind, key] = record
    RegulatorRecord.objects.bulk_create(new, batch_size=BATCH)
    names = ["key", "now", "then", "changed_run", "object_id", "own", "gone_run", "row"]
    RegulatorRecord.objects.bulk_update(changed, names, batch_size=BATCH)
    return seen, objects


def _no_longer_named(
    stored: dict[tuple[str, str], RegulatorRecord], keys: set[tuple[str, str]]
) -> dict[tuple[str, int], RegulatorRecord]:
    """Records by their object that this file does not name: what moved is named by its new position, and is no other."""
    return {
        (kind, record.object_id): record
        for (kind, key), record in stored.items()
        if record.object_id is not None and (kind, key) not in keys
    }


def _moved(record: RegulatorRecord, values: dict[str, Any], object_id: int | None, own: bool) -> bool:
    return (record.now, record.object_id, record.own) != (values, object_id, own)


def _list_followed(
    plan: Plan, run: ExtractRun, seen: dict[tuple[str, str], RegulatorRecord], *, first: bool
) -> None:
    """What this import wrote: changed fields, and (but for the very first file, which is all new) what it entered."""
    by_object = {(r.kind, r.object_id): r for r in seen.values()}
    followed = []
    for change in plan.changed:
        record = by_object.get((kind_of(change.obj), change.obj.pk)) if type(change.obj) in RELATED else None
        if record is None:
            continue
        names = dict.fromkeys(
            POSITION if n in ("latitude_deg", "longitude_deg") else n for n in change.fields
        )
        for name in names:
            then, now = record.then.get(name), record.now.get(name)
            metres = apart_m(then, now) if name == POSITION else None
            followed.append(
                _row(record, run, name, Found(What.CHANGED, now, then, now, metres), State.FOLLOWED)
            )
    if not first:
        entered = {id(new.obj) for rows in plan.new.values() for new in rows}
        followed += [
            _row(seen[key], run, "", Found(What.NEW, None, None, None, None), State.FOLLOWED)
            for said in plan.stated
            if id(said.obj) in entered and (key := (kind_of(said.wanted), key_of(said.wanted))) in seen
        ]
    Difference.objects.bulk_create(followed, batch_size=BATCH)


def _found(
    record: RegulatorRecord, obj: Registered | None, gone_licences: set[str]
) -> Iterator[tuple[str, Found]]:
    if record.gone_run_id is not None:
        # That a licence is gone says so of its channels.
        told = isinstance(obj, LicensedChannel) and record.key.partition("/")[0] in gone_licences
        if obj is not None and _lives(obj) and not told:
            yield "", Found(What.GONE, None, record.now, None, None)
        return
    if obj is None:
        yield "", Found(What.NEW, None, None, record.now, None)
        return
    ours = register_values(record, obj)
    for name, theirs in record.now.items():
        if differs(name, ours.get(name), theirs, obj=obj, own=record.own):
            metres = apart_m(ours[name], theirs) if name == POSITION else None
            yield name, Found(What.CHANGED, ours.get(name), record.then.get(name), theirs, metres)


def _lives(obj: Registered) -> bool:
    """Whether the register holds a thing as existing; a site or station ends with what is there."""
    if isinstance(obj, Licence):
        return obj.ended_on is None
    if isinstance(obj, LicensedChannel):
        return obj.ended_on is None and obj.licence.ended_on is None
    return obj.status in Link.LIVE if isinstance(obj, Link) else False


def _settle(
    records: list[RegulatorRecord], objects: dict[tuple[str, int], Registered], run: ExtractRun
) -> None:
    """Differences of these records: new ones open, changed ones open again, agreed ones closed."""
    standing: dict[int, dict[str, Difference]] = defaultdict(dict)
    for part in _parts([record.pk for record in records]):
        for row in Difference.objects.filter(record__in=part).exclude(state=State.FOLLOWED):
            standing[row.record_id][row.field] = row
    gone_licences = set(
        RegulatorRecord.objects.filter(
            mapping=run.mapping, kind=RegulatorRecord.Kind.LICENCE, gone_run__isnull=False
        ).values_list("key", flat=True)
    )
    created, updated, closed = [], [], []
    for record in records:
        obj = objects.get((record.kind, record.object_id or 0))
        old = standing.get(record.pk, {})
        for name, found in _found(record, obj, gone_licences):
            kept = old.pop(name) if name in old else None
            if kept is None:
                created.append(_row(record, run, name, found, State.OPEN))
            elif kept.state == State.REGULATOR or _other_values(kept, found):
                _take(kept, found)
                kept.state, kept.run = State.OPEN, run
                updated.append(kept)
        # That the regulator was believed stays to be read; register and regulator agree since.
        closed += [row.pk for row in old.values() if row.state != State.REGULATOR]
    Difference.objects.bulk_create(created, batch_size=BATCH)
    Difference.objects.bulk_update(
        updated, ["what", "register", "then", "now", "distance_m", "state", "run"], batch_size=BATCH
    )
    for part in _parts(closed):
        Difference.objects.filter(pk__in=part).delete()


def _other_values(kept: Difference, found: Found) -> bool:
    return (kept.what, kept.register, kept.now) != (found.what, found.register, found.now)


def _row(record: RegulatorRecord, run: ExtractRun, name: str, found: Found, state: str) -> Difference:
    row = Difference(record=record, run=run, field=name, state=state)
    _take(row, found)
    return row


def _take(row: Difference, found: Found) -> None:
    row.what, row.register = found.what, found.register
    row.then, row.now, row.distance_m = found.then, found.now, found.distance_m


def _objects_of(records: Iterable[RegulatorRecord]) -> dict[tuple[str, int], Registered]:
    wanted: dict[str, list[int]] = defaultdict(list)
    for record in records:
        if record.object_id is not None:
            wanted[record.kind].append(record.object_id)
    return {
        (kind, obj.pk): obj
        for kind, keys in wanted.items()
        for part in _parts(keys)
        for obj in MODELS[kind].objects.filter(pk__in=part).select_related(*RELATED[MODELS[kind]])
    }


def _parts(keys: list[int]) -> Iterator[list[int]]:
    for start in range(0, len(keys), BATCH):
        yield keys[start : start + BATCH]


def _newest_change() -> int:
    return ChangeRecord.objects.aggregate(newest=Max("id"))["newest"] or 0


def _note_compared(run: ExtractRun) -> None:
    latest = run.mapping.runs.first()
    if latest is not None:
        latest.compared_upto = _newest_change()
        latest.save(update_fields=["compared_upto"])
