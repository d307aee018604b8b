"""An authority's rules on which change needs what, as data."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

from sites.refusals import RefusalError
from sites.sentences import sentence
from sites.words import gettext, gettext_noop

#: Quantity → its name in words and the unit of its threshold; an empty unit: it is the same or it is not.
QUANTITIES: Final[dict[str, tuple[str, str]]] = {
    "frequency": (gettext_noop("frequency"), "kHz"),
    "channel_width": (gettext_noop("channel width"), "kHz"),
    "occupied_bandwidth": (gettext_noop("occupied bandwidth"), "kHz"),
    "emission": (gettext_noop("emission"), ""),
    "modulation": (gettext_noop("modulation"), ""),
    "power": (gettext_noop("power"), "dB"),
    "position": (gettext_noop("position"), "m"),
    "position_seconds": (gettext_noop("position"), gettext_noop("″ of latitude or longitude")),
    "antenna_height": (gettext_noop("antenna height"), "m"),
    "azimuth": (gettext_noop("azimuth"), "°"),
    "polarisation": (gettext_noop("polarisation"), ""),
}
_KEYS: Final = {"quantity", "more_than", "needs", "source"}
MOST_RULES: Final = 50


class Needs(StrEnum):
    """What an authority can ask for."""

    NOTICE = "notice"
    NEW_GRANT = "new_grant"


@dataclass(frozen=True)
class FilingRule:
    """A change of ``quantity`` by more than ``more_than`` (in the quantity's unit) needs ``needs``."""

    quantity: str
    more_than: float
    needs: Needs
    source: str

    @property
    def words(self) -> str:
        name, unit = QUANTITIES[self.quantity]
        notice, much = self.needs is Needs.NOTICE, bool(unit and self.more_than)
        if notice and much:
            pattern = gettext("a change of {quantity} by more than {amount} {unit} needs a notice")
        elif notice:
            pattern = gettext("a change of {quantity} needs a notice")
        elif much:
            pattern = gettext("a change of {quantity} by more than {amount} {unit} needs a new grant")
        else:
            pattern = gettext("a change of {quantity} needs a new grant")
        return pattern.format(
            quantity=gettext(name), amount=f"{self.more_than:g}", unit=gettext(unit) if unit else ""
        )


class RuleFormatError(RefusalError):
    """A rule that cannot be read; the sentence says which, what was given and what was expected."""


def read_rules(stored: Any) -> tuple[FilingRule, ...]:
    """The rules of a policy from their stored form, a list of objects.

    >>> read_rules([{"quantity": "power", "more_than": 3, "needs": "new_grant", "source": "invented"}])[0].words
    'a change of power by more than 3 dB needs a new grant'
    """
    if not isinstance(stored, list) or len(stored) > MOST_RULES:
        raise RuleFormatError(
            sentence(
                gettext_noop("A list of at most {most_rules} rules was expected."), most_rules=MOST_RULES
            )
        )
    return tuple(_rule(number, one) for number, one in enumerate(stored, start=1))


def _rule(number: int, one: Any) -> FilingRule:
    if not isinstance(one, dict) or set(one) - _KEYS or not {"quantity", "needs"} <= set(one):
        raise RuleFormatError(
            sentence(
                gettext_noop(
                    "Rule {number} is {one}; quantity, more_than, needs and source were expected, for "
                    'example {{"quantity": "power", "more_than": 3, "needs": "new_grant", "source": "§ 4"}}.'
                ),
                number=number,
                one=str(one)[:80],
            )
        )
    quantity, more_than = one["quantity"], one.get("more_than", 0)
    if quantity not in list(QUANTITIES):
        raise RuleFormatError(
            sentence(
                gettext_noop("Rule {number} is about {quantity}; expected one of {quantities}."),
                number=number,
                quantity=repr(str(quantity)[:40]),
                quantities=", ".join(QUANTITIES),
            )
        )
    if one["needs"] not in [each.value for each in Needs]:
        raise RuleFormatError(
            sentence(
                gettext_noop("Rule {number} needs {needs}; expected notice or new_grant."),
                number=number,
                needs=repr(str(one["needs"])[:40]),
            )
        )
    if isinstance(more_than, bool) or not isinstance(more_than, int | float) or not 0 <= more_than < math.inf:
        raise RuleFormatError(
            sentence(
                gettext_noop("Rule {number} has the threshold {more_than}; a number from 0 up was expected."),
                number=number,
                more_than=repr(str(more_than)[:40]),
            )
        )
    source = one.get("source", "")
    if not isinstance(source, str) or len(source) > 200:
        raise RuleFormatError(
            sentence(
                gettext_noop("Rule {number}: the source is a text of at most 200 characters."), number=number
            )
        )
    return FilingRule(quantity, float(more_than), Needs(one["needs"]), source)
