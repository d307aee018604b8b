"""Comma-, semicolon-, tab- and bar-separated text."""

from __future__ import annotations

import codecs
import csv
from collections.abc import Iterator
from io import StringIO

from sites.sentences import sentence
from sites.words import gettext_noop as _
from spectrum.extracts.mapping import DELIMITERS, Mapping
from spectrum.extracts.problems import ExtractError, file_error

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
LONGEST_CELL = 200_000


def lines_of(content: bytes, mapping: Mapping) -> Iterator[list[str]]:
    """Rows of texts. A byte order mark goes before the mapping's encoding."""
    text = _text(content, mapping.reading.encoding)
    return rows_of(text, _delimiter(text, mapping))


def rows_of(text: str, delimiter: str) -> Iterator[list[str]]:
    """Rows of texts apart by a delimiter. ExtractError names the line that cannot be split."""
    csv.field_size_limit(LONGEST_CELL)
    reader = csv.reader(StringIO(text, newline=""), delimiter=delimiter, strict=True)
    while True:
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise file_error(
                sentence(
                    _("text that cannot be split into cells near line {line_num} ({error})"),
                    line_num=reader.line_num,
                    error=error,
                ),
                sentence(_("cells apart by one delimiter, quotation marks in pairs")),
                sentence(_("Look for a missing or stray quotation mark there.")),
            ) from error
        yield row


def text_or_older(content: bytes) -> tuple[str, bool]:
    """The text of a file in UTF-8, or in UTF-16 with its mark; else in windows-1252, and then True."""
    try:
        return _text(content, "utf-8"), False
    except ExtractError:
        if content.startswith(tuple(mark for mark, _name in _MARKS)) or b"\x00" in content:
            raise
        return _text(content, "windows-1252"), True


def _text(content: bytes, encoding: str) -> str:
    encoding = next((name for mark, name in _MARKS if content.startswith(mark)), encoding)
    try:
        text = content.decode(encoding)
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise file_error(
            sentence(
                _("the byte 0x{content:02X} in line {line}, which is not {encoding}"),
                content=content[error.start],
                line=line,
                encoding=encoding,
            ),
            sentence(_("text encoded as {encoding}"), encoding=encoding),
            sentence(_("Save the file as UTF-8, or name its encoding in the mapping (often windows-1252).")),
        ) from error
    if "\x00" in text:
        raise file_error(
            sentence(_("bytes that are no text")),
            sentence(_("a table as text encoded as {encoding}, or an .xlsx workbook"), encoding=encoding),
            sentence(_("Check that this is the right file; UTF-16 needs a byte order mark.")),
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
