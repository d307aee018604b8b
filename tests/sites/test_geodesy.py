"""Lengths, azimuths and points on the ellipsoid against published lines."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st

from sites.geodesy import GeodesyError, destination, ecef, inverse, points_along
from tests.reference_tables import outside_table, project_table

ONE_MILLIMETRE_M = 1e-3
A_HUNDREDTH_ARCSEC_DEG = 0.01 / 3600.0
ELLIPSOIDS = {"6378137.0": {"298.257222101": "GRS80", "298.257223563": "WGS84"}}
VINCENTY_ELLIPSOIDS = {"Bessel": "bessel", "International": "intl"}

latitudes = st.floats(-89.9, 89.9)
longitudes = st.floats(-180.0, 180.0)


def same_angle(a_deg: npt.ArrayLike, b_deg: npt.ArrayLike, tolerance_deg: float) -> bool:
    return abs((float(np.subtract(a_deg, b_deg)) + 180.0) % 360.0 - 180.0) <= tolerance_deg


def degrees(dms: str) -> float:
    d, m, s = (float(part) for part in dms.split())
    return d + m / 60.0 + s / 3600.0


def test_vincenty_1975_table_ii_lines_a_to_e():
    """Vincenty (1975) Table II; the published values are from memory and were verified (see the table)."""
    rows = project_table("geodesy_vincenty_1975_lines.csv")
    assert len(rows) == 5
    for row in rows:
        ellipsoid = VINCENTY_ELLIPSOIDS[row["ellipsoid"]]
        lat2, lon2, back = destination(
            float(row["lat1"]), 0.0, float(row["azi1"]), float(row["s12_m"]), ellipsoid=ellipsoid
        )
        assert same_angle(lat2, float(row["lat2"]), A_HUNDREDTH_ARCSEC_DEG), row["line"]
        assert same_angle(lon2, float(row["dlon"]), A_HUNDREDTH_ARCSEC_DEG), row["line"]
        assert same_angle(back + 180.0, float(row["azi2"]), A_HUNDREDTH_ARCSEC_DEG), row["line"]
        # The printed ends carry 1e-5 arc seconds (0.3 mm) of rounding each.
        distance, azimuth_ab, azimuth_ba = inverse(
            float(row["lat1"]), 0.0, float(row["glib_lat2"]), float(row["glib_lon2"]), ellipsoid=ellipsoid
        )
        assert abs(distance - float(row["s12_m"])) <= ONE_MILLIMETRE_M, row["line"]
        # Lines d and e are nearly antipodal: 1e-11 degrees in the point moves the azimuth by far more.
        if row["line"] in "abc":
            assert same_angle(azimuth_ab, float(row["azi1"]), A_HUNDREDTH_ARCSEC_DEG)
            assert same_angle(azimuth_ba + 180.0, float(row["azi2"]), A_HUNDREDTH_ARCSEC_DEG)


def test_inverse_lines_of_geographiclib_and_gda_technical_manual():
    """geographiclib 2.1; Flinders Peak–Buninyong as published (GDA Technical Manual, from memory)."""
    rows = project_table("geodesy_inverse_lines.csv")
    assert len(rows) == 14
    for row in rows:
        ellipsoid = ELLIPSOIDS[row["a_m"]][row["rf"]]
        ends = [float(row[name]) for name in ("lat1", "lon1", "lat2", "lon2")]
        distance, azimuth_ab, azimuth_ba = inverse(*ends, ellipsoid=ellipsoid)
        assert abs(distance - float(row["glib_s12_m"])) <= ONE_MILLIMETRE_M, row["name"]
        if row["name"] == "coincident":
            assert distance == 0.0
            assert np.isnan(azimuth_ab) and np.isnan(azimuth_ba)
            continue
        assert same_angle(azimuth_ab, float(row["glib_azi12"]), A_HUNDREDTH_ARCSEC_DEG), row["name"]
        assert same_angle(azimuth_ba, float(row["glib_azi21"]), A_HUNDREDTH_ARCSEC_DEG), row["name"]
        if row["published_s12_m"]:
            assert abs(distance - float(row["published_s12_m"])) <= ONE_MILLIMETRE_M
            assert same_angle(azimuth_ab, degrees(row["published_azi12"]), A_HUNDREDTH_ARCSEC_DEG)
            assert same_angle(azimuth_ba, degrees(row["published_azi21"]), A_HUNDREDTH_ARCSEC_DEG)


@pytest.mark.reference
def test_geodtest_lines_of_geographiclib():
    """20 lines of the GeodTest set, geographiclib-python test suite (MIT)."""
    rows = outside_table("geodesy_geodtest_wgs84.csv")
    assert len(rows) == 20
    value = {name: np.array([float(row[name]) for row in rows]) for name in rows[0]}
    distance, azimuth_ab, azimuth_ba = inverse(value["lat1"], value["lon1"], value["lat2"], value["lon2"])
    np.testing.assert_allclose(distance, value["s12"], rtol=0.0, atol=ONE_MILLIMETRE_M)
    for i in range(len(rows)):
        assert same_angle(azimuth_ab[i], value["azi1"][i], A_HUNDREDTH_ARCSEC_DEG)
        assert same_angle(azimuth_ba[i] + 180.0, value["azi2"][i], A_HUNDREDTH_ARCSEC_DEG)


def test_epsg_geocentric_check_point():
    """EPSG Guidance Note 7-2, geographic 3D to geocentric (value from memory, reproduced by pyproj)."""
    (row,) = [
        row for row in project_table("geodesy_datum_projection.csv") if "->geocentric WGS84" in row["what"]
    ]
    published = [float(part) for part in row["published"].split()]
    vector = ecef(53.0 + 48.0 / 60.0 + 33.820 / 3600.0, 2.0 + 7.0 / 60.0 + 46.380 / 3600.0, 73.0)
    np.testing.assert_allclose(vector, published, rtol=0.0, atol=ONE_MILLIMETRE_M)


@given(latitudes, longitudes, latitudes, longitudes)
@settings(max_examples=60, derandomize=True, deadline=None)
def test_inverse_agrees_with_geographiclib_on_any_line(lat_a, lon_a, lat_b, lon_b):
    outside = Geodesic.WGS84.Inverse(lat_a, lon_a, lat_b, lon_b)
    distance, azimuth_ab, azimuth_ba = inverse(lat_a, lon_a, lat_b, lon_b)
    assert abs(distance - outside["s12"]) <= ONE_MILLIMETRE_M
    if 1.0 < distance < 1.9e7:
        assert same_angle(azimuth_ab, outside["azi1"], A_HUNDREDTH_ARCSEC_DEG)
        assert same_angle(azimuth_ba, outside["azi2"] + 180.0, A_HUNDREDTH_ARCSEC_DEG)


@given(latitudes, longitudes, st.floats(0.0, 359.9), st.floats(1.0, 5e6))
@settings(max_examples=60, derandomize=True, deadline=None)
def test_going_there_and_asking_back_gives_the_same_line(lat, lon, azimuth, distance):
    lat_b, lon_b, back = destination(lat, lon, azimuth, distance)
    distance_back, azimuth_ba, azimuth_ab = inverse(lat_b, lon_b, lat, lon)
    assert abs(distance_back - distance) <= ONE_MILLIMETRE_M
    tolerance = max(A_HUNDREDTH_ARCSEC_DEG, np.degrees(1e-6 / distance))
    assert same_angle(back, azimuth_ba, tolerance)
    assert same_angle(azimuth, azimuth_ab, tolerance)


@given(latitudes, longitudes, latitudes, longitudes)
@settings(max_examples=60, derandomize=True, deadline=None)
def test_a_chord_is_never_longer_than_the_geodesic(lat_a, lon_a, lat_b, lon_b):
    chord = np.linalg.norm(ecef(lat_a, lon_a) - ecef(lat_b, lon_b))
    distance, _, _ = inverse(lat_a, lon_a, lat_b, lon_b)
    assert chord <= distance + 1e-8


def test_points_along_start_at_a_end_at_b_and_are_equally_spaced():
    lat, lon, along = points_along([50.0, -37.9], [24.0, 179.9], [50.4, -38.1], [24.7, -179.8], 11)
    assert lat.shape == lon.shape == along.shape == (2, 11)
    np.testing.assert_allclose(lat[:, 0], [50.0, -37.9], rtol=0.0, atol=1e-9)
    np.testing.assert_allclose(lat[:, -1], [50.4, -38.1], rtol=0.0, atol=1e-9)
    np.testing.assert_allclose(lon[:, -1], [24.7, -179.8], rtol=0.0, atol=1e-9)
    steps, _, _ = inverse(lat[:, :-1], lon[:, :-1], lat[:, 1:], lon[:, 1:])
    np.testing.assert_allclose(steps, np.diff(along, axis=1), rtol=0.0, atol=ONE_MILLIMETRE_M)


def test_points_along_a_path_of_no_length_stay_where_it_is():
    lat, lon, along = points_along(50.0, 24.0, 50.0, 24.0, 4)
    np.testing.assert_allclose(lat, 50.0, rtol=0.0, atol=1e-12)
    np.testing.assert_allclose(lon, 24.0, rtol=0.0, atol=1e-12)
    np.testing.assert_array_equal(along, 0.0)


@pytest.mark.parametrize("wrap", [float, np.float64, lambda x: np.array(x), lambda x: np.array([x, np.nan])])
def test_scalar_array_and_nan_give_the_same_shape_back(wrap):
    shape = np.shape(wrap(50.0))
    distance, azimuth_ab, azimuth_ba = inverse(wrap(50.0), 24.0, 51.0, 24.0)
    lat_b, lon_b, back = destination(wrap(50.0), 24.0, 0.0, 1000.0)
    lat, _, _ = points_along(wrap(50.0), 24.0, 51.0, 24.0, 5)
    for result in (distance, azimuth_ab, azimuth_ba, lat_b, lon_b, back):
        assert np.shape(result) == shape
    assert lat.shape == (*shape, 5)
    assert ecef(wrap(50.0), 24.0).shape == (*shape, 3)
    if shape == (2,):
        for result in (distance, azimuth_ab, azimuth_ba, lat_b, lon_b, back):
            assert np.isfinite(result[0]) and np.isnan(result[1])
        assert np.isnan(lat[1]).all() and np.isfinite(lat[0]).all()


def test_due_north_is_0_and_never_360():
    _, azimuth_ab, azimuth_ba = inverse(10.0, 20.0, 11.0, 20.0 - 1e-15)
    assert 0.0 <= azimuth_ab < 360.0
    assert azimuth_ba == pytest.approx(180.0)


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: inverse(90.5, 0.0, 0.0, 0.0), "latitude_a_deg is 90.5"),
        (lambda: inverse(0.0, 0.0, [0.0, -91.0], 0.0), "latitude_b_deg is -91"),
        (lambda: inverse(0.0, 361.0, 0.0, 0.0), "longitude_a_deg is 361"),
        (lambda: destination(0.0, 0.0, 0.0, -5.0), "distance_m is -5"),
        (lambda: points_along(0.0, 0.0, 1.0, 0.0, 1), "n_points is 1"),
        (lambda: ecef(0.0, 0.0, ellipsoid="pancake"), "ellipsoid is 'pancake'"),
    ],
)
def test_an_argument_out_of_range_is_named_with_its_value(call, argument):
    with pytest.raises(GeodesyError, match=argument):
        call()
