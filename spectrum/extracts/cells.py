"""From a cell to a value: each reader takes a text, number or date as it stood, and says what it expected."""

from __future__ import annotations

import datetime as dt
import math
import re
from decimal import Decimal, InvalidOperation
from typing import Any

from licences.emissions import EmissionFormatError, parse
from sites.refusals import RefusalError
from sites.sentences import sentence
from sites.words import gettext_noop as _
from sites.words import ngettext_lazy

from .mapping import UNITS_HZ, Reading
from .problems import quoted

_NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?")
EARLIEST = dt.date(1900, 1, 1)
LATEST = dt.date(2200, 1, 1)


class CellError(RefusalError):
    """A cell that cannot be read: what was there, what was expected, how to mend it."""

    def __init__(self, found: str, expected: str, mend: str = "") -> None:
        super().__init__(sentence(_("found {found}; expected {expected}"), found=found, expected=expected))
        self.found, self.expected, self.mend = found, expected, mend


def is_empty(cell: Any) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())


def text_of(cell: Any, *, longest: int) -> str:
    """A text in one line; a whole number of a spreadsheet without its decimals."""
    if cell is None:
        return ""
    if isinstance(cell, float) and cell.is_integer():
        cell = int(cell)
    text = " ".join(str(cell).split())
    if len(text) > longest:
        raise CellError(
            quoted(text),
            sentence(ngettext_lazy("at most {count} character", "at most {count} characters"), count=longest),
            sentence(_("Shorten it.")),
        )
    return text


def date_of(cell: Any, reading: Reading) -> dt.date:
    """A day, from a date cell of a spreadsheet or from text of the mapping's date format."""
    if isinstance(cell, dt.datetime):
        day = cell.date()
    elif isinstance(cell, dt.date):
        day = cell
    else:
        text = str(cell).strip()
        try:
            day = dt.datetime.strptime(text, reading.date_format).date()  # noqa: DTZ007
        except ValueError as error:
            number = re.fullmatch(r"\d{5}(?:\.\d+)?", text)
            mend = (
                sentence(
                    _("This is a spreadsheet's count of days: format the column as a date and export again.")
                )
                if number
                else sentence(_("Correct it, or the mapping's date format."))
            )
            example = dt.date(2019, 11, 28).strftime(reading.date_format)
            expected = sentence(_("a date written like {example}"), example=example)
            raise CellError(quoted(text), expected, mend) from error
    if not EARLIEST <= day < LATEST:
        raise CellError(
            quoted(day.isoformat()),
            sentence(_("a date from {first} to {last}"), first=EARLIEST.year, last=LATEST.year),
            sentence(_("Correct the year.")),
        )
    return day


def decimal_of(cell: Any, reading: Reading, what: str) -> Decimal:
    """A plain decimal number, without thousands separators; ``what`` is a marked constant, translated in an error."""
    if isinstance(cell, bool | dt.date | dt.time):
        raise CellError(quoted(cell), sentence(what), sentence(_("Format the column as a number.")))
    if isinstance(cell, int | float):
        if not math.isfinite(cell):
            raise CellError(quoted(cell), sentence(what), sentence(_("Correct it.")))
        return Decimal(str(cell))
    text = str(cell).strip().replace("−", "-")
    other = "," if reading.decimal_sign == "." else "."
    if other in text:
        raise CellError(
            quoted(text),
            sentence(
                _("{what}, with “{decimal_sign}” as decimal sign and no thousands separator"),
                what=sentence(what),
                decimal_sign=reading.decimal_sign,
            ),
            sentence(
                _(
                    "If “{other}” is the file's decimal sign, say so in the mapping; otherwise correct the cell."
                ),
                other=other,
            ),
        )
    text = text.replace(reading.decimal_sign, ".")
    if not _NUMBER.fullmatch(text):
        raise CellError(
            quoted(cell), sentence(what), sentence(_("Correct it; units belong into the heading."))
        )
    try:
        return Decimal(text)
    except InvalidOperation as error:
        raise CellError(quoted(cell), sentence(what), sentence(_("Correct it."))) from error


def number_of(cell: Any, reading: Reading, what: str, low: float, high: float) -> float:
    value = float(decimal_of(cell, reading, what))
    if not low <= value <= high:
        raise CellError(
            quoted(cell),
            sentence(_("{what} from {low:g} to {high:g}"), what=sentence(what), low=low, high=high),
            sentence(_("Correct it, or check the column's unit.")),
        )
    return value


_FREQUENCY_IN = {
    "Hz": _("a frequency in Hz"),
    "kHz": _("a frequency in kHz"),
    "MHz": _("a frequency in MHz"),
    "GHz": _("a frequency in GHz"),
}


def frequency_hz_of(cell: Any, reading: Reading) -> int:
    """A frequency in whole Hz; 30 kHz to 1000 GHz (beyond that a unit is wrong)."""
    unit = reading.frequency_unit
    value = decimal_of(cell, reading, _FREQUENCY_IN[unit])
    hertz = int((value * UNITS_HZ[unit]).to_integral_value())
    if not 30_000 <= hertz <= 10**12:
        raise CellError(
            f"{quoted(cell)} {unit}",
            sentence(_("a frequency from 0.03 MHz to 1000000 MHz")),
            sentence(_("Check the mapping's frequency unit.")),
        )
    return hertz


def width_hz_of(cell: Any, reading: Reading) -> int:
    return round(number_of(cell, reading, _("a channel width in kHz"), 0.001, 4e6) * 1e3)


def polarisation_of(cell: Any) -> str:
    letter = str(cell).strip()[:1].upper()
    if letter not in ("H", "V"):
        raise CellError(
            quoted(cell), sentence(_("H or V")), sentence(_("Leave it empty where it is neither."))
        )
    return letter


def emission_of(cell: Any) -> str:
    text = str(cell).strip().upper()
    try:
        parse(text)
    except EmissionFormatError as error:
        raise CellError(
            quoted(text), sentence(_("an emission designator such as 30M0D7W")), error.written
        ) from error
    return text
