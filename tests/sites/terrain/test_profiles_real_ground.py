"""Profiles over a real 3 arc second grid, against an independent interpolation."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator

from sites.geodesy import inverse, points_along
from sites.terrain import TerrainStore
from tests.sites.terrain.rasters import (
    JACKSBORO_EAST,
    JACKSBORO_NORTH,
    JACKSBORO_SOUTH,
    JACKSBORO_WEST,
    write_jacksboro,
)

LATITUDES = st.floats(36.17, 36.43)
LONGITUDES = st.floats(-84.40, -84.09)


@pytest.fixture(scope="module")
def ground(tmp_path_factory):
    folder = tmp_path_factory.mktemp("terrain")
    elevation, step = write_jacksboro(folder)
    rows, columns = elevation.shape
    latitudes = JACKSBORO_NORTH - (np.arange(rows) + 0.5) * step
    longitudes = JACKSBORO_WEST + (np.arange(columns) + 0.5) * step
    outside = RegularGridInterpolator((latitudes[::-1], longitudes), elevation[::-1].astype(float))
    return TerrainStore(folder), outside, elevation


def random_paths(count: int, seed: int = 1) -> np.ndarray:
    random = np.random.default_rng(seed)
    low = [36.17, -84.40, 36.17, -84.40]
    return random.uniform(low, [36.43, -84.09, 36.43, -84.09], (count, 4))


def test_the_grid_is_where_it_is_said_to_be(ground):
    store, _, _ = ground
    (tile,) = store.tiles
    box = (JACKSBORO_WEST, JACKSBORO_SOUTH, JACKSBORO_EAST, JACKSBORO_NORTH)
    assert tile.bounds_deg == pytest.approx(box, abs=1e-4)
    assert tile.resolution_m == pytest.approx(92.6, abs=0.5)


def test_heights_agree_with_scipy_at_every_point_of_a_hundred_paths(ground):
    store, outside, _ = ground
    paths = random_paths(100)
    profiles = store.profiles(paths, n_points=150)
    latitude, longitude, along = points_along(paths[:, 0], paths[:, 1], paths[:, 2], paths[:, 3], 150)
    expected = outside(np.stack([latitude, longitude], axis=-1))
    # Heights are held as 32-bit numbers; the points differ by the direction they are counted from.
    np.testing.assert_allclose(profiles.height_m, expected, rtol=0.0, atol=1e-3)
    np.testing.assert_allclose(profiles.distance_m, along, rtol=0.0, atol=1e-6)
    assert profiles.is_complete.all()
    assert (profiles.missing_fraction == 0.0).all() and (profiles.void_fraction == 0.0).all()


def test_a_point_on_a_post_has_the_height_of_the_post(ground):
    store, outside, elevation = ground
    latitudes, longitudes = outside.grid
    heights = store.sample(latitudes[[10, 200]], longitudes[[20, 300]]).values
    expected = elevation[::-1][[10, 200], [20, 300]]
    np.testing.assert_allclose(heights, expected, rtol=0.0, atol=1e-3)


def test_a_step_gives_equal_spacing_no_longer_than_the_step(ground):
    store, _, _ = ground
    paths = random_paths(20)
    profiles = store.profiles(paths, step_m=90.0)
    length, _, _ = inverse(*paths.T)
    np.testing.assert_allclose(profiles.length_m, length, rtol=0.0, atol=1e-6)
    assert (profiles.spacing_m <= 90.0).all() and (profiles.spacing_m > 80.0).all()
    for i, profile in enumerate(profiles[i] for i in range(len(profiles))):
        assert len(profile.distance_m) == len(profile.height_m) == profiles.n_points[i]
        assert np.isfinite(profile.height_m).all() and profile.is_complete
        assert profile.distance_m[0] == 0.0
        assert profile.distance_m[-1] == pytest.approx(length[i])
        assert np.isnan(profiles.height_m[i, profiles.n_points[i] :]).all()


@given(LATITUDES, LONGITUDES, LATITUDES, LONGITUDES, st.integers(2, 60))
@settings(max_examples=60, derandomize=True, deadline=None)
def test_a_profile_reversed_is_the_profile_of_the_swapped_ends(ground, lat_a, lon_a, lat_b, lon_b, n_points):
    store, _, _ = ground
    both = store.profiles([[lat_a, lon_a, lat_b, lon_b], [lat_b, lon_b, lat_a, lon_a]], n_points=n_points)
    np.testing.assert_array_equal(both.height_m[0], both.height_m[1][::-1])
    np.testing.assert_array_equal(both.distance_m[0], both.distance_m[1])
    # Not only because one is remembered for the other: each end is itself.
    ends = store.sample([lat_a, lat_b], [lon_a, lon_b]).values
    np.testing.assert_allclose(both.height_m[0][[0, -1]], ends, rtol=0.0, atol=1e-3)


def test_heights_lie_between_the_lowest_and_the_highest_post(ground):
    store, _, elevation = ground
    heights = store.profiles(random_paths(200), n_points=100).height_m
    assert elevation.min() <= heights.min() and heights.max() <= elevation.max()


def test_many_paths_in_one_call_beat_one_call_per_path(ground):
    """A ratio, so that it holds on any machine; both read finished blocks and remember no profiles."""
    store, _, _ = ground
    fresh = TerrainStore(store.folder, profile_cache_mb=0.0)
    paths = random_paths(1000)
    fresh.profiles(paths[:2], n_points=200)
    at = time.perf_counter()
    batch = fresh.profiles(paths, n_points=200)
    batch_s = time.perf_counter() - at
    at = time.perf_counter()
    one_by_one = [fresh.profiles(path + 1e-9, n_points=200) for path in paths[:200]]
    loop_s = (time.perf_counter() - at) * 5.0
    np.testing.assert_allclose(one_by_one[7].height_m[0], batch.height_m[7], rtol=0.0, atol=0.01)
    assert loop_s > 2.0 * batch_s, f"batch {batch_s:.3f} s, one at a time {loop_s:.3f} s"


def test_a_remembered_profile_comes_back_much_faster_and_equal(ground):
    store, _, _ = ground
    fresh = TerrainStore(store.folder)
    paths = random_paths(1000, seed=2)
    at = time.perf_counter()
    first = fresh.profiles(paths, n_points=200)
    first_s = time.perf_counter() - at
    at = time.perf_counter()
    again = fresh.profiles(paths[:, [2, 3, 0, 1]], n_points=200)
    again_s = time.perf_counter() - at
    np.testing.assert_array_equal(again.height_m, first.height_m[:, ::-1])
    assert again_s < 0.5 * first_s, f"first {first_s:.3f} s, again {again_s:.3f} s"
