"""XLSX (ECMA-376): a sheet a table, numbers as numbers, dates as dates, texts never as formulas."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import IO, Any

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

from sites.errors import RegisterError
from sites.words import gettext, ngettext

from .cells import as_text, defused

MEDIA_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
LONGEST_CELL = 32_767  # characters, the limit of the format
MOST_ROWS = 200_000
CARRIAGE_RETURN = "_x000D_"
_FIRST_DAY = dt.date(1900, 3, 1)  # before it spreadsheets disagree on dates
_LONGEST_WHOLE = 10**15  # digits that a spreadsheet keeps

Sheet = tuple[str, Sequence[str], Iterable[Sequence[Any]]]


def write_workbook(target: IO[bytes], sheets: Iterable[Sheet]) -> None:
    """Write sheets of a name, headings and rows. RegisterError for a text or a table too long for the format."""
    book = Workbook(write_only=True)
    for title, names, rows in sheets:
        sheet = book.create_sheet(title)
        sheet.freeze_panes = "A2"
        for number, name in enumerate(names, start=1):
            sheet.column_dimensions[get_column_letter(number)].width = min(40, max(12, len(name) + 2))
        sheet.append([_heading(sheet, name) for name in names])
        try:
            _fill(sheet, names, rows)
        except RegisterError:
            sheet.close()  # its temporary file too
            raise
    book.save(target)


def _fill(sheet: Any, names: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    for count, row in enumerate(rows, start=1):
        if count > MOST_ROWS:
            raise RegisterError(
                gettext(
                    "This table has more than {most_rows} rows, too many for one sheet. Filter it, or take "
                    "CSV."
                ).format(most_rows=MOST_ROWS)
            )
        sheet.append([_cell(sheet, names[place], value) for place, value in enumerate(row)])


def _heading(sheet: Any, name: str) -> Any:
    cell = WriteOnlyCell(sheet, value=name)
    cell.font = Font(bold=True)
    return cell


def _cell(sheet: Any, name: str, value: Any) -> Any:
    if value is None or value == "":
        return None
    if isinstance(value, Decimal):
        value = int(value) if value == value.to_integral_value() else float(value)
    if isinstance(value, float):
        return _exact(sheet, value)
    if isinstance(value, int) and not isinstance(value, bool):
        return value if abs(value) < _LONGEST_WHOLE else _text(sheet, name, str(value))
    if isinstance(value, dt.datetime):
        moment = value.astimezone(dt.UTC).replace(tzinfo=None) if value.tzinfo else value
        return _dated(sheet, moment, "yyyy-mm-dd hh:mm:ss") if moment.date() >= _FIRST_DAY else as_text(value)
    if isinstance(value, dt.date):
        return _dated(sheet, value, "yyyy-mm-dd") if value >= _FIRST_DAY else as_text(value)
    return _text(sheet, name, as_text(value) if isinstance(value, bool) else str(value))


def _exact(sheet: Any, value: float) -> Any:
    """A number with all its digits; left to itself the library writes sixteen, which is one too few."""
    cell = WriteOnlyCell(sheet, value=repr(value))
    cell.data_type = "n"
    return cell


def _dated(sheet: Any, value: dt.date, number_format: str) -> Any:
    cell = WriteOnlyCell(sheet, value=value)
    cell.number_format = number_format
    return cell


def _text(sheet: Any, name: str, text: str) -> Any:
    text = ILLEGAL_CHARACTERS_RE.sub("\ufffd", defused(text))
    if len(text) > LONGEST_CELL:
        raise RegisterError(
            ngettext(
                "A text of {count} character in {name} does not fit into a cell of a workbook "
                "({longest_cell}). Take CSV instead.",
                "A text of {count} characters in {name} does not fit into a cell of a workbook "
                "({longest_cell}). Take CSV instead.",
                len(text),
            ).format(count=len(text), name=name, longest_cell=LONGEST_CELL)
        )
    # XML drops a carriage return that is not written so (ECMA-376 Part 1 § 22.9.2.19, ST_Xstring).
    cell = WriteOnlyCell(sheet, value=text.replace("\r", CARRIAGE_RETURN))
    cell.data_type = "s"
    return cell
