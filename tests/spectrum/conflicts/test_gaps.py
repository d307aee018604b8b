"""What cannot be judged is a finding of its own, and never stops the others."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from spectrum.conflicts import antenna_gain
from spectrum.conflicts.antenna_gain import gain_dbi, pattern_gap
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.gaps import gap_findings
from spectrum.conflicts.network import AntennaRecord, Network
from spectrum.conflicts.run import run_checks
from tests.spectrum.conflicts.made import DISH, TODAY, WHIP, YAGI, link, station


def found(**changes: object) -> list[tuple[str, list[str]]]:
    network = Network(as_of=TODAY, stations=[station(link(1), "A", **changes)])
    drafts = gap_findings(network)
    assert all(d.kind == "not_computed" and d.severity == "decide" and d.evidence == [] for d in drafts)
    return [(d.parties.station_label, d.not_judged) for d in drafts]


def test_a_station_whose_facts_are_complete_has_no_gap() -> None:
    assert found(antenna=WHIP) == []
    assert found(antenna=YAGI, azimuth_deg=10.0) == []


def test_a_directional_antenna_without_azimuth() -> None:
    ((label, sentences),) = found(antenna=YAGI)
    assert label == "A"
    assert sentences == ["L-001/A has no azimuth: the full gain is taken in every direction."]


def test_a_pattern_outside_its_range_names_the_range() -> None:
    """ITU-R F.1336-5 holds from 400 MHz; F.699 below 1 GHz needs D/λ above 0.63."""
    ((_, sentences),) = found(tx_frequency_hz=160_000_000, rx_frequency_hz=None)
    assert "160; it must lie between 400 and 70000" in sentences[0]
    small = replace(DISH, diameter_m=0.4, gain_dbi=10.0)
    ((_, sentences),) = found(antenna=small, azimuth_deg=0.0, rx_frequency_hz=None)
    assert small.name in sentences[0]


@pytest.mark.parametrize("frequency_hz", [72_000_000, 71_000_000_000])
def test_a_frequency_that_the_path_loss_does_not_cover(frequency_hz: int) -> None:
    """ITU-R P.452-18 holds from about 0.1 to 50 GHz."""
    yagi = replace(YAGI, frequency_min_mhz=1.0, frequency_max_mhz=100_000.0)
    ((_, sentences),) = found(
        antenna=yagi, azimuth_deg=0.0, tx_frequency_hz=frequency_hz, rx_frequency_hz=frequency_hz
    )
    assert ["P.452 holds from 100 to 50000 MHz" in s for s in sentences] == [True]


def test_a_tilt_beyond_the_pattern_is_said_and_the_full_gain_taken() -> None:
    """The pattern of F.1336-5 tilted by more than 45° is not used; 45° is our own limit."""
    assert found(antenna=WHIP, tilt_deg=-45.0) == []
    ((_, sentences),) = found(antenna=WHIP, tilt_deg=-60.0)
    assert len(sentences) == 1
    assert "its tilt below the horizon in degrees is 60; it must lie between −45 and 45" in sentences[0]
    level, beside = np.zeros(3), np.array([-60.0, 0.0, 60.0])
    gain = gain_dbi(WHIP, level, np.array([-60.0, 0.0, 0.0]), level, beside, level + 450.0)
    assert gain[0] == WHIP.gain_dbi  # out of range: the worst case
    assert gain[1] == pytest.approx(WHIP.gain_dbi)
    assert gain[2] < WHIP.gain_dbi - 5.0  # and the others keep their pattern


def test_an_unknown_ground_height() -> None:
    ((_, sentences),) = found(ground_height_m=None)
    assert "no ground height" in sentences[0]


def test_other_parties_stations_are_not_ours_to_mend() -> None:
    network = Network(as_of=TODAY, stations=[station(link(1, own=False), "A", antenna=YAGI)])
    assert gap_findings(network) == []


@pytest.mark.parametrize("frequency_hz", [72_000_000, 71_000_000_000])
def test_pairs_outside_p452_are_computed_by_free_space_and_found(frequency_hz: int) -> None:
    same = {"tx_frequency_hz": frequency_hz, "rx_frequency_hz": frequency_hz, "antenna": WHIP}
    network = Network(
        as_of=TODAY,
        stations=[
            station(link(1), "A", **same),
            station(link(2), "A", latitude_deg=47.02, **same),
        ],
    )
    drafts = run_checks(network, Criteria()).drafts
    found = [d for d in drafts if d.kind == "co_channel"]
    assert {d.parties.link_id for d in found} == {1, 2}
    assert any("free space" in sentence for sentence in found[0].not_judged)


def test_where_a_pattern_holds_does_not_depend_on_what_was_asked_before() -> None:
    """Two frequencies at which it holds stand for all between; each answer is that of the pattern itself."""
    rng = np.random.default_rng(3)
    antennas = [
        AntennaRecord("Dish", "f699", 36.0, 0.01, 50_000.0, 30.0, diameter_m=1.2),
        AntennaRecord("Small dish", "f699", 12.0, 0.01, 50_000.0, 30.0, diameter_m=0.25),
        AntennaRecord("Too little gain", "f699", 20.0, 0.01, 50_000.0, 30.0, diameter_m=1.2),
        AntennaRecord("Average", "f1245", 36.0, 0.01, 50_000.0, 30.0, diameter_m=1.2),
        AntennaRecord("Sector", "f1336_sector", 15.0, 0.01, 50_000.0, 20.0, beamwidth_deg=65.0),
        AntennaRecord("Whip", "f1336_omni", 6.0, 0.01, 50_000.0, 10.0),
    ]
    answers = set()
    for record in antennas:
        for frequency in np.exp(rng.uniform(np.log(50.0), np.log(90_000.0), 200)).tolist():
            tilt = float(rng.choice([0.0, -3.0, 60.0]))
            said = pattern_gap(record, frequency, tilt)
            assert said == antenna_gain._gap(record, frequency, tilt)
            answers.add(said == "")
    assert answers == {True, False}
