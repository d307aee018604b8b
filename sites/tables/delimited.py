"""CSV (RFC 4180): UTF-8, commas, one row of headings, CRLF."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from .cells import as_text

MEDIA_TYPE = "text/csv; charset=utf-8; header=present"


class _Line:
    """A file that gives back what was written to it last."""

    text = ""

    def write(self, text: str) -> None:
        self.text = text


def csv_lines(names: Sequence[str], rows: Iterable[Sequence[Any]]) -> Iterator[str]:
    """The file line by line, as the rows come."""
    line = _Line()
    writer = csv.writer(line, lineterminator="\r\n")
    writer.writerow(names)
    yield line.text
    for row in rows:
        writer.writerow([as_text(value) for value in row])
        yield line.text
