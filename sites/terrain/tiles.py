"""The tiles of a folder: where each lies, how fine it is, and how to read a part of it.

A folder is indexed once. Handles are not kept open: a part that was read stays in
the block cache (blocks.py), and open handles would be shared by threads and by
forked workers, which GDAL does not allow.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import numpy as np
import numpy.typing as npt
import rasterio
from pyproj import Transformer
from rasterio.errors import RasterioError
from rasterio.warp import transform_bounds
from rasterio.windows import Window

Array = npt.NDArray[np.float64]
Block = npt.NDArray[np.float32]

SUFFIXES = frozenset({".tif", ".tiff", ".hgt"})
SRTM_VOID = -32768.0
"""What SRTM tiles hold where nothing was measured; taken as void even where a file does not declare it."""
METRE_UNITS = frozenset({"", "m", "metre", "metres", "meter", "meters"})
WGS84_EPSG = 4326


class TerrainError(ValueError):
    """A folder, tile or request that terrain cannot be read from; the sentence says how to mend it."""


@dataclass(frozen=True)
class Tile:
    """One raster file. Pixel coordinates count from the centre of the north-west pixel, columns eastward."""

    path: Path = field(repr=False)
    name: str
    columns: int
    rows: int
    west_x: float
    north_y: float
    pixel_x: float
    pixel_y: float
    crs_wkt: str = field(repr=False)
    bounds_deg: tuple[float, float, float, float]
    resolution_m: float

    @cached_property
    def _to_crs(self) -> Transformer | None:
        """From WGS 84 to the tile's system; None where that is WGS 84 itself."""
        crs = rasterio.CRS.from_wkt(self.crs_wkt)
        if crs.to_epsg() == WGS84_EPSG:
            return None
        return Transformer.from_crs(WGS84_EPSG, self.crs_wkt, always_xy=True)

    def pixels(self, latitude_deg: Array, longitude_deg: Array) -> tuple[Array, Array]:
        """Fractional column and row of points."""
        if self._to_crs is None:
            middle = self.west_x + self.columns * self.pixel_x / 2.0
            x, y = longitude_deg + 360.0 * np.rint((middle - longitude_deg) / 360.0), latitude_deg
        else:
            x, y = self._to_crs.transform(longitude_deg, latitude_deg)
        column = (np.asarray(x) - self.west_x) / self.pixel_x - 0.5
        row = (self.north_y - np.asarray(y)) / self.pixel_y - 0.5
        return column, row

    def holds(self, column: Array, row: Array) -> npt.NDArray[np.bool_]:
        """Whether pixel coordinates fall on the tile, its outer edges included."""
        edge = 0.5 + 1e-6
        inside: npt.NDArray[np.bool_] = (
            (column >= -edge)
            & (column <= self.columns - 1 + edge)
            & (row >= -edge)
            & (row <= self.rows - 1 + edge)
        )
        return inside

    def offset_to(self, other: Tile) -> tuple[int, int] | None:
        """Column and row of the other tile's first pixel in this one's count, if both share one raster."""
        if (
            self.crs_wkt != other.crs_wkt
            or not math.isclose(self.pixel_x, other.pixel_x, rel_tol=1e-6)
            or not math.isclose(self.pixel_y, other.pixel_y, rel_tol=1e-6)
        ):
            return None
        column = (other.west_x - self.west_x) / self.pixel_x
        row = (self.north_y - other.north_y) / self.pixel_y
        if abs(column - round(column)) > 0.01 or abs(row - round(row)) > 0.01:
            return None
        return round(column), round(row)

    def read(self, column: int, row: int, columns: int, rows: int) -> Block:
        """Values of a window that lies on the tile; voids are NaN."""
        try:
            with rasterio.open(self.path) as dataset:
                values = dataset.read(1, window=Window(column, row, columns, rows), masked=True)
                scale, offset = dataset.scales[0], dataset.offsets[0]
        except RasterioError as error:
            raise TerrainError(
                f"{self.path.name} cannot be read any more ({error}); restore it, or index the folder anew."
            ) from error
        block: Block = np.ma.filled(values.astype(np.float32), np.nan)
        block[block == SRTM_VOID] = np.nan
        if (scale, offset) != (1.0, 0.0):
            block = block * np.float32(scale) + np.float32(offset)
        return block


def raster_files(folder: Path) -> list[Path]:
    """Raster files of a folder and the folders in it, or the one file given, by name."""
    if folder.is_file():
        return [folder]
    if not folder.is_dir():
        raise TerrainError(
            f"The terrain folder {folder} does not exist. Create it and put GeoTIFF (.tif) or SRTM (.hgt) "
            "tiles into it, or correct the setting that names it."
        )
    return sorted(path for path in folder.rglob("*") if path.suffix.lower() in SUFFIXES and path.is_file())


def fingerprint(paths: Iterable[Path], root: Path) -> str:
    """A short text that changes when a file is added, taken away, renamed, resized or rewritten."""
    digest = hashlib.sha256()
    for path in paths:
        stat = path.stat()
        digest.update(f"{path.relative_to(root) if path != root else path.name}\0".encode())
        digest.update(f"{stat.st_size}\0{stat.st_mtime_ns}\0".encode())
    return digest.hexdigest()[:16]


def open_tile(path: Path) -> Tile:
    """Read what the index needs to know of one file.

    Raises
    ------
    TerrainError
        The file is no raster, has no coordinate system, is rotated, or is not in metres.
    """
    try:
        with rasterio.open(path) as dataset:
            if dataset.crs is None:
                raise TerrainError(
                    f"{path.name} states no coordinate system; assign one, for example EPSG:4326."
                )
            affine = dataset.transform
            if affine.b or affine.d or affine.a <= 0.0 or affine.e >= 0.0:
                raise TerrainError(
                    f"{path.name} is rotated or mirrored; resample it to a grid with north up."
                )
            unit = (dataset.units[0] or "").lower()
            if unit not in METRE_UNITS:
                raise TerrainError(f"{path.name} gives heights in {unit}; convert it to metres.")
            wkt = dataset.crs.to_wkt()
            bounds = transform_bounds(dataset.crs, WGS84_EPSG, *dataset.bounds, densify_pts=21)
            columns, rows = dataset.width, dataset.height
    except RasterioError as error:
        raise TerrainError(
            f"{path.name} cannot be read as a raster ({error}); replace or remove it."
        ) from error
    south, north = bounds[1], bounds[3]
    return Tile(
        path=path,
        name=path.stem,
        columns=columns,
        rows=rows,
        west_x=affine.c,
        north_y=affine.f,
        pixel_x=affine.a,
        pixel_y=-affine.e,
        crs_wkt=wkt,
        bounds_deg=bounds,
        resolution_m=(north - south) * 111_195.0 / rows,  # a degree of latitude, for ordering only
    )


def cell_name(latitude_floor_deg: int, longitude_floor_deg: int) -> str:
    """Name of a one-degree cell by its south-west corner, as SRTM tiles are named.

    Examples
    --------
    >>> cell_name(50, 24)
    'N50E024'
    >>> cell_name(-1, -85)
    'S01W085'
    """
    north_south = "N" if latitude_floor_deg >= 0 else "S"
    east_west = "E" if longitude_floor_deg >= 0 else "W"
    return f"{north_south}{abs(latitude_floor_deg):02d}{east_west}{abs(longitude_floor_deg):03d}"
