"""Duplex isolation: needed and found, against a published and a computed table."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from spectrum.conflicts.criteria import BandCriterion, Criteria
from spectrum.conflicts.site_checks import Equipment
from tests.spectrum.conflicts.site_checks.made import at_one_site, judged, of_kind, value

STRICT = Criteria(bands=(BandCriterion(name="I/N −10 dB", i_over_n_limit_db=-10.0),))
#: −140 dBc/Hz at the duplex spacing and a blocking level of −23 dBm: assumed inputs of the worked case.
RADIO = Equipment(
    duplexer_isolation_db=75.0, transmitter_noise_dbc_per_hz=-140.0, blocking_level_dbm=-23.0,
    third_order_intercept_dbm=0.0,
)  # fmt: skip


def found(equipment: Equipment, criteria: Criteria = STRICT, **changes: object):
    (draft,) = of_kind(
        judged([at_one_site(1, 410.0, 420.0, **changes)], equipment, criteria), "duplex_isolation"
    )
    return draft


@pytest.mark.parametrize(
    ("watts", "limit_db", "needed_db"),
    [(25.0, -10.0, 80.954), (10.0, -10.0, 76.975), (25.0, -6.0, 76.954)],
)
def test_the_worked_cases_of_the_isolation_budget(watts: float, limit_db: float, needed_db: float) -> None:
    """Worked by hand from kTB: 25 W, −140 dBc/Hz, 12.5 kHz, noise figure 7 dB (computed, inputs assumed)."""
    criteria = Criteria(bands=(BandCriterion(i_over_n_limit_db=limit_db),))
    draft = found(RADIO, criteria, tx_power_dbm=10.0 * math.log10(watts * 1e3))
    assert value(draft, "Isolation needed against transmitter noise") == pytest.approx(needed_db, abs=0.002)
    assert draft.margin == pytest.approx(75.0 - needed_db, abs=0.002)
    assert draft.severity == "must_fix"
    assert "never power into an open port" in draft.cure


def test_blocking_decides_where_it_needs_more() -> None:
    quiet = replace(RADIO, transmitter_noise_dbc_per_hz=-170.0, duplexer_isolation_db=50.0)
    draft = found(quiet, tx_power_dbm=40.0)
    # 40 dBm against −23 dBm
    assert value(draft, "Isolation needed against blocking") == pytest.approx(63.0)
    assert draft.margin == pytest.approx(-13.0)
    assert "against blocking" in draft.headline


def test_enough_isolation_is_no_finding() -> None:
    station = at_one_site(1, 410.0, 420.0)
    assert judged([station], replace(RADIO, duplexer_isolation_db=90.0), STRICT) == []


def test_close_to_the_limit_a_person_decides() -> None:
    draft = found(replace(RADIO, duplexer_isolation_db=82.0), tx_power_dbm=43.979)
    assert (draft.severity, draft.cure) == ("decide", "")
    assert draft.margin == pytest.approx(82.0 - 80.954, abs=0.002)


def test_separate_antennas_one_above_the_other_are_cut_off_at_70_db() -> None:
    """28 + 40 log d/λ gives 73.44 dB for 10 m at 410 MHz; it holds up to 70 dB (a manufacturer's page)."""
    draft = found(replace(RADIO, duplexer_isolation_db=None, spacing_vertical_m=10.0), tx_power_dbm=43.979)
    assert value(draft, "Isolation of the antennas, estimate") == pytest.approx(70.0)
    assert draft.margin == pytest.approx(70.0 - 80.954, abs=0.002)
    said = " ".join(draft.not_judged)
    assert "outside the formula's range" in said
    assert "16 dB less than the formula" in said
    assert "estimate" in said


def test_an_estimate_within_its_spread_is_not_a_must_fix() -> None:
    """8.20 m give 70 dB by the formula, 1.95 dB less than what 3.2 W need: within the spread of 10 dB."""
    vertical = replace(RADIO, duplexer_isolation_db=None, spacing_vertical_m=8.2)
    assert found(vertical, tx_power_dbm=35.0).severity == "decide"
    assert found(vertical, tx_power_dbm=44.0).severity == "must_fix"


def test_filters_and_spacing_in_series_add_up() -> None:
    """Side by side, 30 m at 410 MHz: 54.26 dB between isotropic antennas, less 2 × 6 dBi (worked table)."""
    both = replace(RADIO, duplexer_isolation_db=30.0, spacing_m=30.0)
    draft = found(both, tx_power_dbm=43.979)
    assert value(draft, "Isolation of the antennas, estimate") == pytest.approx(54.26 - 12.0, abs=0.01)
    assert value(draft, "Isolation found") == pytest.approx(84.26 - 12.0, abs=0.01)


def test_nothing_entered_is_a_note_that_says_what_is_needed_and_missing() -> None:
    draft = found(replace(RADIO, duplexer_isolation_db=None), tx_power_dbm=43.979)
    assert (draft.severity, draft.margin) == ("note", None)
    assert "needs 81.0 dB" in draft.headline
    assert "neither a duplexer isolation nor a spacing" in draft.not_judged[0]


def test_a_radio_type_without_figures_says_which() -> None:
    draft = found(Equipment(duplexer_isolation_db=80.0))
    assert draft.severity == "note"
    assert [s.split(" has ")[1].split(":")[0] for s in draft.not_judged] == [
        "no transmitter noise",
        "no blocking level",
    ]


@pytest.mark.parametrize(
    "changes",
    [
        {"tx_mhz": 410.0, "rx_mhz": None},
        {"tx_mhz": None, "rx_mhz": 410.0},
        {"tx_mhz": 410.0, "rx_mhz": 410.0},
    ],
)
def test_who_does_not_do_both_at_once_needs_none(changes: dict[str, float | None]) -> None:
    assert judged([at_one_site(1, changes["tx_mhz"], changes["rx_mhz"])], Equipment()) == []


def test_other_parties_stations_are_not_ours_to_isolate() -> None:
    assert judged([at_one_site(1, 410.0, 420.0, link={"own": False})], Equipment()) == []
