"""The rows of one sheet of an .xlsx workbook."""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from io import BytesIO
from typing import Any

from openpyxl import load_workbook
from openpyxl.utils.exceptions import InvalidFileException

from sites.sentences import sentence
from sites.tables.workbook import CARRIAGE_RETURN
from sites.words import gettext_noop as _
from sites.words import ngettext_lazy
from spectrum.extracts.mapping import Mapping
from spectrum.extracts.problems import file_error, quoted

MAX_UNPACKED_BYTES = 600 * 1024 * 1024


def sheet_rows(content: bytes, mapping: Mapping) -> Iterator[tuple[Any, ...]]:
    """The cells' values: texts, numbers, dates; a formula as its text, which begins with "="."""
    book = _book(content)
    try:
        width = 0
        for row in _sheet(book, mapping.reading.sheet, mapping.code).iter_rows(values_only=True):
            # A sheet does not store its empty cells at the end of a row.
            width = width or len(row)
            yield row + (None,) * (width - len(row))
    finally:
        book.close()


def all_sheets(content: bytes) -> Iterator[tuple[str, list[tuple[Any, ...]]]]:
    """The name and the rows of every sheet; a formula is its text, which begins with "="."""
    book = _book(content)
    try:
        for sheet in book.worksheets:
            rows = sheet.iter_rows(values_only=True)
            yield sheet.title, [tuple(map(_with_returns, row)) for row in rows]
    finally:
        book.close()


def _with_returns(cell: Any) -> Any:
    return cell.replace(CARRIAGE_RETURN, "\r") if isinstance(cell, str) else cell


def _book(content: bytes) -> Any:
    with zipfile.ZipFile(BytesIO(content)) as archive:
        unpacked = sum(entry.file_size for entry in archive.infolist())
    if unpacked > MAX_UNPACKED_BYTES:
        raise file_error(
            sentence(_("a workbook that unpacks to {unpacked:.0f} MB"), unpacked=unpacked / 2**20),
            sentence(_("at most {max_unpacked_bytes:.0f} MB"), max_unpacked_bytes=MAX_UNPACKED_BYTES / 2**20),
            sentence(_("Save the one sheet that is needed as CSV.")),
        )
    try:
        return load_workbook(BytesIO(content), read_only=True, data_only=False)
    except (InvalidFileException, KeyError, ValueError, OSError, zipfile.BadZipFile) as error:
        raise file_error(
            sentence(_("a workbook that cannot be opened ({error})"), error=error),
            sentence(_("an .xlsx workbook")),
            sentence(_("Open it and save it again, or save it as CSV.")),
        ) from error


def _sheet(book: Any, wanted: str, code: str) -> Any:
    names = [sheet.title for sheet in book.worksheets]
    if wanted:
        if wanted in names:
            return book[wanted]
        raise file_error(
            sentence(_("the sheets {names}"), names=", ".join(names)),
            sentence(_("a sheet named {quoted}"), quoted=quoted(wanted)),
            sentence(_("Rename the sheet, or correct the mapping {code}."), code=code),
        )
    if len(names) != 1:
        raise file_error(
            sentence(
                ngettext_lazy("{count} sheet ({names})", "{count} sheets ({names})"),
                count=len(names),
                names=", ".join(names),
            ),
            sentence(_("one, or the name of a sheet in the mapping")),
            sentence(_("Remove the others, or name the sheet in the mapping {code}."), code=code),
        )
    return book.worksheets[0]
