"""Marks and small drawings, each drawn by one template on every page."""

from __future__ import annotations

import math
from typing import Any

from django import template
from django.utils.translation import gettext

from sites.templatetags.figures import fixed
from spectrum.conflicts.kinds import KINDS
from spectrum.drawings import margin_mark
from spectrum.models import Finding, VariantFinding
from spectrum.wording import unit_in_words

register = template.Library()
_DECIMALS = {"dB": 1, "days": 0, "m": 0, "deg": 1, "MHz": 5, "kHz": 2, "Hz": 0, "km": 2}


@register.inclusion_tag("drawings/mark.html")
def mark(finding: Finding | VariantFinding) -> dict[str, Any]:
    """Must fix, decide, note; the same shape struck through when it was accepted."""
    return {
        "severity": finding.severity,
        "word": finding.get_severity_display(),
        "accepted": getattr(finding, "accepted_at", None),
        "by": getattr(finding, "accepted_by", None),
    }


@register.inclusion_tag("drawings/margin_scale.html")
def margin_scale(finding: Finding | VariantFinding) -> dict[str, Any]:
    """The margin of a radio result on the common scale; other margins as a figure with its unit."""
    in_db = finding.margin is not None and finding.margin_unit == "dB"
    return {
        "mark": margin_mark(finding.margin) if in_db and finding.margin is not None else None,
        "figure": "" if finding.margin is None else in_unit(finding.margin, finding.margin_unit),
    }


@register.inclusion_tag("drawings/margin_scale.html")
def margin_spread(margin_db: float, least_db: float, greatest_db: float) -> dict[str, Any]:
    """A margin in dB on the common scale, with the margins that other assumptions would give as a bar."""
    return {
        "mark": margin_mark(margin_db, spread_db=(least_db, greatest_db)),
        "figure": in_unit(margin_db, "dB"),
    }


@register.filter
def in_unit(value: float, unit: str) -> str:
    """A margin with its unit, in the decimals of that unit."""
    return f"{fixed(value, _DECIMALS.get(unit, 2))} {unit_in_words(unit)}".strip()


@register.filter
def margin(finding: Finding) -> str:
    """A finding's margin with its unit; empty where it has none."""
    return "" if finding.margin is None else in_unit(finding.margin, finding.margin_unit)


@register.filter
def evidence_value(row: dict[str, Any]) -> str:
    """One value of the evidence with enough decimals to add it up by hand."""
    value = row.get("value")
    if isinstance(value, bool) or not isinstance(value, int | float):
        return str(value)
    if row.get("unit") == "km" and abs(value) < 1:  # 0.01 km between antennas of one site: 5 m or 15 m
        return fixed(value, 5)
    decimals = {"dB": 2, "dBm": 2, "dBi": 2, "MHz": 5, "kHz": 3, "km": 2, "m": 1, "deg": 1, "days": 0}
    return fixed(value, decimals.get(str(row.get("unit")), 2))


@register.filter
def angle(value: float) -> str:
    """An angle in degrees; a dash where there is no boresight or no direction."""
    return fixed(None if math.isnan(value) else value, 1)


@register.filter
def kind_title(code: str) -> str:
    """The name of a kind of finding."""
    return gettext(KINDS[code].title) if code in KINDS else code.replace("_", " ")


@register.filter
def kind_explanation(code: str) -> str:
    """What a kind of finding means."""
    return gettext(KINDS[code].explanation) if code in KINDS else ""
