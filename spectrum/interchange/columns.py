"""How a stored field stands in a cell, and how a cell becomes its value again."""

from __future__ import annotations

import datetime as dt
import json
import math
import re
from collections.abc import Callable
from decimal import Decimal, InvalidOperation
from typing import Any, Final

from django.core.exceptions import ValidationError
from django.db import models

from sites.forms.figures import PowerField
from sites.reading import neutral
from sites.refusals import RefusalError
from sites.sentences import sentence
from sites.tables import restored
from sites.tables.cells import exact
from sites.words import gettext_noop as _
from spectrum.extracts.problems import quoted

_MEGAHERTZ: Final = re.compile(r"(frequency|first_go|duplex_spacing)_hz$")
_NUMBER: Final = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?")
_YES, _NO = {"yes", "true", "1"}, {"no", "false", "0"}
_WORDS: Final = ("emission_designators", "modulations")  # lists that may be written with semicolons
MOST_HZ: Final = 3_000_000_000_000


class CellError(RefusalError):
    """A cell that cannot be read; the sentence says what was there, what was expected, how to mend it."""


def column_of(field: Any) -> str:
    """The name of a field's column: its own, hertz as MHz or kHz."""
    name: str = field.name
    if name.endswith("_hz") and isinstance(field, models.IntegerField):
        return re.sub(r"_hz$", "_mhz" if _MEGAHERTZ.search(name) else "_khz", name)
    return name


def unit_hz(field: Any) -> int:
    """Hertz in the unit of a field's column; 0 for a field that is no frequency."""
    column = column_of(field)
    if column == field.name:
        return 0
    return 1_000_000 if column.endswith("_mhz") else 1_000


def to_cell(field: Any, value: Any) -> Any:
    """A stored value as it goes into a file."""
    if value is None:
        return None
    if unit := unit_hz(field):
        return exact(value, unit)
    if isinstance(field, models.JSONField):
        return json.dumps(value, ensure_ascii=False)
    return value


def from_cell(field: Any, cell: Any) -> Any:
    """The value of a cell that is not empty. Raises CellError."""
    if isinstance(cell, str):
        text = cell.strip()
        if text.startswith("="):
            raise CellError(
                sentence(
                    _("found the formula {cell}; expected a value. Replace formulas by their values."),
                    cell=quoted(text),
                )
            )
        text = restored(text)
        if text.startswith("#") and text.endswith(("!", "?", "/A", "/0!")):
            raise CellError(
                sentence(_("found the spreadsheet error {text}. Correct it in the spreadsheet."), text=text)
            )
        cell = text
    for kind, reader in _READERS:
        if isinstance(field, kind):
            return reader(field, cell)
    text = _plain_text(cell)
    return _choice(field, text) if field.choices else text


def _plain_text(cell: Any) -> str:
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, dt.datetime) and cell.time() == dt.time.min:
        return cell.date().isoformat()
    return str(cell)


def _choice(field: Any, text: str) -> str:
    for stored, shown in field.flatchoices:
        if text.lower() in (str(stored).lower(), str(shown).lower()):
            return str(stored)
    known = ", ".join(str(stored) for stored, _shown in field.flatchoices)
    raise CellError(sentence(_("found {cell}; expected one of {known}."), cell=quoted(text), known=known))


def _yes_no(_field: Any, cell: Any) -> bool:
    text = _plain_text(cell).lower()
    if text in _YES | _NO:
        return text in _YES
    raise CellError(sentence(_("found {cell}; expected yes or no."), cell=quoted(cell)))


def _day(_field: Any, cell: Any) -> dt.date:
    if isinstance(cell, dt.datetime):
        return cell.date()
    if isinstance(cell, dt.date):
        return cell
    try:
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", str(cell)):
            return dt.date.fromisoformat(str(cell))
    except ValueError:
        pass
    raise CellError(
        sentence(
            _("found {cell}; expected a day as year-month-day. Write for example 2026-11-25."),
            cell=quoted(cell),
        )
    )


def _number(cell: Any, what: str, example: str) -> Decimal:
    text = str(cell).replace("\u2212", "-")
    if isinstance(cell, bool | dt.date):
        raise CellError(
            sentence(
                _("found {cell}; expected {what}. Write for example {example}."),
                cell=quoted(cell),
                what=what,
                example=example,
            )
        )
    if "," in text and _NUMBER.fullmatch(text.replace(",", "")):
        raise CellError(
            sentence(
                _(
                    "found {cell}; expected {what} with a decimal point and no separators. A comma could be "
                    "either, so it is not guessed. Write for example {example}."
                ),
                cell=quoted(cell),
                what=what,
                example=example,
            )
        )
    if not _NUMBER.fullmatch(text) or len(text) > 60:
        raise CellError(
            sentence(
                _("found {cell}; expected {what}. Write for example {example}."),
                cell=quoted(cell),
                what=what,
                example=example,
            )
        )
    try:
        return Decimal(text)
    except InvalidOperation:
        raise CellError(
            sentence(
                _("found {cell}; expected {what}. Write for example {example}."),
                cell=quoted(cell),
                what=what,
                example=example,
            )
        ) from None


def _figure(field: Any, cell: Any) -> float:
    if (
        field.name.endswith("_dbm")
        and isinstance(cell, str)
        and re.search(r"[A-Za-zµ]", cell)
        and "," not in cell
    ):
        try:
            with neutral():  # a table means the same whoever brings it
                power = PowerField().to_python(cell)
        except ValidationError:
            power = None
        if power is None:
            raise CellError(
                sentence(_("found {cell}, neither watts nor dBm. Write 10 W or 40 dBm."), cell=quoted(cell))
            )
        return power
    value = float(_number(cell, sentence(_("a number")), "12.5"))
    if not math.isfinite(value):
        raise CellError(
            sentence(_("found {cell}; expected a finite number. Write for example 12.5."), cell=quoted(cell))
        )
    return value


def _whole(field: Any, cell: Any) -> int:
    unit = unit_hz(field)
    words, example = (
        (sentence(_("a whole number")), "12")
        if not unit
        else (sentence(_("a number")), "457.0125" if unit > 1_000 else "12.5")
    )
    value = _number(cell, words, example) * (unit or 1)
    if abs(value) > MOST_HZ:
        raise CellError(
            sentence(
                _("found {cell}; expected {words} within reason. Write for example {example}."),
                cell=quoted(cell),
                words=words,
                example=example,
            )
        )
    if value != value.to_integral_value():
        finer = sentence(_("a figure that is not finer than one hertz")) if unit else words
        raise CellError(
            sentence(
                _("found {cell}; expected {finer}. Write for example {example}."),
                cell=quoted(cell),
                finer=finer,
                example=example,
            )
        )
    return int(value)


def _structure(field: Any, cell: Any) -> Any:
    text = _plain_text(cell)
    if field.name in _WORDS and not text.startswith("["):
        return [word.strip() for word in text.split(";") if word.strip()]
    try:
        return json.loads(text, parse_constant=_refuse)
    except (ValueError, RecursionError):
        example = "16K0F1D; 11K2F1D" if field.name in _WORDS else "[[0, 0], [30, -12]]"
        raise CellError(
            sentence(
                _("found {cell}; expected JSON. Write for example {example}."),
                cell=quoted(cell),
                example=example,
            )
        ) from None


def _refuse(name: str) -> None:
    raise ValueError(name)


def _amount(_field: Any, cell: Any) -> Decimal:
    return _number(cell, sentence(_("a number")), "1250.50")


# In this order: some kinds of field are kinds of another.
_READERS: Final[tuple[tuple[type[Any], Callable[[Any, Any], Any]], ...]] = (
    (models.BooleanField, _yes_no),
    (models.DateField, _day),
    (models.JSONField, _structure),
    (models.IntegerField, _whole),
    (models.DecimalField, _amount),
    (models.FloatField, _figure),
)
