"""Shaded relief: the formula on planes that can be reckoned by hand, and tiles from real files."""

from __future__ import annotations

import io
import math
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from pyproj import Transformer

from sites.terrain import TerrainStore
from sites.terrain.relief import mercator_latitude_deg, relief_tile, shade
from sites.terrain.synthetic import write_synthetic_terrain


def plane(east: float, north: float) -> np.ndarray:
    """Heights of a plane that rises by so much a metre eastward and northward, posts 10 m apart."""
    rows, columns = np.mgrid[0:5, 0:6]
    return east * columns * 10.0 - north * rows * 10.0


@pytest.mark.parametrize(("east", "north"), [(0.0, 0.0), (0.5, 0.0), (0.0, -0.3), (-1.0, 1.0), (2.0, -2.0)])
def test_a_plane_is_as_bright_as_the_angle_between_its_normal_and_the_sun(east: float, north: float) -> None:
    """Lambert's cosine law, reckoned with vectors: the normal (-east, -north, 1), the sun in the north-west at 45°."""
    normal = np.array([-east, -north, 1.0])
    sun = np.array([-math.sqrt(0.5), math.sqrt(0.5), 1.0]) * math.sqrt(0.5)
    expected = max(0.0, float(normal @ sun) / float(np.linalg.norm(normal)))

    lit = shade(plane(east, north), 10.0)

    assert lit.shape == (3, 4)
    np.testing.assert_allclose(lit, expected, atol=1e-12)


def test_what_is_not_known_stays_unknown() -> None:
    heights = plane(0.1, 0.1)
    heights[0, 0] = np.nan
    lit = shade(heights, 10.0)

    assert np.isnan(lit[0, 0])
    assert not np.isnan(lit[1:, 1:]).any()


def test_rows_of_tiles_lie_where_the_public_library_has_them() -> None:
    """Against PROJ's EPSG:3857: row edges of a tiled square are equally spaced in its plane."""
    half = math.pi * 6378137.0
    to_degrees = Transformer.from_crs(3857, 4326, always_xy=True)
    for y in (0.0, 0.1, 0.37, 0.5, 0.93, 1.0):
        _, latitude = to_degrees.transform(0.0, half - y * 2 * half)
        assert float(mercator_latitude_deg(y)) == pytest.approx(latitude, abs=1e-9)


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> TerrainStore:
    folder: Path = tmp_path_factory.mktemp("relief")
    write_synthetic_terrain(folder, (14.0, 47.0, 14.4, 47.3), 7, step_arcsec=15)
    return TerrainStore(folder)


def test_a_tile_is_a_picture_that_shades_ground_and_leaves_the_rest_clear(store: TerrainStore) -> None:
    west, south, east, north = store.tiles[0].bounds_deg
    column = int(((west + east) / 2 + 180) / 360 * 2**10)
    row = int((0.5 - math.asinh(math.tan(math.radians((south + north) / 2))) / (2 * math.pi)) * 2**10)

    picture = Image.open(io.BytesIO(relief_tile(store, 10, column, row)))
    assert (picture.size, picture.mode) == ((256, 256), "LA")
    assert np.asarray(picture)[..., 1].max() > 20
    elsewhere = np.asarray(Image.open(io.BytesIO(relief_tile(store, 10, 0, row))))
    assert elsewhere[..., 1].max() == 0


@pytest.mark.parametrize(
    ("zoom", "column", "row", "says"),
    [
        (6, 0, 0, "zoom 7 to 15; 6 was asked for"),
        (16, 0, 0, "16 was asked"),
        (8, 256, 0, "run from 0 to 255"),
    ],
)
def test_a_tile_that_there_is_not_is_named(
    store: TerrainStore, zoom: int, column: int, row: int, says: str
) -> None:
    with pytest.raises(ValueError, match=says):
        relief_tile(store, zoom, column, row)
