"""Findings in the words of who reads them: what a check wrote in English, worded when it is shown."""

from __future__ import annotations

from typing import Any, Final

from django.utils.translation import gettext

from sites.saying import said_again
from sites.words import gettext_noop
from spectrum.models import Finding, VariantFinding

AnyFinding = Finding | VariantFinding
#: The units that are words of a language.
_UNITS: Final = frozenset((gettext_noop("days"), gettext_noop("degrees")))


def headline_of(finding: AnyFinding) -> str:
    """What was found, in a sentence."""
    return said_again(finding.headline, finding.words.get("headline"))


def cure_of(finding: AnyFinding) -> str:
    """What would cure it; empty where nothing is proposed."""
    return said_again(finding.cure, finding.words.get("cure"))


def unjudged_of(finding: AnyFinding) -> list[str]:
    """What could not be computed, in sentences."""
    kept = finding.words.get("not_judged", {})
    return [said_again(text, kept.get(str(number))) for number, text in enumerate(finding.not_judged)]


def evidence_of(finding: AnyFinding) -> list[dict[str, Any]]:
    """The rows of evidence; ``asked`` is the row as it was stored, by which its formula is found."""
    kept = finding.words.get("evidence", {})
    return [_row(row, kept.get(str(number), {})) for number, row in enumerate(finding.evidence)]


def unit_in_words(unit: str) -> str:
    """A unit; one that is a word in the reader's language."""
    return gettext(unit) if unit in _UNITS else unit


def _row(row: dict[str, Any], words: dict[str, Any]) -> dict[str, Any]:
    value = row["value"]
    return {
        **row,
        "name": said_again(row["name"], words.get("name")),
        "value": said_again(value, words.get("value")) if isinstance(value, str) else value,
        "source": said_again(row["source"], words.get("source")),
        "asked": row,
    }
