"""Rows of a list that are computed, not stored: they can be ordered, counted and cut into pages like a query."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any


class ComputedRows:
    """A list with what :class:`~sites.views.listing.ListPage` asks of a query."""

    def __init__(self, rows: Sequence[Any]) -> None:
        self._rows = rows

    def __len__(self) -> int:
        return len(self._rows)

    def __getitem__(self, wanted: Any) -> Any:
        return self._rows[wanted]

    def __iter__(self) -> Iterator[Any]:
        return iter(self._rows)

    def count(self) -> int:
        return len(self._rows)

    def order_by(self, *names: str) -> ComputedRows:
        """By attributes; "-name" is descending. What is not known comes last either way."""
        rows = list(self._rows)
        for name in reversed(names):
            attribute, descending = name.removeprefix("-"), name.startswith("-")
            known = [row for row in rows if getattr(row, attribute) not in (None, "")]
            unknown = [row for row in rows if getattr(row, attribute) in (None, "")]
            known.sort(key=lambda row, a=attribute: getattr(row, a), reverse=descending)  # type: ignore[misc]
            rows = known + unknown
        return ComputedRows(rows)

    def iterator(self, chunk_size: int | None = None) -> Iterator[Any]:
        del chunk_size  # they are at hand
        return iter(self._rows)
