"""Figures, days and times as they stand on every page: the same decimals for the same quantity, a true minus sign.

They are written as the reader writes them (``sites.reading``); what a machine reads – coordinates of a drawing, values
of inputs, attributes for scripts – does not go through these filters.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from decimal import Decimal
from typing import Any

from django import template
from django.db import models

from sites.reading import WATT, current_reader, decimal_sign, written_day, written_moment
from sites.views.addresses import page_of, page_of_id

register = template.Library()
NOT_KNOWN = "–"
#: A figure with a point, and neither a part of a code nor of a number of several parts such as 1.2.3.
_FIGURE_IN_A_LABEL = re.compile(r"(?<![\w.])\d+\.\d+(?!\w|\.\w)")


def fixed(value: Any, decimals: int) -> str:
    """A number with fixed decimals and a true minus sign; a dash where the register does not know it."""
    if value is None or value == "":
        return NOT_KNOWN
    if isinstance(value, str):
        return value
    text = f"{value:.{decimals}f}"
    return _as_read(text.replace("-", "−") if float(text) else text.removeprefix("-"))


def _as_read(text: str) -> str:
    return text.replace(".", decimal_sign())


@register.filter
def mhz(hertz: int | None) -> str:
    """A frequency in MHz, five decimals; more only where the frequency needs them."""
    if hertz is None:
        return NOT_KNOWN
    return fixed(hertz / 1e6, 5 if hertz % 10 == 0 else 6)


@register.filter
def khz(hertz: int | None) -> str:
    """A width in kHz, two decimals; three only where the width needs them."""
    if hertz is None:
        return NOT_KNOWN
    return fixed(hertz / 1e3, 2 if hertz % 10 == 0 else 3)


@register.filter
def one(value: Any) -> str:
    """One decimal: dB, dBm, dBi, degrees, metres, milliseconds, kbit/s."""
    return fixed(value, 1)


@register.filter
def two(value: Any) -> str:
    """Two decimals: km."""
    return fixed(value, 2)


@register.filter
def four(value: Any) -> str:
    """Four decimals: an availability in per cent."""
    return fixed(value, 4)


@register.filter
def five(value: Any) -> str:
    """Five decimals: degrees of a position, which is about a metre."""
    return fixed(value, 5)


@register.filter
def whole(value: Any) -> str:
    """No decimals: metres of a distance, an effective radius."""
    return fixed(value, 0)


def brief(value: float | None) -> str:
    """For a sentence: as many decimals as the figure has, six significant figures at most: 25, 12.5."""
    return NOT_KNOWN if value is None else _as_read(f"{value:g}".replace("-", "−"))


@register.filter
def watts(dbm: float | None) -> str:
    """A power in dBm as watts, three significant figures."""
    if dbm is None:
        return NOT_KNOWN
    value = 10 ** (dbm / 10) / 1e3
    if value < 1:
        return _as_read(f"{value * 1e3:.3g} mW")
    return _as_read(f"{value:.3g} W" if value < 1000 else f"{value / 1e3:.3g} kW")


@register.filter
def power(dbm: float | None) -> str:
    """A transmitter's power, or its limit, in the reader's unit: ``37.0 dBm`` or ``5.01 W``.

    A received level is no such power: it is in dBm for everybody.
    """
    if dbm is None:
        return NOT_KNOWN
    return watts(dbm) if current_reader().power_unit == WATT else f"{fixed(dbm, 1)} dBm"


@register.filter
def power_both(dbm: float | None) -> str:
    """A transmitter's power in the reader's unit, and in the other: ``37.0 dBm (5.01 W)``."""
    if dbm is None:
        return NOT_KNOWN
    both = f"{fixed(dbm, 1)} dBm", watts(dbm)
    first, second = reversed(both) if current_reader().power_unit == WATT else both
    return f"{first} ({second})"


@register.filter
def power_other(dbm: float | None) -> str:
    """A transmitter's power in the unit that the reader does not have first."""
    if dbm is None:
        return NOT_KNOWN
    return f"{fixed(dbm, 1)} dBm" if current_reader().power_unit == WATT else watts(dbm)


@register.filter
def power_figure(dbm: float | None) -> str:
    """A transmitter's power as a bare figure, for a column that has :func:`power_unit` at its head.

    In watts three significant figures and no prefix, so that the figures of a column compare.
    """
    if not isinstance(dbm, int | float) or current_reader().power_unit != WATT:
        return fixed(dbm, 1)
    value = 10 ** (dbm / 10) / 1e3
    decimals = max(0, 2 - math.floor(math.log10(value))) if value > 0 else 0
    return fixed(value, decimals)


@register.simple_tag
def power_unit() -> str:
    """The unit in which the reader has the power of transmitters."""
    return current_reader().power_unit


@register.filter
def day(value: dt.date | None) -> str:
    """A day as the reader writes it; of a moment, the day where the reader is. Empty where there is none."""
    return written_day(value) if isinstance(value, dt.date) else ""


@register.filter
def moment(value: dt.datetime | None, exactness: str = "") -> str:
    """A moment where the reader is, with its distance from UTC; ``moment:"seconds"`` to the second."""
    return written_moment(value, seconds=exactness == "seconds") if isinstance(value, dt.datetime) else ""


@register.filter
def size(size_bytes: int) -> str:
    """How large a file is: kB, from a million bytes on MB (SI prefixes)."""
    return (
        f"{fixed(size_bytes / 1e6, 1)} MB" if size_bytes >= 1_000_000 else f"{fixed(size_bytes / 1e3, 1)} kB"
    )


@register.filter
def drawn(label: Any) -> str:
    """A label of a drawing as the reader writes figures: what draws knows no reader and gives figures with a point."""
    return _FIGURE_IN_A_LABEL.sub(lambda figure: _as_read(figure[0]), str(label))


@register.filter
def short(value: Any) -> Any:
    """A figure with the decimals that it has; anything else as it is."""
    return _as_read(f"{value}") if isinstance(value, float | Decimal) else value


@register.filter
def as_written(value: Any) -> Any:
    """A value of a list: days and moments as the reader writes them, a dash for none, anything else as it is."""
    if value is None:
        return NOT_KNOWN
    if isinstance(value, dt.datetime):
        return written_moment(value)
    return written_day(value) if isinstance(value, dt.date) else value


@register.filter
def page(obj: models.Model | None) -> str:
    """The address of an object's page."""
    return page_of(obj)


@register.simple_tag
def page_by_id(label: str, pk: Any) -> str:
    """The address of an object's page by model label and id."""
    return page_of_id(label, pk)


@register.filter
def item(mapping: dict[str, Any], key: str) -> Any:
    """The value of a key."""
    return mapping.get(key, "")
