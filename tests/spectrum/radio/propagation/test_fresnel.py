"""Fresnel zones against the table of exact, P.526 and P.530 values; clearance by hand."""

import numpy as np
import pytest

from spectrum.radio.propagation.fresnel import earth_bulge_m, fresnel_clearance, fresnel_radius_m
from spectrum.radio.propagation.profiles import PathProfiles
from tests.reference_tables import project_table
from tests.spectrum.radio.propagation.columns import column


def test_fresnel_radius_table():
    rows = project_table("fresnel_radius.csv")
    radius = fresnel_radius_m(column(rows, "f_MHz"), column(rows, "d1_km"), column(rows, "d2_km"))
    assert np.abs(radius - column(rows, "F1_exact_m")).max() < 5.1e-4
    assert np.abs(radius / column(rows, "F1_P526_m") - 1.0).max() < 0.0047
    assert np.abs(radius / column(rows, "F1_P530_m") - 1.0).max() < 0.0009


def test_zone_number_enters_under_the_root():
    assert np.allclose(
        fresnel_radius_m(410.0, 7.0, 3.0, zone=[1, 4]) / fresnel_radius_m(410.0, 7.0, 3.0), [1, 2]
    )


def test_bulge_is_greatest_at_the_middle():
    d = np.linspace(0.0, 40.0, 41)
    bulge = earth_bulge_m(d, 40.0 - d)
    assert bulge.argmax() == 20
    assert bulge[20] == pytest.approx(40.0**2 / (8.0 * 8500.0) * 1000.0)


def test_clearance_counts_terrain_cover_and_bulge():
    path = PathProfiles([[0.0, 10.0, 20.0]], [[100.0, 120.0, 110.0]], clutter_m=[[0.0, 15.0, 0.0]])
    result = fresnel_clearance(path, 410.0, 60.0, 50.0)
    bulge = 500.0 * 10.0 * 10.0 / 8500.0
    assert result.clearance_m[0, 1] == pytest.approx(160.0 - (120.0 + 15.0 + bulge))
    assert result.least_ratio[0] == pytest.approx(result.clearance_m[0, 1] / 60.465, rel=1e-4)
    assert result.least_ratio_at_km[0] == 10.0


def test_short_rows_and_unknown_terrain():
    distance = [[0.0, 5.0, 10.0, 15.0], [0.0, 6.0, 12.0, np.nan], [0.0, 5.0, 10.0, 15.0]]
    terrain = np.array([[0.0, 30.0, 10.0, 0.0], [5.0, 20.0, 5.0, np.nan], [0.0, np.nan, 10.0, 0.0]])
    result = fresnel_clearance(PathProfiles(distance, terrain), 410.0, 50.0, 50.0)
    alone = fresnel_clearance(PathProfiles([[0.0, 6.0, 12.0]], [[5.0, 20.0, 5.0]]), 410.0, 50.0, 50.0)
    assert result.least_ratio[1] == alone.least_ratio[0]
    assert np.isnan(result.clearance_m[1, 3])
    assert np.isnan(result.least_ratio[2])
    assert np.isnan(result.least_ratio_at_km[2])
