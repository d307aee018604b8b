"""Directions in three dimensions, against geometry worked in Cartesian coordinates."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectrum.radio.antennas.pointing import antenna_frame_deg, elevation_deg, off_axis_deg
from spectrum.radio.ranges import RadioRangeError

azimuths = st.floats(-360, 360, allow_nan=False)
elevations = st.floats(-90, 90, allow_nan=False)


def unit(azimuth: float, elevation: float) -> np.ndarray:
    a, e = math.radians(azimuth), math.radians(elevation)
    return np.array([math.cos(e) * math.sin(a), math.cos(e) * math.cos(a), math.sin(e)])


@settings(max_examples=100, derandomize=True, deadline=None)
@given(azimuths, elevations, azimuths, elevations)
def test_off_axis_angle_equals_the_angle_of_two_vectors(a: float, ea: float, b: float, eb: float) -> None:
    u, v = unit(a, ea), unit(b, eb)
    expected = math.degrees(math.atan2(float(np.linalg.norm(np.cross(u, v))), float(u @ v)))
    assert float(off_axis_deg(a, ea, b, eb)) == pytest.approx(expected, abs=1e-9)
    assert float(off_axis_deg(b, eb, a, ea)) == pytest.approx(expected, abs=1e-9)


def test_off_axis_angle_is_exact_for_a_thousandth_of_a_degree() -> None:
    assert float(off_axis_deg(0, 0, 1e-3, 0)) == pytest.approx(1e-3, rel=1e-9)


@settings(max_examples=100, derandomize=True, deadline=None)
@given(azimuths, st.floats(-89, 89), azimuths, st.floats(-89, 89))
def test_the_antenna_frame_keeps_the_angle_off_the_axis(a: float, tilt: float, b: float, e: float) -> None:
    azimuth, elevation = antenna_frame_deg(a, tilt, b, e)
    assert float(off_axis_deg(0, 0, azimuth, elevation)) == pytest.approx(
        float(off_axis_deg(a, tilt, b, e)), abs=1e-9
    )


def test_elevation_over_the_effective_earth_against_cartesian_points() -> None:
    radius = 8500e3
    for distance, low, high in [(30e3, 50, 50), (5e3, 10, 400), (80e3, 900, 20), (0.05e3, 3, 60)]:
        seen_from = np.array([0.0, radius + low])
        seen = (radius + high) * np.array([math.sin(distance / radius), math.cos(distance / radius)])
        line = seen - seen_from
        expected = math.degrees(math.atan2(line[1], line[0]))
        assert float(elevation_deg(distance / 1e3, low, high)) == pytest.approx(expected, abs=1e-7)


def test_the_two_ends_of_a_path_see_each_other_lower_by_the_angle_at_the_centre() -> None:
    there, back = elevation_deg(40, 30, 250), elevation_deg(40, 250, 30)
    assert float(there + back) == pytest.approx(-math.degrees(40 / 8500), abs=1e-9)


def test_one_mast_and_one_point() -> None:
    assert elevation_deg(0, [10, 30, 20], [30, 10, 20]) == pytest.approx([90, -90, 0])


def test_a_flatter_earth_lifts_the_other_station() -> None:
    assert float(elevation_deg(50, 10, 10, 1e9)) == pytest.approx(0, abs=1e-5)
    assert float(elevation_deg(50, 10, 10, 6371)) < float(elevation_deg(50, 10, 10)) < 0


def test_shapes_nan_and_refusals() -> None:
    assert np.ndim(elevation_deg(30, 50, 50)) == np.ndim(off_axis_deg(0, 0, 1, 1)) == 0
    assert np.isnan(elevation_deg([30, np.nan, 30], [50, 50, np.nan], 50)).tolist() == [False, True, True]
    assert np.isnan(off_axis_deg([[0.0], [np.nan]], 0, [1.0, 2.0], 0)).tolist() == [[False] * 2, [True] * 2]
    with pytest.raises(RadioRangeError, match="distance_km is -1"):
        elevation_deg(-1, 0, 0)
    with pytest.raises(RadioRangeError, match="elevation_b_deg is 91"):
        off_axis_deg(0, 0, 0, 91)
