"""What stands on the ground, the curved Earth, and the invented valley."""

from __future__ import annotations

import numpy as np
import pytest
import rasterio

from sites.terrain import LandCover, TerrainError, TerrainStore, earth_bulge_m
from sites.terrain.synthetic import Relief, write_synthetic_terrain
from tests.sites.terrain.rasters import write_tiff

WATER, FOREST, UNLISTED = 1, 2, 9
BOUNDS = (24.0, 50.0, 24.3, 50.2)


@pytest.fixture
def covered(tmp_path):
    """Flat ground; water in the west, forest in the middle, an unlisted class in the east."""
    (tmp_path / "ground").mkdir()
    write_tiff(tmp_path / "ground" / "flat.tif", np.full((100, 100), 300, dtype=np.int16), 24.0, 51.0, 0.01)
    classes = np.full((100, 90), FOREST, dtype=np.uint8)
    classes[:, :30] = WATER
    classes[:, 60:] = UNLISTED
    cover = write_tiff(tmp_path / "cover.tif", classes, 24.0, 51.0, 0.01)
    return tmp_path / "ground", cover


def test_clutter_has_the_height_of_its_class_and_an_unlisted_class_has_none(covered):
    ground, cover = covered
    store = TerrainStore(ground, land_cover=LandCover(cover, {WATER: 0.0, FOREST: 15.0}))
    profiles = store.profiles([[50.5, 24.0, 50.5, 24.99]], n_points=100)
    assert profiles.clutter_height_m is not None
    clutter = profiles.clutter_height_m[0]
    assert list(clutter[[5, 28]]) == [0.0, 0.0]
    assert list(clutter[[33, 57]]) == [15.0, 15.0]
    assert np.isnan(clutter[63:]).all()
    np.testing.assert_allclose(profiles.height_m[0], 300.0, rtol=0.0, atol=1e-9)
    backwards = store.profiles([[50.5, 24.99, 50.5, 24.0]], n_points=100)
    np.testing.assert_array_equal(backwards[0].clutter_height_m, clutter[::-1])


def test_without_land_cover_there_is_no_clutter_array(covered):
    profiles = TerrainStore(covered[0]).profiles([[50.5, 24.1, 50.5, 24.2]], n_points=5)
    assert profiles.clutter_height_m is None and profiles[0].clutter_height_m is None


def test_the_fingerprint_follows_the_class_table(covered):
    ground, cover = covered
    tables = ({WATER: 0.0}, {WATER: 1.0}, {WATER: 0.0, FOREST: 15.0})
    prints = {TerrainStore(ground, land_cover=LandCover(cover, table)).fingerprint for table in tables}
    assert len(prints) == 3


@pytest.mark.parametrize("table", [{}, {WATER: -1.0}, {WATER: float("nan")}])
def test_a_class_table_that_makes_no_sense_is_an_error(covered, table):
    with pytest.raises(TerrainError):
        LandCover(covered[1], table)


def test_the_bulge_is_that_of_a_circle():
    """Against the exact sagitta of a circle with the effective radius."""
    radius_km, length_m = 8500.0, 60_000.0
    distance_m = np.linspace(0.0, length_m, 13)
    half = length_m / 2.0 / (radius_km * 1000.0)
    angle = (distance_m - length_m / 2.0) / (radius_km * 1000.0)
    exact = radius_km * 1000.0 * (np.cos(angle) - np.cos(half))
    bulge = earth_bulge_m(distance_m, length_m, effective_earth_radius_km=radius_km)
    np.testing.assert_allclose(bulge, exact, rtol=1e-4, atol=1e-6)
    assert bulge[0] == bulge[-1] == 0.0
    handbook = 30.0 * 30.0 / (12.75 * radius_km / 6371.0)  # common practice, no published source
    assert bulge[6] == pytest.approx(handbook, rel=1e-3)


def test_the_bulge_of_padding_is_nan_and_of_nonsense_an_error():
    assert np.isnan(earth_bulge_m([1.0, np.nan], 2.0, effective_earth_radius_km=8500.0)[1])
    with pytest.raises(ValueError, match="between 0 and path_length_m"):
        earth_bulge_m(3.0, 2.0, effective_earth_radius_km=8500.0)
    with pytest.raises(ValueError, match="must be positive"):
        earth_bulge_m(1.0, 2.0, effective_earth_radius_km=0.0)


def test_the_valley_is_the_same_for_the_same_seed_and_another_for_another(tmp_path):
    first = write_synthetic_terrain(tmp_path / "a", BOUNDS, 7, tile_deg=0.15)
    again = write_synthetic_terrain(tmp_path / "b", BOUNDS, 7, tile_deg=0.15)
    other = write_synthetic_terrain(tmp_path / "c", BOUNDS, 8, tile_deg=0.15)
    assert [path.name for path in first] == [path.name for path in again] and len(first) == 4
    assert all(a.read_bytes() == b.read_bytes() for a, b in zip(first, again, strict=True))
    assert any(a.read_bytes() != c.read_bytes() for a, c in zip(first, other, strict=True))


def test_how_the_valley_is_cut_into_tiles_does_not_change_its_heights(tmp_path):
    write_synthetic_terrain(tmp_path / "one", BOUNDS, 7, tile_deg=1.0)
    write_synthetic_terrain(tmp_path / "many", BOUNDS, 7, tile_deg=0.04)
    random = np.random.default_rng(0)
    paths = random.uniform([50.01, 24.01, 50.01, 24.01], [50.19, 24.29, 50.19, 24.29], (50, 4))
    one = TerrainStore(tmp_path / "one").profiles(paths, n_points=100)
    many = TerrainStore(tmp_path / "many").profiles(paths, n_points=100)
    assert one.is_complete.all() and many.is_complete.all()
    np.testing.assert_allclose(many.height_m, one.height_m, rtol=0.0, atol=1e-3)


def test_the_valley_has_a_low_floor_and_high_ridges(tmp_path):
    (path,) = write_synthetic_terrain(tmp_path, BOUNDS, 7, relief=Relief(floor_m=100.0, ridge_m=600.0))
    with rasterio.open(path) as dataset:
        heights = dataset.read(1)
        assert dataset.bounds == pytest.approx((24.0, 50.0, 24.3, 50.2))
    assert heights.shape == (240, 360)
    assert 50 < heights.min() < 200
    assert 500 < heights.max() < 1100


@pytest.mark.parametrize(
    ("bounds", "options"),
    [((25.0, 50.0, 24.0, 51.0), {}), ((24.0, 50.0, 25.0, 91.0), {}), (BOUNDS, {"step_arcsec": 0.0})],
)
def test_a_valley_that_cannot_be_is_an_error(tmp_path, bounds, options):
    with pytest.raises(TerrainError):
        write_synthetic_terrain(tmp_path, bounds, 7, **options)
