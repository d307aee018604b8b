"""Diffraction over the smooth earth against values of two open implementations of P.452-18 and P.1812-8."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectrum.radio.propagation.smooth_earth import (
    effective_radius_km,
    line_of_sight_distance_km,
    spherical_diffraction_loss_db,
)
from spectrum.radio.ranges import RadioRangeError
from tests.reference_tables import outside_table
from tests.spectrum.radio.propagation.columns import column


@pytest.mark.reference
@pytest.mark.parametrize(
    ("name", "vertical", "sea"),
    [
        ("Py452_land_H", False, 0.0),
        ("Py452_land_V", True, 0.0),
        ("Py1812_land_H", False, 0.0),
        ("Py1812_land_V", True, 0.0),
        ("Py452_sea_H", False, 1.0),
        ("Py452_sea_V", True, 1.0),
    ],
)
def test_p526_smooth_earth_table(name, vertical, sea):
    rows = outside_table("p526_smooth_earth.csv")
    loss = spherical_diffraction_loss_db(
        column(rows, "f_MHz"),
        column(rows, "d_km"),
        column(rows, "h1_m"),
        column(rows, "h2_m"),
        8500.0,
        vertical,
        sea,
    )
    # The table's wavelength is 0.2998/f, ours c/f: 0.0002 dB. It prints four decimals.
    assert np.abs(loss - column(rows, name)).max() < 3e-4


@pytest.mark.reference
def test_line_of_sight_distance_of_the_same_table():
    rows = outside_table("p526_smooth_earth.csv")
    distance = line_of_sight_distance_km(column(rows, "h1_m"), column(rows, "h2_m"))
    assert np.abs(distance - column(rows, "dlos_km")).max() < 5.1e-4


def test_single_published_values():
    # Open implementations of P.452-18 and P.1812-8 agree on these: 150 MHz, 40 km, 30/30 m, land, k = 4/3.
    assert spherical_diffraction_loss_db(150.0, 40.0, 30.0, 30.0, vertical=False) == pytest.approx(
        22.923, abs=1e-3
    )
    assert spherical_diffraction_loss_db(150.0, 40.0, 30.0, 30.0, vertical=True) == pytest.approx(
        22.935, abs=1e-3
    )
    assert spherical_diffraction_loss_db(410.0, 20.0, 30.0, 30.0, vertical=False) == pytest.approx(
        5.037, abs=1e-3
    )


def test_effective_radius_of_a_published_path():
    # P.1812-8 validation rows: ΔN = 45 gives 8930.776786 km.
    assert effective_radius_km(45.0) == pytest.approx(8930.776786, abs=1e-5)


heights = st.floats(1.0, 300.0)
frequencies = st.floats(100.0, 20_000.0)


@settings(derandomize=True, max_examples=100, deadline=None)
@given(frequencies, heights, heights, st.booleans(), st.sampled_from([0.0, 0.4, 1.0]))
def test_loss_never_falls_with_distance(frequency, tx, rx, vertical, sea):
    loss = spherical_diffraction_loss_db(
        frequency, np.linspace(0.2, 250.0, 1500), tx, rx, 8500.0, vertical, sea
    )
    assert np.diff(loss).min() >= -1e-9


def test_below_100_mhz_over_sea_the_published_formula_dips_at_the_horizon():
    # 30 MHz, 1 m antennas, vertical, sea: the first term is below zero just beyond 8.246 km.
    loss = spherical_diffraction_loss_db(30.0, [8.2, 8.3], 1.0, 1.0, 8500.0, True, 1.0)
    assert loss[0] == 0.0
    assert -3.0 < loss[1] < 0.0


@settings(derandomize=True, max_examples=100, deadline=None)
@given(frequencies, st.floats(0.2, 300.0), heights, heights, st.booleans())
def test_loss_is_the_same_both_ways(frequency, distance, tx, rx, vertical):
    there = spherical_diffraction_loss_db(frequency, distance, tx, rx, vertical=vertical)
    back = spherical_diffraction_loss_db(frequency, distance, rx, tx, vertical=vertical)
    assert there == pytest.approx(back, abs=1e-9)


def test_an_antenna_on_the_ground_has_a_loss():
    loss = spherical_diffraction_loss_db(150.0, [4.0, 40.0], [3.0, 0.0], 0.0)
    assert np.isfinite(loss).all()
    near = spherical_diffraction_loss_db(150.0, 4.0, 3.0, 1e-9)
    assert loss[0] == pytest.approx(near, abs=0.01)


@pytest.mark.parametrize("position", range(5))
def test_unknown_in_unknown_out(position):
    values = [150.0, 40.0, 30.0, 20.0, 8500.0]
    values[position] = np.array([np.nan, values[position]])
    loss = spherical_diffraction_loss_db(*values)
    assert np.isnan(loss).tolist() == [True, False]


def test_a_negative_height_is_refused_by_name():
    with pytest.raises(RadioRangeError, match=r"height_rx_m is -1; it must lie between 0"):
        spherical_diffraction_loss_db(150.0, 40.0, 30.0, -1.0)


@pytest.mark.parametrize(("vertical", "sea"), [([True, False], 0.0), (True, [0.0, 0.0]), (False, [1.0, 1.0])])
def test_any_argument_may_be_the_array(vertical, sea):
    assert spherical_diffraction_loss_db(410.0, 40.0, 30.0, 20.0, 8500.0, vertical, sea).shape == (2,)
