"""Comma-, semicolon-, tab- and bar-separated text."""

from __future__ import annotations

import codecs
import csv
from collections.abc import Iterator
from io import StringIO

from spectrum.extracts.mapping import DELIMITERS, Mapping
from spectrum.extracts.problems import file_error

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
LONGEST_CELL = 200_000


def lines_of(content: bytes, mapping: Mapping) -> Iterator[list[str]]:
    """Rows of texts. A byte order mark goes before the mapping's encoding."""
    text = _text(content, mapping.reading.encoding)
    csv.field_size_limit(LONGEST_CELL)
    reader = csv.reader(StringIO(text, newline=""), delimiter=_delimiter(text, mapping), strict=True)
    while True:
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise file_error(
                f"text that cannot be split into cells near line {reader.line_num} ({error})",
                "cells apart by one delimiter, quotation marks in pairs",
                "Look for a missing or stray quotation mark there.",
            ) from error
        yield row


def _text(content: bytes, encoding: str) -> str:
    encoding = next((name for mark, name in _MARKS if content.startswith(mark)), encoding)
    try:
        text = content.decode(encoding)
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise file_error(
            f"the byte 0x{content[error.start]:02X} in line {line}, which is not {encoding}",
            f"text encoded as {encoding}",
            "Save the file as UTF-8, or name its encoding in the mapping (often windows-1252).",
        ) from error
    if "\x00" in text:
        raise file_error(
            "bytes that are no text",
            f"a table as text encoded as {encoding}, or an .xlsx workbook",
            "Check that this is the right file; UTF-16 needs a byte order mark.",
        )
    return text


def _delimiter(text: str, mapping: Mapping) -> str:
    """The mapping's delimiter, or the one at which the most headings of the mapping appear."""
    if mapping.reading.delimiter:
        return mapping.reading.delimiter
    first = next((line for line in text.splitlines() if line.strip()), "")
    wanted = set(mapping.columns.values())

    def found(delimiter: str) -> int:
        try:
            cells = next(csv.reader([first], delimiter=delimiter))
        except csv.Error:
            return -1
        return len(wanted & {cell.strip() for cell in cells})

    return max(DELIMITERS, key=found)
