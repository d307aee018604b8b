"""Which change of a licensed station needs what: the verdict per quantity, and the rules as data.

The thresholds of 47 CFR 1.929(d)(1) stand here as an example of an authority's rules. The five seconds were
read as quoted in FCC DA-08-1187; the other figures are from memory. The licensed figures are invented.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from licences.filing import COMMON_PRACTICE, RuleFormatError, Verdict, gravest, judge_change, read_rules
from licences.limits import Allowance, Transmission

LICENSED = Allowance(
    frequency_hz=6_004_500_000, channel_width_hz=30_000_000, emission_designators=("30M0D7W",), power_limit_dbm=60.0,
    power_kind="eirp", latitude_deg=47.0, longitude_deg=14.0, tolerance_m=30.0, antenna_height_max_agl_m=40.0,
    azimuth_deg=90.0, azimuth_tolerance_deg=0.5, polarisation="V",
)  # fmt: skip
NOW = Transmission(
    frequency_hz=6_004_500_000, channel_width_hz=30_000_000, occupied_bandwidth_hz=28_000_000,
    emission_designator="30M0D7W", modulation="64-QAM", tx_power_dbm=24.0, line_losses_db=2.0, antenna_gain_dbi=38.0,
    latitude_deg=47.0, longitude_deg=14.0, antenna_height_agl_m=40.0, azimuth_deg=90.0, polarisation="V",
)  # fmt: skip
US = read_rules(
    [
        {
            "quantity": quantity,
            "more_than": more,
            "needs": "new_grant",
            "source": f"47 CFR 1.929(d)(1)({clause})",
        }
        for quantity, more, clause in (
            ("position_seconds", 5, "i"),
            ("channel_width", 0, "iii"),
            ("emission", 0, "iv"),
            ("power", 3, "v"),
            ("antenna_height", 3, "vi"),
            ("polarisation", 0, "viii"),
            ("azimuth", 1, "ix"),
            ("frequency", 0, "1.929(a)(6)"),
        )
    ]
)
SECOND = 1 / 3600


def verdicts(rules: Any = (), **changes: Any) -> dict[str, Verdict]:
    return {r.quantity: r.verdict for r in judge_change(NOW, replace(NOW, **changes), LICENSED, rules)}


def test_what_does_not_change_is_not_judged() -> None:
    assert judge_change(NOW, NOW, LICENSED, US) == []


@pytest.mark.parametrize(
    ("changes", "quantity", "expected"),
    [
        ({"tx_power_dbm": 20.0}, "power", Verdict.WITHIN),
        ({"tx_power_dbm": 27.0}, "power", Verdict.NOTICE),
        ({"tx_power_dbm": 27.01}, "power", Verdict.NEW_GRANT),
        ({"latitude_deg": 47.0 + 0.9 * SECOND}, "position", Verdict.WITHIN),
        ({"latitude_deg": 47.0 + 5 * SECOND}, "position", Verdict.NOTICE),
        ({"longitude_deg": 14.0 - 5.1 * SECOND}, "position", Verdict.NEW_GRANT),
        ({"antenna_height_agl_m": 43.0}, "antenna height", Verdict.NOTICE),
        ({"antenna_height_agl_m": 43.1}, "antenna height", Verdict.NEW_GRANT),
        ({"antenna_height_agl_m": 20.0}, "antenna height", Verdict.WITHIN),
        ({"azimuth_deg": 90.4}, "azimuth", Verdict.WITHIN),
        ({"azimuth_deg": 91.0}, "azimuth", Verdict.NOTICE),
        ({"azimuth_deg": 88.9}, "azimuth", Verdict.NEW_GRANT),
        ({"polarisation": "H"}, "polarisation", Verdict.NEW_GRANT),
        ({"frequency_hz": 6_034_150_000}, "frequency", Verdict.NEW_GRANT),
        ({"channel_width_hz": 40_000_000}, "channel width", Verdict.NEW_GRANT),
        ({"channel_width_hz": 10_000_000}, "channel width", Verdict.WITHIN),
        ({"emission_designator": "30M0F9W"}, "emission", Verdict.NEW_GRANT),
    ],
)
def test_the_thresholds_of_47_cfr_1_929(changes: dict[str, Any], quantity: str, expected: Verdict) -> None:
    assert verdicts(US, **changes)[quantity] is expected


def test_the_reason_names_the_rule_and_its_source() -> None:
    (reason,) = judge_change(NOW, replace(NOW, tx_power_dbm=28.0), LICENSED, US)
    assert reason.source == "47 CFR 1.929(d)(1)(v)"
    assert "4.00 dB above the licensed 60.00 dBm" in reason.sentence
    assert "a change of power by more than 3 dB needs a new grant" in reason.sentence


@pytest.mark.parametrize(
    ("changes", "quantity"),
    [
        ({"tx_power_dbm": 24.1}, "power"),
        ({"latitude_deg": 47.001}, "position"),
        ({"antenna_height_agl_m": 40.5}, "antenna height"),
        ({"azimuth_deg": 91.0}, "azimuth"),
        ({"polarisation": "H"}, "polarisation"),
        ({"frequency_hz": 6_004_500_001}, "frequency"),
        ({"channel_width_hz": 30_000_001}, "channel width"),
        ({"emission_designator": "30M0F9W"}, "emission"),
    ],
)
def test_without_rules_what_leaves_the_licence_needs_a_new_grant(
    changes: dict[str, Any], quantity: str
) -> None:
    (reason,) = [
        r for r in judge_change(NOW, replace(NOW, **changes), LICENSED, ()) if r.quantity == quantity
    ]
    assert (reason.verdict, reason.source) == (Verdict.NEW_GRANT, COMMON_PRACTICE)


def test_small_changes_add_up_because_they_are_measured_from_the_licence() -> None:
    """47 CFR 1.929(d)(1)(x): what exceeds a threshold together is major (from memory)."""
    first = replace(NOW, antenna_height_agl_m=42.0)
    second = replace(first, antenna_height_agl_m=44.0)
    assert judge_change(NOW, first, LICENSED, US)[0].verdict is Verdict.NOTICE
    assert judge_change(first, second, LICENSED, US)[0].verdict is Verdict.NEW_GRANT


def test_where_the_licence_states_nothing_the_change_is_measured_from_what_stood() -> None:
    free = replace(LICENSED, antenna_height_max_agl_m=None)
    assert judge_change(NOW, replace(NOW, antenna_height_agl_m=43.0), free, US)[0].verdict is Verdict.WITHIN
    assert (
        judge_change(NOW, replace(NOW, antenna_height_agl_m=43.5), free, US)[0].verdict is Verdict.NEW_GRANT
    )


def test_what_cannot_be_judged_is_not_within() -> None:
    unstated = replace(LICENSED, power_limit_dbm=None)
    (reason,) = judge_change(NOW, replace(NOW, tx_power_dbm=25.0), unstated, ())
    assert reason.verdict is Verdict.UNCLEAR
    assert gravest([Verdict.WITHIN, reason.verdict]) is Verdict.UNCLEAR
    assert gravest([]) is Verdict.WITHIN


def test_another_licensed_channel_makes_everything_a_change() -> None:
    reasons = judge_change(NOW, NOW, LICENSED, (), other_channel=True)
    assert len(reasons) == 10
    assert gravest(r.verdict for r in reasons) is Verdict.WITHIN


@pytest.mark.parametrize(
    ("rules", "said"),
    [
        ("power", "A list of at most 50 rules"),
        ([{"quantity": "power"}], "quantity, more_than, needs and source were expected"),
        ([{"quantity": "colour", "needs": "notice"}], "is about 'colour'; expected one of frequency"),
        ([{"quantity": "power", "needs": "prayer"}], "expected notice or new_grant"),
        ([{"quantity": "power", "needs": "notice", "more_than": -1}], "a number from 0 up"),
        ([{"quantity": "power", "needs": "notice", "more_than": True}], "a number from 0 up"),
        ([{"quantity": ["power"], "needs": "notice"}], "expected one of"),
        ([{"quantity": "power", "needs": "notice", "more_than": "3"}], "a number from 0 up"),
    ],
)
def test_a_rule_that_cannot_be_read_says_what_was_expected(rules: Any, said: str) -> None:
    with pytest.raises(RuleFormatError, match=said):
        read_rules(rules)
