"""Sealing the change record: committed entries are chained shortly after, in one order, by one sealer at a time.

Why not while writing: a chain has one end. Whoever appends to it within a transaction holds that end until
the commit, and an import of minutes would keep everybody else from writing. So writers know nothing of the
chain. The scheduler (``jobs.tick``, once a minute) takes what is committed and not sealed, in the order of the
ids, and appends. An entry with a lower id that is committed later than one with a higher gets the later place:
the order of the chain is the order of sealing.

Two sealers at once read the same end and claim the same position, which is the primary key: the second waits
for the first to commit, is refused by the database, and leaves the rest to the next round. So there is one
chain, without a lock that a writer could meet.

What this shows and what not: an entry that is edited, taken out or moved after it was sealed is found. In the
minute before, only the triggers protect it. Cutting off the end is found by a digest that was noted elsewhere.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from django.db import IntegrityError, transaction
from django.db.models import Exists, OuterRef, QuerySet

from sites.chain import START, entry_digest, link_digest
from sites.models import ChangeRecord, ChangeSeal

BATCH: Final = 5000
AT_A_TICK: Final = 50_000
# No transaction of the register lasts longer: entries that appear among older ones are looked for this far back.
LONGEST_TRANSACTION: Final = dt.timedelta(days=1)


def seal(*, most: int | None = None, whole: bool = False, models: tuple[Any, Any] | None = None) -> int:
    """Seal what is committed and not sealed yet; how many entries that were.

    At most about ``most``. Entries that are older than the last seal by more than LONGEST_TRANSACTION are
    looked for only with ``whole``. ``models`` are those of a migration.
    """
    entries, seals = models or (ChangeRecord, ChangeSeal)
    last = seals.objects.order_by("-position").first()
    unsealed = _unsealed(entries, seals)
    if last is not None and not whole:
        unsealed = unsealed.filter(at__gte=last.sealed_at - LONGEST_TRANSACTION)
    sealed, after = 0, 0
    while most is None or sealed < most:
        try:
            with transaction.atomic():
                rows = list(unsealed.filter(pk__gt=after).order_by("pk").values()[:BATCH])
                _append(seals, rows)
        except IntegrityError:
            break  # another sealer was first; it, or the next round, does the rest
        if not rows:
            break
        sealed += len(rows)
        after = rows[-1]["id"]
    return sealed


def unsealed_entries() -> QuerySet[ChangeRecord]:
    """Entries without a place in the chain, the oldest first."""
    return _unsealed(ChangeRecord, ChangeSeal).order_by("pk")


def head() -> ChangeSeal | None:
    """The end of the chain: how many entries are sealed, and the digest over all of them."""
    return ChangeSeal.objects.order_by("-position").first()


@dataclass(frozen=True)
class Break:
    """The first place where the change record is not as it was sealed."""

    position: int
    entry_id: int | None
    kind: str  # "edited", "missing", "out of order"
    words: str


@dataclass(frozen=True)
class Verified:
    """What a walk along the whole chain found."""

    entries: int
    head_digest: str
    broken: Break | None
    noted_found: bool


def verify(noted: str = "") -> Verified:
    """Walk along the chain from its start, and compare every entry with its seal.

    ``noted`` is a digest that was printed earlier; whether the chain still goes through it is in the answer.
    """
    before, expected, found = START, 1, not noted
    for row, content in _sealed_entries():
        broken = _compared(row, content, before, expected)
        if broken is not None:
            return Verified(expected - 1, before, broken, found)
        before, expected = row.digest, expected + 1
        found = found or before == noted
    late = unsealed_entries().first()
    if late is not None:
        words = f"entry {late.pk} ({late}) has no place in the chain although later ones have: it was put in behind it"
        return Verified(expected - 1, before, Break(expected, late.pk, "out of order", words), found)
    return Verified(expected - 1, before, None, found)


def _compared(row: ChangeSeal, content: dict[str, Any] | None, before: str, expected: int) -> Break | None:
    if row.position != expected:
        words = (
            f"the chain goes from position {expected - 1} to {row.position}; what stood between was taken out"
        )
        return Break(expected, None, "missing", words)
    if content is None:
        words = f"entry {row.entry_id} was sealed on {row.sealed_at:%Y-%m-%d} and is no longer there"
        return Break(expected, row.entry_id, "missing", words)
    if entry_digest(content) != row.entry_digest:
        words = (
            f"entry {row.entry_id} ({content['at']:%Y-%m-%d %H:%M} UTC, {content['object_label']}) "
            "is not as it was sealed"
        )
        return Break(expected, row.entry_id, "edited", words)
    if link_digest(before, row.entry_digest) != row.digest:
        words = f"entry {row.entry_id} does not follow on the one that stands before it now"
        return Break(expected, row.entry_id, "out of order", words)
    return None


def _sealed_entries() -> Iterator[tuple[ChangeSeal, dict[str, Any] | None]]:
    after = -1
    while rows := list(ChangeSeal.objects.filter(position__gt=after).order_by("position")[:BATCH]):
        wanted = [row.entry_id for row in rows]
        entries = {entry["id"]: entry for entry in _by_ids(wanted)}
        yield from ((row, entries.get(row.entry_id)) for row in rows)
        after = rows[-1].position


def _by_ids(ids: list[int]) -> QuerySet[ChangeRecord, Any]:
    """Entries by their ids; as a range with what lies between, where the ids lie close (the usual case)."""
    low, high = min(ids), max(ids)
    if high - low < 2 * len(ids):
        return ChangeRecord.objects.filter(pk__range=(low, high)).order_by().values()
    return ChangeRecord.objects.filter(pk__in=ids).order_by().values()


def _unsealed(entries: Any, seals: Any) -> QuerySet[Any]:
    return entries.objects.filter(~Exists(seals.objects.filter(entry_id=OuterRef("pk"))))


def _append(seals: Any, rows: list[dict[str, Any]]) -> None:
    last = seals.objects.order_by("-position").first()
    position, before = (last.position, last.digest) if last is not None else (0, START)
    made = []
    for row in rows:
        position += 1
        entry = entry_digest(row)
        before = link_digest(before, entry)
        made.append(seals(position=position, entry_id=row["id"], entry_digest=entry, digest=before))
    seals.objects.bulk_create(made, batch_size=BATCH)
