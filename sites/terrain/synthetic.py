"""Invented relief: a river valley between ridges, with side valleys, from a seed.

For places that exist nowhere. The same bounds, spacing and seed give the same
relief: the random numbers are raw PCG64 output, which NumPy keeps stable, and
everything else is plain arithmetic.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import rasterio
from rasterio import Affine

from sites.terrain.tiles import TerrainError

Array = npt.NDArray[np.float64]
Bounds = tuple[float, float, float, float]
"""West, south, east, north, degrees."""

OCTAVES = 8
ROUGHNESS = 0.52
"""Amplitude of each octave against the one before; about 0.5 gives relief like worn mountains."""


@dataclass(frozen=True)
class Relief:
    """The shape of the valley, in metres and as shares of the box.

    Attributes
    ----------
    floor_m : height of the valley floor at its lower (western) end
    fall_m : how much the floor rises toward the eastern end
    ridge_m : how far the main ridges stand above the floor
    valley_share : half width of the valley floor, as a share of the box's height
    """

    floor_m: float = 240.0
    fall_m: float = 180.0
    ridge_m: float = 900.0
    valley_share: float = 0.10


def _uniform(seed: int, count: int) -> Array:
    """Numbers in 0…1 from the generator's raw output."""
    raw = np.random.PCG64(seed).random_raw(count)
    uniform: Array = (raw >> np.uint64(11)).astype(np.float64) * 2.0**-53
    return uniform


def _noise(across: Array, down: Array, cells: int, seed: int) -> Array:
    """Smooth noise in −1…1: random values on a lattice, joined by smooth steps."""
    lattice = (2.0 * _uniform(seed, (cells + 2) ** 2) - 1.0).reshape(cells + 2, cells + 2)
    x, y = across * cells, down * cells
    column, row = np.floor(x).astype(np.intp), np.floor(y).astype(np.intp)
    u, v = x - column, y - row
    u, v = u * u * u * (u * (6.0 * u - 15.0) + 10.0), v * v * v * (v * (6.0 * v - 15.0) + 10.0)
    upper = lattice[np.ix_(row, column)] * (1.0 - u) + lattice[np.ix_(row, column + 1)] * u
    lower = lattice[np.ix_(row + 1, column)] * (1.0 - u) + lattice[np.ix_(row + 1, column + 1)] * u
    return upper * (1.0 - v)[:, None] + lower * v[:, None]


def _fractal(across: Array, down: Array, seed: int, *, ridged: bool) -> Array:
    """Octaves of noise added up, scaled to about −1…1; ridged turns its zero lines into crests (0…1)."""
    total, amplitude, most = np.zeros((len(down), len(across))), 1.0, 0.0
    for octave in range(OCTAVES):
        layer = _noise(across, down, 3 * 2**octave, seed * 1000 + octave)
        total += amplitude * ((1.0 - np.abs(layer)) ** 2 if ridged else layer)
        most += amplitude
        amplitude *= ROUGHNESS
    return total / most


def valley_heights(across: Array, down: Array, seed: int, relief: Relief | None = None) -> Array:
    """Heights of the invented valley.

    Parameters
    ----------
    across : shape (columns,), position in the box from west (0) to east (1)
    down : shape (rows,), position from north (0) to south (1)
    seed : not negative; another seed is another valley
    relief : its shape

    Returns
    -------
    height_m : shape (rows, columns), metres above sea level, never negative

    Examples
    --------
    >>> import numpy as np
    >>> grid = np.linspace(0.0, 1.0, 50)
    >>> heights = valley_heights(grid, grid, seed=7)
    >>> heights.shape, bool(heights.min() > 100.0), bool(heights.max() < 2000.0)
    ((50, 50), True, True)
    >>> bool((heights == valley_heights(grid, grid, seed=7)).all())
    True
    """
    shape = relief or Relief()
    phase = 2.0 * math.pi * _uniform(seed * 1000 + 900, 4)
    axis = (
        0.5
        + 0.10 * np.sin(2.0 * math.pi * 0.9 * across + phase[0])
        + 0.04 * np.sin(2.0 * math.pi * 2.3 * across + phase[1])
    )
    away = np.abs(down[:, None] - axis[None, :]) / shape.valley_share
    wall = 1.0 - np.exp(-((np.maximum(away - 0.6, 0.0) / 1.6) ** 2))
    crests = _fractal(across, down, seed + 1, ridged=True)
    rolling = _fractal(across, down, seed + 2, ridged=False)
    floor = shape.floor_m + shape.fall_m * across[None, :]
    height = (
        floor + wall * shape.ridge_m * (0.25 + 1.1 * crests) + rolling * shape.ridge_m * (0.02 + 0.25 * wall)
    )
    return np.asarray(np.maximum(height, 0.0))


def write_synthetic_terrain(
    folder: Path | str,
    bounds: Bounds,
    seed: int,
    *,
    relief: Relief | None = None,
    step_arcsec: float = 3.0,
    tile_deg: float = 0.5,
) -> list[Path]:
    """Write an invented valley as GeoTIFF tiles that a :class:`TerrainStore` reads.

    Parameters
    ----------
    folder : made if it does not exist; tiles of the same name are replaced
    bounds : west, south, east, north, degrees
    seed : not negative
    relief : the valley's shape
    step_arcsec : pixel size, seconds of arc (3 is about 93 m)
    tile_deg : side of a tile, degrees

    Returns
    -------
    paths : the tiles written, north-western first; heights in whole metres, EPSG:4326

    Raises
    ------
    TerrainError
        Bounds out of order or out of range, a step or tile size that is not positive.

    Range
    -----
    Boxes up to a few degrees; the whole grid is held in memory.
    """
    west, south, east, north = bounds
    if not (-180.0 <= west < east <= 180.0 and -90.0 <= south < north <= 90.0):
        raise TerrainError(f"The bounds {bounds} are not west, south, east, north in degrees.")
    if step_arcsec <= 0.0 or tile_deg <= 0.0 or seed < 0:
        raise TerrainError("step_arcsec and tile_deg must be positive, and the seed not negative.")
    step = step_arcsec / 3600.0
    columns, rows = round((east - west) / step), round((north - south) / step)
    per_tile = max(round(tile_deg / step), 1)
    heights = valley_heights(
        (np.arange(columns) + 0.5) / columns, (np.arange(rows) + 0.5) / rows, seed, relief
    )
    target = Path(folder)
    target.mkdir(parents=True, exist_ok=True)
    written = []
    for top in range(0, rows, per_tile):
        for left in range(0, columns, per_tile):
            part = np.rint(heights[top : top + per_tile, left : left + per_tile]).astype(np.int16)
            path = target / f"relief_r{top // per_tile:02d}_c{left // per_tile:02d}.tif"
            with rasterio.open(
                path,
                "w",
                driver="GTiff",
                width=part.shape[1],
                height=part.shape[0],
                count=1,
                dtype="int16",
                crs="EPSG:4326",
                transform=Affine(step, 0.0, west + left * step, 0.0, -step, north - top * step),
                nodata=-32768,
                compress="deflate",
                predictor=2,
            ) as dataset:
                dataset.write(part, 1)
            written.append(path)
    return written
