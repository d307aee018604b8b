"""Evidence: the arithmetic under a finding, row by row, so that a person can add it up by hand."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

GIVEN: Final = "given"  # context; not added
TERM: Final = "term"  # added to the running total, in dB
POWER: Final = "power"  # a level in dBm; levels are added in watts
SUM: Final = "sum"  # the running total so far
LIMIT: Final = "limit"  # margin = limit − running total
MARGIN: Final = "margin"  # the result


@dataclass(frozen=True)
class Row:
    """One line of evidence: what, how much, in which unit, from which document or record."""

    name: str
    value: float | str
    unit: str
    source: str
    role: str = GIVEN


def rows_as_json(rows: list[Row]) -> list[dict[str, Any]]:
    """The rows as stored: plain values, numbers rounded to 0.0001 of their unit, frequencies to 1 Hz."""
    return [
        {
            "name": row.name,
            "value": round(row.value, 6 if row.unit == "MHz" else 4)
            if isinstance(row.value, float)
            else row.value,
            "unit": row.unit,
            "source": row.source,
            "role": row.role,
        }
        for row in rows
    ]


def adds_up(rows: list[dict[str, Any]], margin: float, *, within: float = 0.01) -> bool:
    """Whether the terms, added in order, give every sum on the way and the margin at the end.

    >>> rows = [
    ...     {"role": "term", "value": 40.0}, {"role": "term", "value": -3.0}, {"role": "sum", "value": 37.0},
    ...     {"role": "limit", "value": 35.0}, {"role": "margin", "value": -2.0},
    ... ]
    >>> adds_up(rows, -2.0)
    True
    >>> adds_up(rows, -1.0)
    False
    """
    total, watts = 0.0, 0.0
    for row in rows:
        role, value = row["role"], row["value"]
        if role == POWER:
            watts += 10.0 ** (value / 10.0)
            total = 10.0 * math.log10(watts)
        elif role == TERM:
            total += value
        elif role == LIMIT:
            total = value - total
        elif role in (SUM, MARGIN) and abs(total - value) > within:
            return False
    return bool(rows) and rows[-1]["role"] == MARGIN and abs(rows[-1]["value"] - margin) <= within
