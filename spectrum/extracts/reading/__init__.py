"""From a file to rows of cells, each cell under the name of the field that the mapping gives its column."""

from __future__ import annotations

import difflib
import hashlib
import zipfile
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from sites.sentences import sentence
from sites.words import gettext_noop as _
from sites.words import ngettext_lazy
from spectrum.extracts.mapping import Mapping
from spectrum.extracts.problems import ExtractError, Problem, file_error, quoted

from .delimited import lines_of
from .workbook import sheet_rows

MAX_BYTES = 100 * 1024 * 1024
MAX_ROWS = 300_000
MAX_CELL = 2_000
MAX_PROBLEMS = 1_000
_OTHER_KINDS = (
    (
        b"\xd0\xcf\x11\xe0",
        _("a workbook of the old .xls kind"),
        _("Open it and save it as .xlsx or as CSV."),
    ),
    (b"\x1f\x8b", _("a gzip archive"), _("Unpack it first.")),
    (b"%PDF", _("a PDF document"), _("Ask for the table as CSV or .xlsx.")),
)


@dataclass(frozen=True)
class SourceRow:
    """One row: its number as a spreadsheet shows it (the header is 1), and its cells by field."""

    number: int
    cells: dict[str, Any]


@dataclass(frozen=True)
class Table:
    """What was read, and which file it was."""

    file_name: str
    sha256: str
    rows: list[SourceRow]


def read_table(content: bytes, file_name: str, mapping: Mapping) -> Table:
    """Read CSV (any usual delimiter) or XLSX; what it is, is told by its content. ExtractError if it is neither."""
    if not content.strip():
        raise file_error(
            sentence(_("an empty file")),
            sentence(_("a table with one row of headings")),
            sentence(_("Export the extract again.")),
        )
    if len(content) > MAX_BYTES:
        raise file_error(
            sentence(_("a file of {count:.0f} MB"), count=len(content) / 2**20),
            sentence(_("at most {max_bytes:.0f} MB"), max_bytes=MAX_BYTES / 2**20),
            sentence(_("Split it by licence, keeping the row of headings in each part.")),
        )
    rows = _numbered(_raw_rows(content, file_name, mapping))
    header = next(rows, None)
    if header is None:
        raise file_error(
            sentence(_("no row of headings")),
            sentence(_("a table with one row of headings")),
            sentence(_("Export the extract again.")),
        )
    places = _places(header[1], mapping)
    table = Table(
        file_name, hashlib.sha256(content).hexdigest(), _cells(rows, places, len(header[1]), mapping)
    )
    if not table.rows:
        raise file_error(
            sentence(_("headings and no row below them")),
            sentence(_("at least one row")),
            sentence(_("Export the extract again.")),
        )
    return table


def _raw_rows(content: bytes, file_name: str, mapping: Mapping) -> Iterable[Sequence[Any]]:
    for start, kind, mend in _OTHER_KINDS:
        if content.startswith(start):
            raise file_error(
                sentence(_("{kind} ({file_name})"), kind=sentence(kind), file_name=file_name),
                sentence(_("a CSV or .xlsx file")),
                sentence(mend),
            )
    if not content.startswith(b"PK\x03\x04"):
        return lines_of(content, mapping)
    if not _is_workbook(content):
        raise file_error(
            sentence(_("a zip archive, not a table ({file_name})"), file_name=file_name),
            sentence(_("a CSV or .xlsx file")),
            sentence(_("Unpack the archive and give the file inside it.")),
        )
    return sheet_rows(content, mapping)


def _is_workbook(content: bytes) -> bool:
    try:
        with zipfile.ZipFile(BytesIO(content)) as archive:
            return "[Content_Types].xml" in archive.namelist() and any(
                name.startswith("xl/") for name in archive.namelist()
            )
    except zipfile.BadZipFile:
        return False


def _numbered(rows: Iterable[Sequence[Any]]) -> Iterator[tuple[int, Sequence[Any]]]:
    """Rows with their numbers, rows without any text left out."""
    for number, row in enumerate(rows, start=1):
        if any(str(cell).strip() for cell in row if cell is not None):
            if number > MAX_ROWS + 1:
                raise file_error(
                    sentence(
                        ngettext_lazy("more than {count} row", "more than {count} rows"), count=MAX_ROWS
                    ),
                    sentence(_("at most {max_rows}"), max_rows=MAX_ROWS),
                    sentence(_("Split the file by licence, keeping the headings.")),
                )
            yield number, row


def _places(header: Sequence[Any], mapping: Mapping) -> dict[str, int]:
    """The place of each field's column; all that are missing are named at once."""
    names = ["" if cell is None else str(cell).strip() for cell in header]
    count = Counter(names)
    problems = []
    for name, column in mapping.columns.items():
        if count[column] == 1:
            continue
        if count[column] > 1:
            problems.append(
                Problem(
                    1,
                    column,
                    sentence(
                        ngettext_lazy("{count} column of that heading", "{count} columns of that heading"),
                        count=count[column],
                    ),
                    sentence(_("one")),
                    sentence(_("Rename or remove the others.")),
                )
            )
            continue
        near = difflib.get_close_matches(column, [n for n in names if n], n=1)
        mend = (
            sentence(
                _("Nearest heading: {nearest}. Correct the heading, or the mapping {mapping}."),
                nearest=quoted(near[0]),
                mapping=mapping.code,
            )
            if near
            else sentence(_("Correct the heading, or the mapping {mapping}."), mapping=mapping.code)
        )
        problems.append(
            Problem(
                1,
                column,
                sentence(_("no column of that heading")),
                sentence(_("it, for {name}"), name=name),
                mend,
            )
        )
    if problems:
        raise ExtractError(problems)
    return {name: names.index(column) for name, column in mapping.columns.items()}


def _cells(
    rows: Iterable[tuple[int, Sequence[Any]]], places: dict[str, int], width: int, mapping: Mapping
) -> list[SourceRow]:
    problems: list[Problem] = []
    more = 0
    read = []
    for number, row in rows:
        found = list(_row_problems(number, row, places, width, mapping))
        if found:
            room = MAX_PROBLEMS - len(problems)
            problems += found[:room]
            more += len(found[room:])
            continue
        cells = {name: row[place] if place < len(row) else None for name, place in places.items()}
        read.append(SourceRow(number, cells))
    if problems:
        raise ExtractError(problems, more=more)
    return read


def _row_problems(
    number: int, row: Sequence[Any], places: dict[str, int], width: int, mapping: Mapping
) -> Iterator[Problem]:
    used = len(row)
    while used and (row[used - 1] is None or row[used - 1] == ""):
        used -= 1
    if used > width or len(row) < width:
        yield Problem(
            number,
            "",
            sentence(
                ngettext_lazy("{count} cell", "{count} cells"), count=used if used > width else len(row)
            ),
            sentence(_("{width}, as in the row of headings"), width=width),
            sentence(_("A cell that holds the delimiter or a line break must stand in quotation marks.")),
        )
        return
    for name, place in places.items():
        cell, column = row[place], mapping.columns[name]
        text = cell if isinstance(cell, str) else ""
        if text.startswith("="):
            yield Problem(
                number,
                column,
                sentence(_("the formula {quoted}"), quoted=quoted(text)),
                sentence(_("a value")),
                sentence(_("Replace formulas by their values.")),
            )
        elif len(text) > MAX_CELL:
            yield Problem(
                number,
                column,
                sentence(ngettext_lazy("{count} character", "{count} characters"), count=len(text)),
                sentence(_("at most {max_cell}"), max_cell=MAX_CELL),
                sentence(_("Look for a missing quotation mark.")),
            )
        elif text in ("#N/A", "#REF!", "#VALUE!", "#NAME?", "#DIV/0!", "#NULL!", "#NUM!"):
            yield Problem(
                number,
                column,
                sentence(_("the spreadsheet error {text}"), text=text),
                sentence(_("a value")),
                sentence(_("Correct it in the spreadsheet.")),
            )
