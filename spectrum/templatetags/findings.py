"""What a finding says, in the words of who reads it."""

from __future__ import annotations

from typing import Any

from django import template

from sites import saying
from spectrum import wording
from spectrum.wording import AnyFinding

register = template.Library()


@register.filter
def headline(finding: AnyFinding) -> str:
    """What was found."""
    return wording.headline_of(finding)


@register.filter
def cure(finding: AnyFinding) -> str:
    """What would cure it; empty where nothing is proposed."""
    return wording.cure_of(finding)


@register.filter
def unjudged(finding: AnyFinding) -> list[str]:
    """What could not be computed."""
    return wording.unjudged_of(finding)


@register.filter
def evidence(finding: AnyFinding) -> list[dict[str, Any]]:
    """The arithmetic, row by row."""
    return wording.evidence_of(finding)


@register.filter
def unit_words(unit: str) -> str:
    """A unit; one that is a word, such as days, in the reader's language."""
    return wording.unit_in_words(unit)


@register.filter
def worded(text: str) -> str:
    """A sentence of the engine, or a constant of it that is marked for translation."""
    return saying.said(text)
