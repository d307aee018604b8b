"""What changed in the register between two days, net: object by object, out of the change record."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from django.db.models import Count, Max, Q, QuerySet

from sites.models import ChangeRecord

from .asking import end_of
from .net import Net

PORTION = 500
Touched = tuple[str, int]
_NEEDED = ("object_type", "object_id", "action", "changes", "by_name", "at", "object_label")


@dataclass(frozen=True)
class Asked:
    """From the beginning of the first day to the end of the last (UTC); of which objects."""

    first: dt.date
    last: dt.date
    object_type: str = ""
    object_id: int | None = None
    words: str = ""

    def entries(self) -> QuerySet[ChangeRecord]:
        """What was done to these objects in this time. Words choose objects, and of those every entry counts."""
        begin = dt.datetime.combine(self.first, dt.time(), dt.UTC)
        rows = ChangeRecord.objects.filter(at__gte=begin, at__lt=end_of(self.last)).order_by()
        if self.object_type:
            rows = rows.filter(object_type=self.object_type)
        if self.object_id is not None:
            rows = rows.filter(object_id=self.object_id)
        return rows

    def touched(self) -> QuerySet[ChangeRecord, Any]:
        """Each object that was touched once, the one touched last first."""
        rows = self.entries()
        for word in self.words.split():
            rows = rows.filter(Q(object_label__icontains=word) | Q(by_name__icontains=word))
        grouped = rows.values("object_type", "object_id").annotate(latest=Max("id"))
        return grouped.order_by("-latest")

    def counted(self) -> dict[str, int]:
        """How many entries there are in this time, and by how many people or parts of the system."""
        return self.entries().aggregate(entries=Count("pk"), people=Count("by_name", distinct=True))


def nets_of(asked: Asked, objects: Sequence[Touched]) -> list[Net]:
    """What remains for each of some objects, in their order. Reads entry by entry and keeps one value a field."""
    by_type: dict[str, list[int]] = {}
    for object_type, object_id in objects:
        by_type.setdefault(object_type, []).append(object_id)
    wanted = Q()
    for object_type, ids in by_type.items():
        wanted |= Q(object_type=object_type, object_id__in=ids)
    if not wanted:
        return []
    found = {(net.object_type, net.object_id): net for net in _folded(asked.entries().filter(wanted))}
    return [found[key] for key in objects if key in found]


def portions_of_nets(asked: Asked) -> Iterator[list[Net]]:
    """What remains for every object, some hundred objects at a time, in the order of :meth:`Asked.touched`."""
    keys = [(row["object_type"], row["object_id"]) for row in asked.touched().iterator(chunk_size=2000)]
    for start in range(0, len(keys), PORTION):
        yield nets_of(asked, keys[start : start + PORTION])


def _folded(entries: QuerySet[ChangeRecord]) -> Iterator[Net]:
    rows = entries.order_by("object_type", "object_id", "id").values_list(*_NEEDED)
    for (object_type, object_id), own in groupby(rows.iterator(chunk_size=2000), key=lambda row: row[:2]):
        net = Net(object_type, object_id)
        for _type, _id, action, changes, by, at, label in own:
            net.add(action, changes, by=by, at=at, label=label)
        yield net
