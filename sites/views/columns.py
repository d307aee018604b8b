"""The columns of a list: one declaration for the page and for the files of it."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from sites.lazily import Words
from sites.reading import current_reader, neutral

_UNIT_NAMES = {"°": "deg"}


@dataclass(frozen=True)
class Column:
    """One column: its head, the value of a row, how it is set, and the field that orders by it.

    In a file the column's name is made of its head and unit ("frequency_mhz"), and its value is
    ``plain``; without it, the page's value with numbers read back as numbers. A column that is a
    summary for the eye has ``exported`` False; the list says in ``also_exported`` what stands for it.
    One that is known only of now, such as a count of findings, has ``only_now``.
    """

    title: Words
    value: Callable[[Any], Any]
    kind: str = "text"  # text, code, figure, figure1 (one decimal), power (of a transmitter, in dBm), date
    order: str = ""
    href: Callable[[Any], str] | None = None
    unit: Words = ""
    name: str = ""
    plain: Callable[[Any], Any] | None = None
    exported: bool = True
    only_now: bool = False

    @property
    def is_figure(self) -> bool:
        """Whether the column is set as figures are, aligned at the decimal."""
        return self.kind in ("figure", "figure1", "power")

    @property
    def shown_unit(self) -> str:
        """The unit on the page: that of a power is the reader's."""
        return current_reader().power_unit if self.kind == "power" else str(self.unit)

    @property
    def file_name(self) -> str:
        """The column's name in a file: lower case, with its unit."""
        if self.name:
            return self.name
        with neutral():  # a program reads it
            unit = str(self.unit)
            words = f"{self.title} {_UNIT_NAMES.get(unit, unit)}".lower()
        return re.sub(r"[^a-z0-9]+", "_", words).strip("_")

    def file_value(self, row: Any) -> Any:
        """The column's value in a file."""
        if self.plain is not None:
            return self.plain(row)
        value = self.value(row)
        if self.kind in ("figure", "figure1") and isinstance(value, str):
            return _number(value)
        return value


def also(name: str, plain: Callable[[Any], Any]) -> Column:
    """A column that only files have."""
    return Column(name, plain, name=name, plain=plain)


def _number(shown: str) -> Decimal | str | None:
    """What a page shows as a figure, as a number again; a text that is none stays a text."""
    try:
        return Decimal(shown.replace("−", "-"))
    except InvalidOperation:
        return None if shown in ("", "–") else shown
