"""Distance to the boundary of a licensed area, against geographiclib."""

from __future__ import annotations

from itertools import pairwise

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st

from licences.areas import AreaError, distance_inside_m, geodesic_distance_m


def square(west, south, east, north):
    return {
        "type": "Polygon",
        "coordinates": [[[west, south], [east, south], [east, north], [west, north], [west, south]]],
    }


def nearest_by_brute_force_m(ring, latitude_deg, longitude_deg, points=1000):
    best = float("inf")
    for (lon0, lat0), (lon1, lat1) in pairwise(ring):
        for step in range(points + 1):
            along = step / points
            line = Geodesic.WGS84.Inverse(
                latitude_deg, longitude_deg, lat0 + along * (lat1 - lat0), lon0 + along * (lon1 - lon0)
            )
            best = min(best, line["s12"])
    return best


@settings(max_examples=8, derandomize=True, deadline=None)
@given(st.floats(47.0, 50.0), st.floats(7.0, 10.0))
def test_distance_is_that_to_the_nearest_boundary_point(latitude_deg, longitude_deg):
    area = square(8.0, 48.0, 9.0, 49.0)
    found_m = distance_inside_m(area, latitude_deg, longitude_deg)
    assert (found_m >= 0) == (8.0 <= longitude_deg <= 9.0 and 48.0 <= latitude_deg <= 49.0)
    brute_m = nearest_by_brute_force_m(area["coordinates"][0], latitude_deg, longitude_deg)
    # the brute force sets a point about every 112 m, so that it may lie 56 m along from the nearest
    assert abs(found_m) <= brute_m + 0.01
    assert brute_m**2 <= found_m**2 + 56.0**2 + 1.0


def test_a_point_beside_a_corner_of_a_long_edge():
    """Edges of 10 degrees: nearest piece first, then along it; 10 m from the meridian edge."""
    area = square(0.0, 40.0, 10.0, 50.0)
    away = Geodesic.WGS84.Direct(45.0, 0.0, 90.0, 10.0)
    assert distance_inside_m(area, away["lat2"], away["lon2"]) == pytest.approx(10.0, abs=0.01)
    away = Geodesic.WGS84.Direct(45.0, 0.0, 270.0, 10.0)
    assert distance_inside_m(area, away["lat2"], away["lon2"]) == pytest.approx(-10.0, abs=0.01)


def test_a_hole_is_outside():
    area = square(8.0, 48.0, 9.0, 49.0)
    area["coordinates"].append([[8.4, 48.4], [8.6, 48.4], [8.6, 48.6], [8.4, 48.6], [8.4, 48.4]])
    assert distance_inside_m(area, 48.5, 8.5) < 0
    assert distance_inside_m(area, 48.5, 8.2) > 0


def test_several_polygons_and_features_are_read():
    two = {
        "type": "MultiPolygon",
        "coordinates": [square(8, 48, 9, 49)["coordinates"], square(11, 48, 12, 49)["coordinates"]],
    }
    assert distance_inside_m(two, 48.5, 11.5) > 0
    assert distance_inside_m(two, 48.5, 10.0) < 0
    assert distance_inside_m({"type": "Feature", "properties": {}, "geometry": two}, 48.5, 8.5) > 0


@pytest.mark.parametrize("longitude_deg", [179.9, -179.9, 180.0, -180.0])
def test_a_ring_over_the_180th_meridian(longitude_deg):
    area = square(179.0, -17.0, -179.0, -16.0)
    assert distance_inside_m(area, -16.5, longitude_deg) == pytest.approx(
        Geodesic.WGS84.Inverse(-16.5, 180.0, -16.0, 180.0)["s12"], rel=1e-3
    )
    assert distance_inside_m(area, -16.5, 0.0) < -1e6


@pytest.mark.parametrize(
    ("area", "said"),
    [
        ({"type": "Point", "coordinates": [8, 48]}, "is a Point"),
        ({"type": "Polygon", "coordinates": []}, "expected"),
        ({"type": "Polygon"}, "not GeoJSON that can be read"),
        ({}, "not GeoJSON that can be read"),
        (
            {"type": "Polygon", "coordinates": [[[8, 48], [9, 49], [9, 48], [8, 49], [8, 48]]]},
            "not a valid polygon",
        ),
    ],
)
def test_an_area_that_cannot_be_read_says_why(area, said):
    with pytest.raises(AreaError, match=said):
        distance_inside_m(area, 48.0, 8.0)


def test_geodesic_distance_by_another_library():
    assert geodesic_distance_m(48.0, 11.0, -33.0, 151.0) == pytest.approx(
        Geodesic.WGS84.Inverse(48.0, 11.0, -33.0, 151.0)["s12"], abs=1e-6
    )
