"""The verdict on a change, with the reasons per quantity and where each comes from."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from licences.areas import geodesic_distance_m
from licences.limits import Allowance, LimitResult, Transmission, compare
from sites.sentences import sentence
from sites.words import gettext
from sites.words import gettext_noop as _

from .rules import QUANTITIES, FilingRule, Needs

COMMON_PRACTICE: Final = _("common practice, no published source")
_CHANNEL: Final = _("the licensed channel")


class Verdict(StrEnum):
    """From light to grave. UNCLEAR: something is missing, so nobody can say."""

    WITHIN = "within"
    UNCLEAR = "unclear"
    NOTICE = "notice"
    NEW_GRANT = "new_grant"

    @property
    def words(self) -> str:
        return gettext(_WORDS[self])


_WORDS = {
    Verdict.WITHIN: _("stays within the licence"),
    Verdict.UNCLEAR: _("cannot be judged from what the register knows"),
    Verdict.NOTICE: _("needs a notice to the authority"),
    Verdict.NEW_GRANT: _("needs a new grant before it is made"),
}
_GRAVITY = list(Verdict)


def gravest(verdicts: Iterable[Verdict]) -> Verdict:
    """The gravest of some verdicts; of none: within."""
    return max(verdicts, key=_GRAVITY.index, default=Verdict.WITHIN)


@dataclass(frozen=True)
class Reason:
    """Why: the quantity in words, what it needs, a sentence, and the rule's source."""

    quantity: str
    verdict: Verdict
    sentence: str
    source: str


def judge_change(
    before: Transmission | None,
    after: Transmission,
    allowance: Allowance,
    rules: Sequence[FilingRule],
    *,
    other_channel: bool = False,
) -> list[Reason]:
    """What each changed quantity of a station needs; an empty list where nothing licensed changes.

    Parameters
    ----------
    before, after : what the station does now (None: it is new) and is to do
    allowance : the licensed channel that is to cover it
    rules : the authority's
    other_channel : whether the station relied on another licensed channel before; then all counts as changed

    Source
    ------
    The limits: :mod:`licences.limits`. The thresholds: each rule's own source. Without a rule:
    common practice, no published source.

    Examples
    --------
    >>> licensed = Allowance(frequency_hz=410_000_000, channel_width_hz=12_500, power_limit_dbm=40.0)
    >>> now = Transmission(frequency_hz=410_000_000, channel_width_hz=12_500, tx_power_dbm=30.0,
    ...                    line_losses_db=0.0, antenna_gain_dbi=8.0)
    >>> from dataclasses import replace
    >>> [(r.quantity, r.verdict.value) for r in judge_change(now, replace(now, tx_power_dbm=33.0), licensed, ())]
    [('power', 'new_grant')]
    """
    reasons = []
    for result in compare(after, allowance):
        fresh = before is None or other_channel
        if not fresh and not _changed(result.kind, before, after):
            continue
        theirs = [rule for rule in rules if rule.quantity.removesuffix("_seconds") == result.kind]
        reasons.append(_reason(result, None if fresh else before, after, allowance, theirs))
    return reasons


_FIELDS: Final[dict[str, tuple[str, ...]]] = {
    "frequency": ("frequency_hz",),
    "channel_width": ("channel_width_hz",),
    "occupied_bandwidth": ("occupied_bandwidth_hz",),
    "emission": ("emission_designator",),
    "modulation": ("modulation",),
    "power": ("tx_power_dbm", "line_losses_db", "antenna_gain_dbi"),
    "position": ("latitude_deg", "longitude_deg"),
    "antenna_height": ("antenna_height_agl_m",),
    "azimuth": ("azimuth_deg",),
    "polarisation": ("polarisation",),
}


def _changed(kind: str, before: Transmission | None, after: Transmission) -> bool:
    return any(getattr(before, name) != getattr(after, name) for name in _FIELDS[kind])


def _reason(
    result: LimitResult,
    before: Transmission | None,
    after: Transmission,
    allowed: Allowance,
    rules: Sequence[FilingRule],
) -> Reason:
    name = QUANTITIES[result.kind][0]
    met: list[FilingRule] = []
    for rule in rules:
        size = _size(rule.quantity, result, before, after, allowed)
        if size is not None and size > rule.more_than + _ROUNDING:
            met.append(rule)
    if met:
        rule = max(met, key=lambda one: one.needs is Needs.NEW_GRANT)
        verdict = Verdict.NEW_GRANT if rule.needs is Needs.NEW_GRANT else Verdict.NOTICE
        said = sentence(
            _("{verdict} By the authority's rule {rule}."), verdict=result.sentence, rule=rule.words
        )
        return Reason(name, verdict, said, rule.source or _("the authority's rules in the register"))
    if result.within is None:
        return Reason(name, Verdict.UNCLEAR, result.sentence, _CHANNEL)
    if result.within:
        return Reason(name, Verdict.WITHIN, result.sentence, _CHANNEL)
    if rules:
        said = sentence(
            _("{verdict} That is less than the authority's threshold for a new grant: tell the authority."),
            verdict=result.sentence,
        )
        return Reason(name, Verdict.NOTICE, said, rules[0].source or COMMON_PRACTICE)
    return Reason(name, Verdict.NEW_GRANT, result.sentence, COMMON_PRACTICE)


_ROUNDING: Final = 1e-9  # of differences of decimal figures


def _size(
    quantity: str, result: LimitResult, before: Transmission | None, after: Transmission, allowed: Allowance
) -> float | None:
    """How far the change goes from what is licensed, or from what stood where nothing is; None: not known."""
    then = before or _NOTHING
    if quantity.startswith("position"):
        return _moved(quantity, result, after, allowed)
    if quantity == "power" and result.margin is not None:
        return -result.margin
    licensed, stood, now, unit = {
        "frequency": (allowed.frequency_hz, None, after.frequency_hz, 1e3),
        "channel_width": (allowed.channel_width_hz, None, after.channel_width_hz, 1e3),
        "occupied_bandwidth": (
            allowed.occupied_bandwidth_hz,
            then.occupied_bandwidth_hz,
            after.occupied_bandwidth_hz,
            1e3,
        ),
        "power": (None, _eirp(then), _eirp(after), 1.0),
        "antenna_height": (
            allowed.antenna_height_max_agl_m,
            then.antenna_height_agl_m,
            after.antenna_height_agl_m,
            1.0,
        ),
        "azimuth": (allowed.azimuth_deg, then.azimuth_deg, after.azimuth_deg, 1.0),
    }.get(quantity, (None, None, None, 0.0))
    if unit == 0.0:  # the same or not
        return None if result.within is None else math.inf if result.within is False else 0.0
    known = licensed if licensed is not None else stood
    if known is None or now is None:
        return None
    more = (now - known) / unit
    if quantity == "frequency":
        return abs(more)
    return abs((more + 180.0) % 360.0 - 180.0) if quantity == "azimuth" else more


_NOTHING: Final = Transmission(frequency_hz=0, channel_width_hz=0)


def _eirp(sent: Transmission) -> float | None:
    power, losses, gain = sent.tx_power_dbm, sent.line_losses_db, sent.antenna_gain_dbi
    return None if power is None or losses is None or gain is None else power - losses + gain


def _moved(quantity: str, result: LimitResult, after: Transmission, allowed: Allowance) -> float | None:
    if after.latitude_deg is None or after.longitude_deg is None:
        return None
    if allowed.area is not None:
        outside_m = max(0.0, -(result.margin or 0.0))
        return outside_m if quantity == "position" else None
    if allowed.latitude_deg is None or allowed.longitude_deg is None:
        return None
    if quantity == "position_seconds":
        north = abs(after.latitude_deg - allowed.latitude_deg)
        east = abs((after.longitude_deg - allowed.longitude_deg + 180.0) % 360.0 - 180.0)
        return max(north, east) * 3600.0
    return float(
        geodesic_distance_m(
            after.latitude_deg, after.longitude_deg, allowed.latitude_deg, allowed.longitude_deg
        )
    )
