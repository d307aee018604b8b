"""Who is who: one registrant is one holder, however its name is spelt.

Rows belong to one registrant when they share the extract's registrant number, or a name
that differs only in case, punctuation and spaces. The spelling that most rows use names
the holder (the first in the alphabet where two are equally frequent).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from .entries import Entry


@dataclass
class Registrant:
    """One party, with every spelling (and how many rows use it) and every registrant number it appears under."""

    spellings: Counter[str] = field(default_factory=Counter)
    numbers: set[str] = field(default_factory=set)
    rows: list[int] = field(default_factory=list)

    @property
    def name(self) -> str:
        return min(self.spellings, key=lambda name: (-self.spellings[name], name))

    @property
    def other_names(self) -> list[str]:
        return sorted(set(self.spellings) - {self.name})


def plain(name: str) -> str:
    """A name without case, punctuation and spaces.

    >>> plain("Example, Inc.") == plain("EXAMPLE INC")
    True
    """
    return re.sub(r"[\W_]+", "", name.casefold()) or name


def registrants_of(entries: Iterable[Entry]) -> dict[int, Registrant]:
    """The registrant of each row, by row number."""
    leader: dict[tuple[str, str], tuple[str, str]] = {}

    def find(item: tuple[str, str]) -> tuple[str, str]:
        leader.setdefault(item, item)
        while leader[item] != item:
            leader[item] = leader[leader[item]]
            item = leader[item]
        return item

    listed = list(entries)
    for entry in listed:
        name = find(("name", plain(entry.holder)))
        if entry.holder_id:
            leader[find(("number", entry.holder_id))] = name
    groups: dict[tuple[str, str], Registrant] = {}
    result = {}
    for entry in listed:
        group = groups.setdefault(find(("name", plain(entry.holder))), Registrant())
        group.spellings[entry.holder] += 1
        group.rows.append(entry.row)
        if entry.holder_id:
            group.numbers.add(entry.holder_id)
        result[entry.row] = group
    return result
