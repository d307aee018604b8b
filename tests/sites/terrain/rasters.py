"""Small rasters that the terrain tests write and read."""

from __future__ import annotations

from pathlib import Path

import matplotlib
import numpy as np
import numpy.typing as npt
import rasterio
from rasterio import Affine

# matplotlib's sample of a USGS 3 arc second grid (public domain). The lower latitude stored in the file is
# wrong; the box is this one, row 0 in the north.
JACKSBORO_SOUTH, JACKSBORO_NORTH = 36.15958, 36.44625
JACKSBORO_WEST, JACKSBORO_EAST = -84.41375, -84.07792


def write_tiff(
    path: Path,
    values: npt.NDArray[np.generic],
    west: float,
    north: float,
    step: float,
    *,
    nodata: float | None = None,
    crs: str | None = "EPSG:4326",
    unit: str | None = None,
) -> Path:
    """A one-band GeoTIFF whose north-west *corner* is at west, north."""
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=values.shape[1],
        height=values.shape[0],
        count=1,
        dtype=values.dtype.name,
        crs=crs,
        transform=Affine(step, 0.0, west, 0.0, -step, north),
        nodata=nodata,
    ) as dataset:
        dataset.write(values, 1)
        if unit:
            dataset.units = (unit,)
    return path


def jacksboro() -> npt.NDArray[np.int16]:
    file = Path(matplotlib.get_data_path()) / "sample_data" / "jacksboro_fault_dem.npz"
    with np.load(file) as data:
        elevation: npt.NDArray[np.int16] = data["elevation"]
    return elevation


def write_jacksboro(folder: Path) -> tuple[npt.NDArray[np.int16], float]:
    """The real grid as one GeoTIFF; its values and its pixel size."""
    elevation = jacksboro()
    rows, columns = elevation.shape
    step = (JACKSBORO_NORTH - JACKSBORO_SOUTH) / rows
    assert abs((JACKSBORO_EAST - JACKSBORO_WEST) / columns - step) < 1e-6
    write_tiff(folder / "jacksboro.tif", elevation, JACKSBORO_WEST, JACKSBORO_NORTH, step)
    return elevation, step
