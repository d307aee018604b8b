"""What remains of what was done to an object: each field from its first value to its last. Pure."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

BEFORE_ALL = dt.datetime.min.replace(tzinfo=dt.UTC)


class Outcome(StrEnum):
    """What became of an object between two moments."""

    ENTERED = "entered"
    REMOVED = "removed"
    CHANGED = "changed"
    CHANGED_BACK = "changed_back"
    ENTERED_AND_REMOVED = "entered_and_removed"


@dataclass
class FieldNet:
    """One field: its value before the first and after the last change, and who changed it last, when, how often."""

    name: str
    before: Any
    after: Any
    by: str
    at: dt.datetime
    times: int = 1

    @property
    def cancelled(self) -> bool:
        """Whether it has the value again that it had before; nothing, an empty text and an empty list are the same."""
        return _plain(self.before) == _plain(self.after)


@dataclass
class Net:
    """What remains of the entries of one object, taken in with :meth:`add` in the order in which they were made."""

    object_type: str
    object_id: int
    label: str = ""
    by: str = ""
    at: dt.datetime = BEFORE_ALL
    entries: int = 0
    was_there: bool = True
    is_there: bool = True
    _fields: dict[str, FieldNet] = field(default_factory=dict)

    def add(
        self, action: str, changes: Mapping[str, Sequence[Any]], *, by: str, at: dt.datetime, label: str
    ) -> None:
        """Take in one entry: create, change or remove, with field → [before, after].

        >>> at, net = dt.datetime(2026, 3, 1, tzinfo=dt.UTC), Net("places.site", 7)
        >>> net.add("change", {"name": ["A", "B"], "notes": ["", "x"]}, by="ann", at=at, label="A")
        >>> net.add("change", {"name": ["B", "C"], "notes": ["x", ""]}, by="bob", at=at, label="B")
        >>> [(f.name, f.before, f.after, f.by, f.cancelled) for f in net.fields]
        [('name', 'A', 'C', 'bob', False), ('notes', '', '', 'bob', True)]
        >>> net.outcome.value
        'changed'
        """
        if not self.entries:
            self.was_there = action != "create"
        self.is_there = action != "remove"
        self.entries += 1
        self.by, self.at, self.label = by, at, label
        for name, (before, after) in changes.items():
            known = self._fields.get(name)
            if known is None:
                # What an object had that was entered on the way was not there before the first entry.
                self._fields[name] = FieldNet(name, before if self.was_there else None, after, by, at)
            else:
                known.after, known.by, known.at, known.times = after, by, at, known.times + 1

    @property
    def outcome(self) -> Outcome:
        if self.was_there and self.is_there:
            back = all(each.cancelled for each in self._fields.values())
            return Outcome.CHANGED_BACK if back else Outcome.CHANGED
        if self.was_there:
            return Outcome.REMOVED
        return Outcome.ENTERED if self.is_there else Outcome.ENTERED_AND_REMOVED

    @property
    def fields(self) -> list[FieldNet]:
        """What is to be said of each field: of an object that stayed all that were touched, else those with a value."""
        if self.outcome is Outcome.ENTERED_AND_REMOVED:
            return []
        if self.was_there and self.is_there:
            return list(self._fields.values())
        return [each for each in self._fields.values() if not each.cancelled]


def _plain(value: Any) -> Any:
    return None if value in ("", []) else value
