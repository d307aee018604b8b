"""The plan: what is new, what changes, what stays as a person entered it, what is missing."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import Any, TypeVar

from django.db import models

from licences.models import Holder, Licence, LicensedChannel
from sites.models import AntennaType, ChangeRecord, Registered, Site
from sites.sentences import sentence
from sites.words import gettext_noop as _
from spectrum.models import Link, RadioMode, RadioType, Station

# In the order in which they are written: each refers only to what stands before it.
WRITTEN: tuple[tuple[type[Registered], str], ...] = (
    (AntennaType, "antenna types"),
    (RadioType, "radio types"),
    (RadioMode, "radio modes"),
    (Holder, "holders"),
    (Site, "sites"),
    (Licence, "licences"),
    (LicensedChannel, "licensed channels"),
    (Link, "links"),
    (Station, "stations"),
)
NAMES = dict(WRITTEN)
REASON = "Extract "
_CHUNK = 500
R = TypeVar("R", bound=Registered)


@dataclass(frozen=True)
class New:
    """An object to be entered, and the first row that it comes from (0: from the mapping)."""

    obj: Registered
    row: int


@dataclass(frozen=True)
class Change:
    """An object whose stored values differ from the extract's: field → (before, after)."""

    obj: Registered
    row: int
    fields: dict[str, tuple[Any, Any]]


@dataclass(frozen=True)
class Kept:
    """A value that a person entered and that the extract contradicts."""

    obj: Registered
    row: int
    field: str
    ours: Any
    theirs: Any
    who: str


@dataclass(frozen=True)
class Stated:
    """What the extract says of one thing (``wanted``, in ``fields``), and the object of the register that it is.

    ``obj`` is None where the register does not have it and waits for a decision before it takes it.
    """

    wanted: Registered
    obj: Registered | None
    fields: tuple[str, ...]
    row: int
    own: bool


@dataclass
class Plan:
    """Everything an import would do; :meth:`settle` collects, :meth:`decide` parts changes from what is kept."""

    new: dict[type[Registered], list[New]] = field(default_factory=dict)
    changed: list[Change] = field(default_factory=list)
    kept: list[Kept] = field(default_factory=list)
    missing: list[str] = field(default_factory=list)
    same: Counter[type[Registered]] = field(default_factory=Counter)
    own_rows: int = 0
    stated: list[Stated] = field(default_factory=list)
    _differing: list[Change] = field(default_factory=list)

    def enter(self, obj: R, row: int) -> R:
        self.new.setdefault(type(obj), []).append(New(obj, row))
        return obj

    def state(
        self, wanted: R, obj: R | None, fields: tuple[str, ...], row: int, *, own: bool = False
    ) -> None:
        """Keep what the extract says of one thing, to be compared with the register afterwards."""
        self.stated.append(Stated(wanted, obj, fields, row, own))

    def settle(
        self, wanted: R, stored: R | None, fields: tuple[str, ...], row: int, *, own: bool = False
    ) -> R:
        """Take the stored object where there is one, noting what differs; else the wanted one is new."""
        self.state(wanted, wanted if stored is None else stored, fields, row, own=own)
        if stored is None:
            return self.enter(wanted, row)
        differing = {
            name: (getattr(stored, name), getattr(wanted, name))
            for name in fields
            if _comparable(stored, name) != _comparable(wanted, name)
        }
        if differing:
            self._differing.append(Change(stored, row, differing))
        else:
            self.same[type(stored)] += 1
        return stored

    def decide(self) -> None:
        """Changes where an import wrote the value last; kept where a person did (by the change record)."""
        by_type: dict[type[Registered], list[Change]] = {}
        for change in self._differing:
            by_type.setdefault(type(change.obj), []).append(change)
        for model, changes in by_type.items():
            history = _history(model, [change.obj.pk for change in changes])
            for change in changes:
                self._decide_one(model, change, history.get(change.obj.pk, []))
        self._differing = []

    def _decide_one(self, model: type[Registered], change: Change, history: list[ChangeRecord]) -> None:
        written = {}
        for name, (before, after) in change.fields.items():
            column: Any = model._meta.get_field(name)
            last = _last_to_write(column.attname, history)
            if last is not None and last.reason.startswith(REASON):
                written[name] = (before, after)
            else:
                who = (
                    sentence("{person}, {day}", person=last.by_name, day=last.at.date())
                    if last
                    else sentence(_("somebody"))
                )
                self.kept.append(Kept(change.obj, change.row, name, before, after, who))
        if written:
            self.changed.append(Change(change.obj, change.row, written))
        else:
            self.same[model] += 1

    def counts(self) -> dict[str, dict[str, int]]:
        """By kind of object: new, changed, same."""
        changed = Counter(type(change.obj) for change in self.changed)
        return {
            name: {"new": len(self.new.get(model, [])), "changed": changed[model], "same": self.same[model]}
            for model, name in WRITTEN
        }

    @property
    def is_empty(self) -> bool:
        return not self.changed and not any(self.new.values())


def _comparable(obj: models.Model, name: str) -> Any:
    """A field's value; of a reference its key, without a query, or the object where that is not saved yet."""
    column: Any = obj._meta.get_field(name)
    value = getattr(obj, column.attname)
    if value is None and column.is_relation and column.is_cached(obj):
        return getattr(obj, name)
    return value


def _history(model: type[models.Model], keys: list[int]) -> dict[int, list[ChangeRecord]]:
    """The change record of each object, newest first."""
    result: dict[int, list[ChangeRecord]] = {}
    for start in range(0, len(keys), _CHUNK):
        rows = ChangeRecord.objects.filter(
            object_type=model._meta.label_lower, object_id__in=keys[start : start + _CHUNK]
        )
        for row in rows.order_by("-id"):
            result.setdefault(row.object_id, []).append(row)
    return result


def _last_to_write(attname: str, history: list[ChangeRecord]) -> ChangeRecord | None:
    """Who wrote a field last; a field that was never set was left empty by whoever entered the object."""
    entered = None
    for row in history:
        if attname in row.changes:
            return row
        if row.action == ChangeRecord.Action.CREATE:
            entered = row
    return entered
