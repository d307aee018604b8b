"""Figures as they stand on every page: the same decimals for the same quantity, a true minus sign."""

from __future__ import annotations

from typing import Any

from django import template
from django.db import models

from sites.views.addresses import page_of, page_of_id

register = template.Library()
NOT_KNOWN = "–"


def fixed(value: Any, decimals: int) -> str:
    """A number with fixed decimals and a true minus sign; a dash where the register does not know it."""
    if value is None or value == "":
        return NOT_KNOWN
    if isinstance(value, str):
        return value
    text = f"{value:.{decimals}f}"
    return text.replace("-", "−") if float(text) else text.removeprefix("-")


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
def five(value: Any) -> str:
    """Five decimals: degrees of a position, which is about a metre."""
    return fixed(value, 5)


@register.filter
def watts(dbm: float | None) -> str:
    """A power in dBm as watts, three significant figures."""
    if dbm is None:
        return NOT_KNOWN
    value = 10 ** (dbm / 10) / 1e3
    if value < 1:
        return f"{value * 1e3:.3g} mW"
    return f"{value:.3g} W" if value < 1000 else f"{value / 1e3:.3g} kW"


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
