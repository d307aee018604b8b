"""Measured and plain patterns, polarisation, and the choice among patterns."""

from __future__ import annotations

import math

import numpy as np
import pytest

from spectrum.radio.antennas import f699, f1336
from spectrum.radio.antennas.cross_polar import POLARISATIONS, cross_polar_loss_db
from spectrum.radio.antennas.gain import ANTENNA_KINDS, Antenna, antenna_gain_dbi, gain_towards_dbi
from spectrum.radio.antennas.measured import Cut, PatternError, measured_gain_dbi
from spectrum.radio.antennas.simple import cosine_gain_dbi, dipole_gain_dbi
from spectrum.radio.ranges import RadioRangeError

HALF = Cut((0, 30, 60, 90, 180), (0, -3, -12, -20, -25))
EXAMPLES = {
    "f699": Antenna("f699", 19.96, diameter_m=3),
    "f1245": Antenna("f1245", 37, diameter_m=1.2),
    "f1336_omni": Antenna("f1336_omni", 8),
    "f1336_sector": Antenna("f1336_sector", 15, beamwidth_deg=65),
    "measured": Antenna("measured", 12, horizontal=HALF, vertical=HALF),
    "dipole": Antenna("dipole", 2.15),
    "cosine": Antenna("cosine", 10, beamwidth_deg=60, front_to_back_db=18),
    "constant": Antenna("constant", 8),
}
FREQUENCY_MHZ = dict.fromkeys(EXAMPLES, 450.0) | {"f1245": 7500.0}


def test_a_half_table_reads_the_same_on_both_sides() -> None:
    angle = np.linspace(0, 180, 91)
    assert HALF.level_at_db(angle) == pytest.approx(HALF.level_at_db(-angle))
    assert HALF.level_at_db(angle) == pytest.approx(HALF.level_at_db(360 - angle))


@pytest.mark.parametrize(
    "cut",
    [
        Cut((0, 90, 180, 270), (0, -10, -20, -16)),
        Cut((0, 90, 180, 270, 360), (0, -10, -20, -16, 0)),
        Cut((-180, -90, 0, 90, 180), (-20, -16, 0, -10, -20)),
        Cut((-90, 0, 90, 180), (-16, 0, -10, -20)),
    ],
)
def test_a_whole_table_with_gaps_too_wide_reads_only_its_points(cut: Cut) -> None:
    assert cut.level_at_db([0, 90, 180, 270, -90, 450]) == pytest.approx([0, -10, -20, -16, -16, -10])
    assert np.isnan(cut.level_at_db([45, 300])).all()


def test_a_whole_table_is_read_across_north() -> None:
    angle = np.arange(0, 360, 20)
    cut = Cut(tuple(angle), tuple(-angle / 20.0))
    assert cut.level_at_db([340, 350, -5, 355, 10, 720]) == pytest.approx([-17, -8.5, -4.25, -4.25, -0.5, 0])
    assert cut.level_at_db(angle) == pytest.approx(-angle / 20.0)


def test_what_a_table_does_not_cover_is_not_known() -> None:
    front = Cut((-60, -30, 0, 30, 60), (-20, -3, 0, -3, -20))
    assert np.isnan(front.level_at_db([61, 180, -61, np.nan])).all()
    assert front.level_at_db([-60, 330, 60]) == pytest.approx([-20, -3, -20])
    assert np.isnan(Cut((0, 90), (0, -30)).level_at_db(100))


@pytest.mark.parametrize(
    ("angles", "levels", "sentence"),
    [
        ((0,), (0,), "at least two"),
        ((0, 1), (0,), "one level for each angle"),
        ((0, 10, 10), (0, -1, -2), "ascending order"),
        ((0, 10), (0, 1), "not above 0 dB"),
        ((0, 10), (0, math.nan), "not above 0 dB"),
        ((0, math.inf), (0, -1), "give degrees"),
        ((-10, 351), (0, -1), "more than 360"),
    ],
)
def test_a_table_that_is_no_cut_is_refused_with_a_sentence(
    angles: tuple[float, ...], levels: tuple[float, ...], sentence: str
) -> None:
    with pytest.raises(PatternError, match=sentence):
        Cut(angles, levels)


def test_measured_cuts_add_or_turn_around_the_axis() -> None:
    both = measured_gain_dbi(30, 60, 12, HALF, HALF)
    assert float(both) == pytest.approx(12 - 3 - 12)
    around = measured_gain_dbi(0, 60, 12, HALF, None)
    assert float(around) == pytest.approx(12 - 12)
    omni = measured_gain_dbi([0, 120, np.nan], 30, 6, None, HALF)
    assert omni == pytest.approx([3, 3, np.nan], nan_ok=True)
    with pytest.raises(ValueError, match="at least one"):
        measured_gain_dbi(0, 0, 6, None, None)


def test_a_half_wave_dipole_has_its_textbook_beamwidth_of_78_degrees() -> None:
    assert float(dipole_gain_dbi(0)) == pytest.approx(2.15)
    assert float(dipole_gain_dbi(78.078 / 2)) == pytest.approx(2.15 - 10 * math.log10(2), abs=0.001)
    assert dipole_gain_dbi([90, -90, np.nan]) == pytest.approx([-27.85, -27.85, np.nan], nan_ok=True)


def test_a_cosine_pattern_is_half_at_half_its_beamwidth_and_never_below_its_back() -> None:
    for beamwidth in (20, 60, 120):
        gain = float(cosine_gain_dbi(beamwidth / 2, 10, beamwidth, 18))
        assert gain == pytest.approx(10 - 10 * math.log10(2))
    assert cosine_gain_dbi(np.linspace(90, 180, 10), 10, 60, 18) == pytest.approx(np.full(10, -8.0))
    assert np.all(np.diff(cosine_gain_dbi(np.linspace(0, 180, 361), 10, 60, 18)) <= 0)


@pytest.mark.parametrize("kind", ANTENNA_KINDS)
def test_every_kind_has_its_greatest_gain_where_it_points(kind: str) -> None:
    antenna, frequency = EXAMPLES[kind], FREQUENCY_MHZ[kind]
    azimuth, elevation = np.meshgrid(np.linspace(-180, 180, 37), np.linspace(-90, 90, 19))
    gain = gain_towards_dbi(antenna, 0, 0, azimuth, elevation, frequency)
    assert gain.shape == azimuth.shape
    assert np.all(gain <= antenna.max_gain_dbi + 1e-9)
    assert float(gain_towards_dbi(antenna, 40, -3, 40, -3, frequency)) == pytest.approx(
        float(dipole_gain_dbi(-3)) if kind == "dipole" else antenna.max_gain_dbi, abs=1e-6
    )


@pytest.mark.parametrize("kind", ANTENNA_KINDS)
def test_every_kind_carries_nan_of_what_it_needs(kind: str) -> None:
    antenna, frequency = EXAMPLES[kind], FREQUENCY_MHZ[kind]
    assert np.isnan(antenna_gain_dbi(antenna, 0, [np.nan, 0], [frequency, np.nan])).all()
    unknown_bearing = float(gain_towards_dbi(antenna, np.nan, 0, 40, 0, frequency))
    omnidirectional = kind in ("f1336_omni", "dipole")
    assert math.isnan(unknown_bearing) is not omnidirectional
    assert np.ndim(gain_towards_dbi(antenna, 0, 0, 40, 0, frequency)) == 0


def test_pointing_is_turned_and_tilted_before_the_pattern_is_read() -> None:
    dish = EXAMPLES["f699"]
    seen = gain_towards_dbi(dish, 350, 2, [10, 350], [2, -8], 410)
    assert seen == pytest.approx(f699.gain_dbi([19.988, 10], 410, 3, 19.96), abs=0.001)
    sector = EXAMPLES["f1336_sector"]
    assert float(gain_towards_dbi(sector, 90, -4, 90, 1, 450)) == pytest.approx(
        float(f1336.sector_gain_dbi(0, 5, 15, 65))
    )


def test_the_tilt_of_an_omnidirectional_antenna_is_the_same_all_round() -> None:
    omni = EXAMPLES["f1336_omni"]
    gain = gain_towards_dbi(omni, 0, -5, np.linspace(0, 350, 36), -5, 450)
    assert gain == pytest.approx(np.full(36, 8.0))
    assert float(gain_towards_dbi(omni, 0, -5, 0, 5, 450)) < 7


@pytest.mark.parametrize("a", POLARISATIONS)
@pytest.mark.parametrize("b", POLARISATIONS)
def test_polarisation_loss_does_not_depend_on_the_order(a: str, b: str) -> None:
    loss = float(cross_polar_loss_db(a, b, 20, 30))
    assert loss == float(cross_polar_loss_db(b, a, 30, 20))
    crossed = {frozenset(pair) for pair in (("H", "V"), ("+45", "-45"), ("RHC", "LHC"))}
    if a == b:
        assert loss == 0
    elif {a, b} in crossed:
        assert loss == pytest.approx(-10 * math.log10(1e-2 + 1e-3))
    else:
        assert loss == pytest.approx(3.0103, abs=1e-4)


def test_the_weaker_discrimination_governs_and_the_loss_is_never_negative() -> None:
    assert float(cross_polar_loss_db("H", "V", 15, 60)) == pytest.approx(15, abs=0.001)
    assert float(cross_polar_loss_db("H", "V", 0, 0)) == 0
    loss = cross_polar_loss_db(["H", "H", "H"], ["V", "H", "+45"], np.nan, 30)
    assert loss == pytest.approx([np.nan, 0, 3.0103], abs=1e-4, nan_ok=True)


def test_refusals_name_what_was_expected() -> None:
    with pytest.raises(ValueError, match="kind is 'horn'; it must be one of f699"):
        Antenna("horn", 10)
    with pytest.raises(ValueError, match="needs front_to_back_db"):
        Antenna("cosine", 10, beamwidth_deg=60)
    with pytest.raises(ValueError, match="needs a cut"):
        Antenna("measured", 10)
    with pytest.raises(ValueError, match="polarisation_b is 'X'; it must be one of H, V"):
        cross_polar_loss_db("H", "X", 20, 20)
    with pytest.raises(RadioRangeError, match="xpd_a_db is -1"):
        cross_polar_loss_db("H", "V", -1, 20)
    with pytest.raises(RadioRangeError, match="frequency_mhz is 150; it must lie between 400"):
        gain_towards_dbi(EXAMPLES["f1336_omni"], 0, 0, 0, 0, 150)
    with pytest.raises(RadioRangeError, match="elevation_deg is 95"):
        dipole_gain_dbi(95)
