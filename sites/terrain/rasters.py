"""A folder of tiles read as one raster: heights or classes at many points per call.

A tile is cut into blocks; a block is what is read and remembered. Each block
carries a rim of one pixel taken from its neighbours, also across tiles that
share one raster, so that interpolation knows no seams.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from sites.terrain.lru import LeastRecentlyUsed
from sites.terrain.tiles import (
    Array,
    Block,
    TerrainError,
    Tile,
    cell_name,
    fingerprint,
    open_tile,
    raster_files,
)

BLOCK_PIXELS = 1024
Flags = npt.NDArray[np.bool_]
Indexes = npt.NDArray[np.intp]


@dataclass(frozen=True)
class Samples:
    """Values at points, NaN where not known; where it is not known, why.

    Attributes
    ----------
    values : float64
    missing : no tile lies there
    void : a tile lies there, and holds no value
    """

    values: Array
    missing: Flags
    void: Flags


class RasterFolder:
    """Every GeoTIFF and SRTM tile of a folder.

    Parameters
    ----------
    folder : folder, searched with the folders in it, or one raster file
    cache_mb : memory for blocks, MB

    Attributes
    ----------
    tiles : what was found, finest first
    unreadable : file name → reason, for files that cannot be used
    fingerprint : changes with the files

    Raises
    ------
    TerrainError
        The folder does not exist.
    """

    def __init__(self, folder: Path | str, *, cache_mb: float = 256.0) -> None:
        self.folder = Path(folder)
        paths = raster_files(self.folder)
        self.fingerprint = fingerprint(paths, self.folder)
        self.unreadable: dict[str, str] = {}
        tiles: list[Tile] = []
        for path in paths:
            try:
                tiles.append(open_tile(path))
            except TerrainError as error:
                self.unreadable[path.name] = str(error)
        self.tiles = tuple(sorted(tiles, key=lambda tile: (tile.resolution_m, tile.name)))
        self._tiles_of_cell: dict[tuple[int, int], list[int]] = defaultdict(list)
        for index, tile in enumerate(self.tiles):
            for cell in _cells(tile):
                self._tiles_of_cell[cell].append(index)
        self._blocks: LeastRecentlyUsed[tuple[int, int, int], Block] = LeastRecentlyUsed(
            int(cache_mb * 1e6), lambda block: block.nbytes
        )

    def is_current(self) -> bool:
        """Whether the folder still holds the files that were indexed."""
        return fingerprint(raster_files(self.folder), self.folder) == self.fingerprint

    def sample(self, latitude_deg: Array, longitude_deg: Array, *, nearest: bool = False) -> Samples:
        """Values at points.

        Parameters
        ----------
        latitude_deg, longitude_deg : WGS 84, degrees, 1-d arrays of one length
        nearest : the value of the pixel (classes) instead of bilinear interpolation (heights)

        Returns
        -------
        Samples, in the order of the points
            Where tiles overlap the finest one that holds a value is taken.
        """
        count = len(latitude_deg)
        longitude_deg = (longitude_deg + 180.0) % 360.0 - 180.0
        values = np.full(count, np.nan)
        missing = np.ones(count, dtype=bool)
        for cell, points in _by_cell(latitude_deg, longitude_deg):
            pending = points
            for index in self._tiles_of_cell.get(cell, ()):
                tile = self.tiles[index]
                column, row = tile.pixels(latitude_deg[pending], longitude_deg[pending])
                here = tile.holds(column, row)
                if not here.any():
                    continue
                found = pending[here]
                missing[found] = False
                values[found] = self._from_tile(index, column[here], row[here], nearest)
                pending = pending[np.isnan(values[pending])]
                if not len(pending):
                    break
        return Samples(values, missing, np.isnan(values) & ~missing)

    def _from_tile(self, index: int, column: Array, row: Array, nearest: bool) -> Array:
        tile = self.tiles[index]
        if nearest:
            column = np.clip(np.rint(column), 0, tile.columns - 1)
            row = np.clip(np.rint(row), 0, tile.rows - 1)
        first_column, first_row = np.floor(column), np.floor(row)
        block_column = np.clip(first_column, 0, tile.columns - 1).astype(np.intp) // BLOCK_PIXELS
        block_row = np.clip(first_row, 0, tile.rows - 1).astype(np.intp) // BLOCK_PIXELS
        key = block_row * (tile.columns // BLOCK_PIXELS + 1) + block_column
        values = np.empty(len(column))
        for points in _groups(key):
            at = int(block_row[points[0]]), int(block_column[points[0]])
            block = self._block(index, *at)
            values[points] = _interpolate(
                block,
                column[points] - at[1] * BLOCK_PIXELS + 1.0,
                row[points] - at[0] * BLOCK_PIXELS + 1.0,
            )
        return values

    def _block(self, index: int, block_row: int, block_column: int) -> Block:
        return self._blocks.get_or_make(
            (index, block_row, block_column), lambda: self._read_block(index, block_row, block_column)
        )

    def _read_block(self, index: int, block_row: int, block_column: int) -> Block:
        """One block with its rim; beyond the outermost tiles the rim repeats the edge."""
        tile = self.tiles[index]
        left, top = block_column * BLOCK_PIXELS - 1, block_row * BLOCK_PIXELS - 1
        right = min(left + BLOCK_PIXELS + 1, tile.columns) + 1
        bottom = min(top + BLOCK_PIXELS + 1, tile.rows) + 1
        inner = max(left, 0), max(top, 0), min(right, tile.columns), min(bottom, tile.rows)
        block = np.pad(
            tile.read(inner[0], inner[1], inner[2] - inner[0], inner[3] - inner[1]),
            ((inner[1] - top, bottom - inner[3]), (inner[0] - left, right - inner[2])),
            mode="edge",
        )
        if (left, top, right, bottom) != inner:
            for other in self._neighbours(tile):
                self._copy_rim(block, (left, top, right, bottom), tile, other)
        return block

    def _neighbours(self, tile: Tile) -> list[Tile]:
        around = {index for cell in _cells(tile) for index in self._tiles_of_cell.get(cell, ())}
        return [self.tiles[index] for index in sorted(around) if self.tiles[index] is not tile]

    @staticmethod
    def _copy_rim(block: Block, window: tuple[int, int, int, int], tile: Tile, other: Tile) -> None:
        """Fill the part of the rim beyond this tile from another tile of the same raster."""
        offset = tile.offset_to(other)
        if offset is None:
            return
        left, top, right, bottom = window
        strips = [
            (left, top, right, min(0, bottom)),
            (left, max(tile.rows, top), right, bottom),
            (left, top, min(0, right), bottom),
            (max(tile.columns, left), top, right, bottom),
        ]
        for strip in strips:
            x0, y0 = max(strip[0], offset[0]), max(strip[1], offset[1])
            x1, y1 = min(strip[2], offset[0] + other.columns), min(strip[3], offset[1] + other.rows)
            if x1 > x0 and y1 > y0:
                block[y0 - top : y1 - top, x0 - left : x1 - left] = other.read(
                    x0 - offset[0], y0 - offset[1], x1 - x0, y1 - y0
                )


def missing_cells(latitude_deg: Array, longitude_deg: Array) -> tuple[str, ...]:
    """Names of the one-degree cells that points lie in, without repetition."""
    return tuple(sorted(cell_name(*cell) for cell, _ in _by_cell(latitude_deg, longitude_deg)))


def _cells(tile: Tile) -> list[tuple[int, int]]:
    """One-degree cells that a tile touches, those across its edge by a hair included."""
    west, south, east, north = tile.bounds_deg
    reach = 1e-3
    if east < west:
        east += 360.0
    return [
        (latitude, (longitude + 180) % 360 - 180)
        for latitude in range(math.floor(south - reach), math.floor(north + reach) + 1)
        for longitude in range(math.floor(west - reach), math.floor(east + reach) + 1)
    ]


def _by_cell(latitude_deg: Array, longitude_deg: Array) -> list[tuple[tuple[int, int], Indexes]]:
    latitude = np.floor(latitude_deg).astype(np.intp)
    longitude = np.floor(longitude_deg).astype(np.intp)
    return [
        ((int(latitude[points[0]]), int(longitude[points[0]])), points)
        for points in _groups((latitude + 90) * 1000 + longitude + 500)
    ]


def _groups(key: Indexes) -> list[Indexes]:
    """Positions of equal keys, one array per key."""
    if not len(key):
        return []
    if (key == key[0]).all():
        return [np.arange(len(key))]
    order = np.argsort(key, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(key[order])) + 1)


def _interpolate(block: Block, column: Array, row: Array) -> Array:
    """Bilinear; a void corner counts only where it has weight, and then makes the point void."""
    last_row, last_column = block.shape[0] - 2, block.shape[1] - 2
    c = np.clip(np.floor(column).astype(np.intp), 0, last_column)
    r = np.clip(np.floor(row).astype(np.intp), 0, last_row)
    u, v = np.clip(column - c, 0.0, 1.0), np.clip(row - r, 0.0, 1.0)
    flat, width = block.reshape(-1), block.shape[1]
    at = r * width + c
    total = np.zeros(len(at))
    for step, weight in ((0, (1 - u) * (1 - v)), (1, u * (1 - v)), (width, (1 - u) * v), (width + 1, u * v)):
        term = weight * flat[at + step]
        total += np.where(weight == 0.0, 0.0, term)
    return total
