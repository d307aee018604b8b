"""What stands in one cell: never ambiguous, and never a formula."""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal
from typing import Any

#: A value as it goes into a file. Anything else is written as its text.
Cell = str | int | float | Decimal | bool | dt.date | dt.datetime | None

# A spreadsheet takes a text that begins so for a formula (a common practice, no published standard).
_ACTIVE = re.compile(r"'*[=+\-@\t\r\n]")
_DEFUSED = re.compile(r"'+[=+\-@\t\r\n]")


def defused(text: str) -> str:
    """A text that no spreadsheet takes for a formula: an apostrophe before ``= + - @``, tab and line break.

    A text that begins with apostrophes and then one of these gets one more, so that
    :func:`restored` gives every text back.

    >>> defused("=1+1"), defused("Site 7"), defused("'=x")
    ("'=1+1", 'Site 7', "''=x")
    """
    return f"'{text}" if _ACTIVE.match(text) else text


def restored(text: str) -> str:
    """The text that :func:`defused` was given.

    >>> restored(defused("-7 dB")), restored("'quoted'")
    ('-7 dB', "'quoted'")
    """
    return text[1:] if _DEFUSED.match(text) else text


def as_text(value: Any) -> str:
    """A value as text: a decimal point, ISO 8601 dates, UTC times, yes or no; texts defused.

    >>> as_text(Decimal("457.01250")), as_text(-3.5), as_text(True), as_text(None)
    ('457.01250', '-3.5', 'yes', '')
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, dt.datetime | dt.date):
        return iso(value)
    return defused(str(value))


def iso(value: dt.date | dt.datetime) -> str:
    """ISO 8601; a moment in UTC with a Z (RFC 3339).

    >>> iso(dt.datetime(2026, 11, 25, 7, 30, tzinfo=dt.UTC))
    '2026-11-25T07:30:00Z'
    """
    if not isinstance(value, dt.datetime):
        return value.isoformat()
    if value.tzinfo is not None:
        value = value.astimezone(dt.UTC)
    return value.replace(tzinfo=None).isoformat() + "Z"


def as_json(value: Any) -> Any:
    """A value as JSON has it: numbers stay numbers, dates become ISO 8601 texts."""
    if value is None or isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, Decimal):
        return int(value) if value == value.to_integral_value() else float(value)
    if isinstance(value, dt.datetime | dt.date):
        return iso(value)
    return str(value)


def exact(hertz: int | None, unit_hz: int) -> Decimal | None:
    """Hertz in a larger unit (1 000 000 for MHz), to the hertz.

    >>> str(exact(457012500, 1_000_000)), exact(None, 1000)
    ('457.0125', None)
    """
    if hertz is None:
        return None
    value = Decimal(hertz) / unit_hz
    return value.quantize(Decimal(1)) if value == value.to_integral_value() else value.normalize()
