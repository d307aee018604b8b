"""Shaded relief of terrain on the tiles of a web map: light from the north-west, as on a printed map."""

from __future__ import annotations

import io
import math

import numpy as np
import numpy.typing as npt
from PIL import Image

from sites.terrain.store import TerrainStore
from sites.terrain.tiles import Array

TILE_PIXELS = 256
#: Where the tiled square of the spherical Mercator projection ends: atan(sinh(π)), OGC 17-083r4 annex D.
MERCATOR_LIMIT_DEG = math.degrees(math.atan(math.sinh(math.pi)))
#: A tile of the lowest zoom is 2.8° wide: reading more ground than that for one picture would take seconds.
LEAST_ZOOM, MOST_ZOOM = 7, 15
EARTH_RADIUS_M = 6_378_137.0  # EPSG method 1024 takes the semi-major axis of WGS 84
SUN_AZIMUTH_DEG, SUN_ALTITUDE_DEG = 315.0, 45.0  # common practice, no published source
#: How far light and shadow may go, of 255: what is drawn above has to stay legible.
DARKEST, LIGHTEST = 120, 60
STEEPENED = 3.0  # heights are tripled for the shading, so that rolling ground shows at all


def mercator_latitude_deg(y: npt.ArrayLike) -> Array:
    """Latitude of a place on the tiled square, degrees.

    Parameters
    ----------
    y : 0 in the north, 1 in the south

    Source: OGC 17-083r4, annex D (WebMercatorQuad); EPSG method 1024.

    >>> float(mercator_latitude_deg(0.5)), round(float(mercator_latitude_deg(0.0)), 4)
    (0.0, 85.0511)
    """
    up = (0.5 - np.asarray(y, dtype=np.float64)) * 2.0 * np.pi
    return np.asarray(np.degrees(np.arctan(np.sinh(up))))


def shade(height_m: Array, spacing_m: float) -> Array:
    """How bright ground is that scatters light evenly, 0 to 1; NaN where a height around it is not known.

    Parameters
    ----------
    height_m : shape (rows, columns), north up
    spacing_m : between posts, both ways, metres, above 0

    Returns
    -------
    shape (rows − 2, columns − 2), the outermost posts being used up

    Source: B. K. P. Horn, Hill shading and the reflectance map, Proc. IEEE 69(1), 1981: the slope by
    weighted differences of the eight neighbours, the Lambertian surface.

    >>> float(shade(np.zeros((3, 3)), 30.0)[0, 0]).__round__(4)
    0.7071
    """
    h = height_m
    east = h[:-2, 2:] + 2 * h[1:-1, 2:] + h[2:, 2:]
    west = h[:-2, :-2] + 2 * h[1:-1, :-2] + h[2:, :-2]
    south = h[2:, :-2] + 2 * h[2:, 1:-1] + h[2:, 2:]
    north = h[:-2, :-2] + 2 * h[:-2, 1:-1] + h[:-2, 2:]
    p, q = (east - west) / (8 * spacing_m), (north - south) / (8 * spacing_m)
    azimuth, altitude = math.radians(SUN_AZIMUTH_DEG), math.radians(SUN_ALTITUDE_DEG)
    toward_sun = -p * math.sin(azimuth) * math.cos(altitude) - q * math.cos(azimuth) * math.cos(altitude)
    lit = (toward_sun + math.sin(altitude)) / np.sqrt(1.0 + p * p + q * q)
    return np.asarray(np.clip(lit, 0.0, 1.0))


def relief_tile(store: TerrainStore, zoom: int, column: int, row: int) -> bytes:
    """A tile of shaded relief as PNG: shadow in black, light in white, level or unknown ground transparent.

    Parameters
    ----------
    store : the terrain
    zoom : ``LEAST_ZOOM`` to ``MOST_ZOOM``
    column, row : of the tile, from the north-west, 0 to 2**zoom − 1

    Raises
    ------
    ValueError
        There is no such tile; the sentence says which there are.
    """
    if not LEAST_ZOOM <= zoom <= MOST_ZOOM:
        raise ValueError(f"Relief is drawn from zoom {LEAST_ZOOM} to {MOST_ZOOM}; {zoom} was asked for.")
    if not (0 <= column < 2**zoom and 0 <= row < 2**zoom):
        raise ValueError(f"At zoom {zoom} columns and rows run from 0 to {2**zoom - 1}.")
    steps = (np.arange(-1, TILE_PIXELS + 1) + 0.5) / TILE_PIXELS
    longitude = (column + steps) / 2**zoom * 360.0 - 180.0
    latitude = mercator_latitude_deg(np.clip((row + steps) / 2**zoom, 0.0, 1.0))
    grid = np.meshgrid(latitude, longitude, indexing="ij")
    sampled = store.sample(grid[0].reshape(-1), grid[1].reshape(-1))
    heights = sampled.values.reshape(grid[0].shape)
    middle = math.radians(float(latitude[TILE_PIXELS // 2]))
    spacing_m = 2 * math.pi * EARTH_RADIUS_M * math.cos(middle) / (TILE_PIXELS * 2**zoom)
    return _png(shade(heights * STEEPENED, spacing_m))


def _png(lit: Array) -> bytes:
    level = math.sin(math.radians(SUN_ALTITUDE_DEG))
    known = np.nan_to_num(lit, nan=level)
    shadow = np.clip((level - known) / level, 0.0, 1.0) * DARKEST
    light = np.clip((known - level) / (1.0 - level), 0.0, 1.0) * LIGHTEST
    pixels = np.zeros((*lit.shape, 2), dtype=np.uint8)
    pixels[..., 0] = np.where(light > 0, 255, 0)
    pixels[..., 1] = np.maximum(shadow, light).round()
    out = io.BytesIO()
    Image.fromarray(pixels, "LA").save(out, "PNG")
    return out.getvalue()
