"""Folders of tiles: seams, voids, missing tiles, files that cannot be used."""

from __future__ import annotations

import os
import threading

import numpy as np
import pytest
import rasterio
from pyproj import Transformer

from sites.terrain import TerrainError, TerrainStore, shared_store
from sites.terrain import rasters as rasters_module
from sites.terrain.tiles import cell_name
from tests.sites.terrain.rasters import write_tiff

STEP = 0.01


def plane(latitude, longitude):
    """Heights that bilinear interpolation gives back exactly."""
    return 100.0 + 300.0 * (np.asarray(latitude) - 50.0) + 200.0 * (np.asarray(longitude) - 24.0)


def write_plane(folder, name, west, north, columns, rows, step=STEP, **options):
    longitude = west + (np.arange(columns) + 0.5) * step
    latitude = north - (np.arange(rows) + 0.5) * step
    values = plane(latitude[:, None], longitude[None, :]).astype(np.float32)
    return write_tiff(folder / f"{name}.tif", values, west, north, step, **options), values


@pytest.fixture
def four_tiles(tmp_path):
    """Four abutting tiles around 50 N 24 E, half a degree each, no overlap."""
    for name, west, north in (
        ("nw", 23.5, 50.5),
        ("ne", 24.0, 50.5),
        ("sw", 23.5, 50.0),
        ("se", 24.0, 50.0),
    ):
        write_plane(tmp_path, name, west, north, 50, 50)
    return tmp_path


def random_points(count, west, south, east, north):
    random = np.random.default_rng(3)
    return random.uniform(south, north, count), random.uniform(west, east, count)


def test_no_seam_shows_between_tiles_that_share_one_raster(four_tiles):
    latitude, longitude = random_points(2000, 23.98, 49.98, 24.02, 50.02)
    samples = TerrainStore(four_tiles).sample(latitude, longitude)
    np.testing.assert_allclose(samples.values, plane(latitude, longitude), rtol=0.0, atol=1e-3)


def test_no_seam_shows_between_the_blocks_of_a_big_tile(four_tiles, monkeypatch):
    monkeypatch.setattr(rasters_module, "BLOCK_PIXELS", 16)
    latitude, longitude = random_points(5000, 23.51, 49.51, 24.49, 50.49)
    store = TerrainStore(four_tiles)
    samples = store.sample(latitude, longitude)
    np.testing.assert_allclose(samples.values, plane(latitude, longitude), rtol=0.0, atol=1e-3)


def test_a_block_is_read_once_however_often_it_is_asked_for(four_tiles, monkeypatch):
    opened = []
    real_open = rasterio.open

    def counted(path, *args, **kwargs):
        opened.append(str(path))
        return real_open(path, *args, **kwargs)

    monkeypatch.setattr(rasterio, "open", counted)
    store = TerrainStore(four_tiles, profile_cache_mb=0.0)
    assert len(opened) == 4
    paths = [[50.1, 24.1, 50.3, 24.4]]
    store.profiles(paths, n_points=50)
    after_first = len(opened)
    for _ in range(3):
        store.profiles(paths, n_points=50)
        store.profiles([[50.2, 24.2, 50.15, 24.3]], n_points=50)
    assert len(opened) == after_first


def test_a_missing_tile_is_named_and_its_heights_are_not_zero(four_tiles):
    (four_tiles / "se.tif").unlink()
    profiles = TerrainStore(four_tiles).profiles(
        [[50.25, 24.25, 49.75, 24.25], [50.25, 24.25, 50.25, 23.75], [10.5, -3.5, 10.6, -3.4]], n_points=101
    )
    assert profiles.missing_tiles == (("N49E024",), (), ("N10W004",))
    assert profiles.missing_fraction[0] == pytest.approx(0.5, abs=0.02)
    assert list(profiles.missing_fraction[1:]) == [0.0, 1.0]
    assert list(profiles.void_fraction) == [0.0, 0.0, 0.0]
    assert list(profiles.is_complete) == [False, True, False]
    known = np.isfinite(profiles.height_m[0])
    assert known[:49].all() and not known[52:].any()
    assert np.isnan(profiles.height_m[2]).all()


def test_a_void_is_reported_apart_from_a_missing_tile(tmp_path):
    values = np.full((100, 100), 500, dtype=np.int16)
    values[40:60, :] = -9999
    write_tiff(tmp_path / "holed.tif", values, 24.0, 51.0, STEP, nodata=-9999)
    profiles = TerrainStore(tmp_path).profiles([[50.05, 24.5, 50.95, 24.5]], n_points=91)
    assert profiles.missing_fraction[0] == 0.0
    assert profiles.void_fraction[0] == pytest.approx(20 / 90, abs=0.03)
    assert profiles.missing_tiles == ((),)
    known = np.isfinite(profiles.height_m[0])
    np.testing.assert_allclose(profiles.height_m[0][known], 500.0, rtol=0.0, atol=1e-9)


def test_the_srtm_void_counts_even_where_the_file_does_not_declare_it(tmp_path):
    values = np.full((100, 100), -32768, dtype=np.int16)
    write_tiff(tmp_path / "undeclared.tif", values, 24.0, 51.0, STEP)
    assert TerrainStore(tmp_path).sample(50.5, 24.5).void.all()


def test_a_void_in_the_finer_tile_is_filled_from_the_coarser_one(tmp_path):
    coarse = np.full((10, 10), 100, dtype=np.int16)
    fine = np.full((100, 100), 200, dtype=np.int16)
    fine[:50] = -9999
    write_tiff(tmp_path / "a_coarse.tif", coarse, 24.0, 51.0, 0.1)
    write_tiff(tmp_path / "b_fine.tif", fine, 24.0, 51.0, STEP, nodata=-9999)
    samples = TerrainStore(tmp_path).sample([50.25, 50.75], [24.5, 24.5])
    np.testing.assert_allclose(samples.values, [200.0, 100.0], rtol=0.0, atol=1e-9)
    assert not samples.void.any()


def test_srtm_hgt_tiles_are_read_with_posts_on_the_degree(tmp_path):
    """SRTM 3 arc second: 1201 × 1201 big-endian 16-bit posts, row 0 north, edges on whole degrees."""
    side = 1201
    for south, west in ((50, 24), (50, 25)):
        latitude = south + 1.0 - np.arange(side) / 1200.0
        longitude = west + np.arange(side) / 1200.0
        heights = np.rint(1000.0 * (latitude[:, None] - 50.0) + 200.0 * (longitude[None, :] - 24.0))
        (tmp_path / f"{cell_name(south, west)}.hgt").write_bytes(heights.astype(">i2").tobytes())
    store = TerrainStore(tmp_path)
    assert [tile.name for tile in store.tiles] == ["N50E024", "N50E025"]
    samples = store.sample([50.0, 50.5, 51.0, 50.25], [24.0, 24.5, 25.0, 25.0])
    np.testing.assert_allclose(samples.values, [0.0, 600.0, 1200.0, 450.0], rtol=0.0, atol=0.01)
    latitude, longitude = random_points(500, 24.95, 50.1, 25.05, 50.9)
    expected = 1000.0 * (latitude - 50.0) + 200.0 * (longitude - 24.0)
    np.testing.assert_allclose(store.sample(latitude, longitude).values, expected, rtol=0.0, atol=1.0)


def test_a_tile_in_a_projected_grid_is_read_through_its_coordinate_system(tmp_path):
    step, west, north = 100.0, 400_000.0, 5_560_000.0
    x = west + (np.arange(300) + 0.5) * step
    y = north - (np.arange(300) + 0.5) * step
    values = (0.01 * (x[None, :] - west) + 0.02 * (north - y[:, None])).astype(np.float32)
    write_tiff(tmp_path / "utm.tif", values, west, north, step, crs="EPSG:32635")
    inside_x, inside_y = 412_345.0, 5_543_210.0
    longitude, latitude = Transformer.from_crs(32635, 4326, always_xy=True).transform(inside_x, inside_y)
    samples = TerrainStore(tmp_path).sample(latitude, longitude)
    expected = 0.01 * (inside_x - west) + 0.02 * (north - inside_y)
    np.testing.assert_allclose(samples.values, expected, rtol=0.0, atol=1e-3)


def test_a_path_may_cross_the_antimeridian(tmp_path):
    for name, west in (("west", 179.0), ("east", -180.0)):
        write_tiff(tmp_path / f"{name}.tif", np.full((100, 100), 7, dtype=np.int16), west, 11.0, STEP)
    profiles = TerrainStore(tmp_path).profiles([[10.2, 179.8, 10.4, -179.8]], n_points=60)
    np.testing.assert_allclose(profiles.height_m[0], 7.0, rtol=0.0, atol=1e-9)


@pytest.mark.parametrize(
    ("options", "reason"),
    [({"crs": None}, "states no coordinate system"), ({"unit": "ft"}, "gives heights in ft")],
)
def test_a_file_that_cannot_be_used_is_named_with_its_reason(tmp_path, options, reason):
    write_plane(tmp_path, "good", 24.0, 51.0, 100, 100)
    write_plane(tmp_path, "odd", 25.0, 51.0, 100, 100, **options)
    store = TerrainStore(tmp_path)
    assert [tile.name for tile in store.tiles] == ["good"]
    assert reason in store.unreadable["odd.tif"]


def test_a_file_that_is_no_raster_is_named(tmp_path):
    (tmp_path / "broken.tif").write_text("not a raster")
    store = TerrainStore(tmp_path)
    assert "cannot be read as a raster" in store.unreadable["broken.tif"]
    assert store.profiles([[50.0, 24.0, 50.1, 24.1]], n_points=5).missing_tiles == (("N50E024",),)


def test_a_tile_that_vanishes_after_indexing_is_an_error_and_not_sea_level(four_tiles):
    store = TerrainStore(four_tiles)
    (four_tiles / "se.tif").unlink()
    with pytest.raises(TerrainError, match="cannot be read any more"):
        store.profiles([[49.6, 24.1, 49.7, 24.2]], n_points=5)


def test_a_folder_that_does_not_exist_is_an_error(tmp_path):
    with pytest.raises(TerrainError, match="does not exist"):
        TerrainStore(tmp_path / "nowhere")


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        ({}, "either step_m or n_points"),
        ({"step_m": 90.0, "n_points": 5}, "either step_m or n_points"),
        ({"step_m": 0.0}, "must be positive"),
        ({"step_m": float("nan")}, "must be positive"),
        ({"n_points": 1}, "2 to 100000"),
        ({"step_m": 0.01}, "2 to 100000"),
    ],
)
def test_a_request_that_makes_no_profile_is_an_error(four_tiles, options, sentence):
    with pytest.raises(TerrainError, match=sentence):
        TerrainStore(four_tiles).profiles([[50.1, 24.1, 50.3, 24.4]], **options)


def test_a_coordinate_that_is_not_a_number_names_its_path(four_tiles):
    with pytest.raises(TerrainError, match="Path 1 "):
        TerrainStore(four_tiles).profiles(
            [[50.0, 24.0, 50.0, 24.0], [50.0, float("nan"), 50.0, 24.0]], n_points=5
        )


def test_no_paths_give_no_profiles(four_tiles):
    assert len(TerrainStore(four_tiles).profiles([], n_points=5)) == 0
    assert len(TerrainStore(four_tiles).profiles([], step_m=50.0)) == 0


def test_a_path_of_no_length_has_two_equal_points(four_tiles):
    profile = TerrainStore(four_tiles).profiles([[50.1, 24.1, 50.1, 24.1]], step_m=90.0)[0]
    assert len(profile.height_m) == 2
    assert profile.height_m[0] == pytest.approx(float(plane(50.1, 24.1)), abs=1e-3)
    assert list(profile.distance_m) == [0.0, 0.0]


def test_the_fingerprint_follows_the_files(four_tiles):
    first = shared_store(four_tiles)
    assert shared_store(four_tiles) is first
    (four_tiles / "se.tif").rename(four_tiles / "renamed.tif")
    assert not first.is_current()
    second = shared_store(four_tiles)
    assert second is not first and second.fingerprint != first.fingerprint
    stat = (four_tiles / "nw.tif").stat()
    os.utime(four_tiles / "nw.tif", ns=(stat.st_atime_ns, stat.st_mtime_ns + 1))
    assert not second.is_current()
    assert second.profiles([[50.1, 24.1, 50.3, 24.4]], n_points=5).source == second.fingerprint


def test_threads_share_one_store(four_tiles):
    store = TerrainStore(four_tiles, cache_mb=0.02)
    random = np.random.default_rng(5)
    paths = random.uniform([49.6, 23.6, 49.6, 23.6], [50.4, 24.4, 50.4, 24.4], (40, 4))
    alone = TerrainStore(four_tiles).profiles(paths, n_points=50).height_m
    results: dict[int, np.ndarray] = {}

    def work(number):
        order = np.random.default_rng(number).permutation(len(paths))
        heights = store.profiles(paths[order], n_points=50).height_m
        results[number] = heights[np.argsort(order)]

    threads = [threading.Thread(target=work, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(results) == 8
    for heights in results.values():
        np.testing.assert_array_equal(heights, alone)
