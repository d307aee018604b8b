"""What stands on the ground: a land-cover raster with a height for each of its classes."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path

import numpy as np

from sites.terrain.rasters import RasterFolder
from sites.terrain.tiles import Array, TerrainError


class LandCover:
    """Clutter height by land-cover class.

    Parameters
    ----------
    folder : folder of class rasters, or one raster file
    height_m_of_class : height of what stands on the ground, metres, by class number
        A class that is not listed has no known height: NaN, never zero.
    cache_mb : memory for blocks, MB

    Raises
    ------
    TerrainError
        No class listed, a negative height, or the folder does not exist.
    """

    def __init__(
        self, folder: Path | str, height_m_of_class: Mapping[int, float], *, cache_mb: float = 64.0
    ) -> None:
        if not height_m_of_class:
            raise TerrainError("The land-cover table lists no class; give a height in metres for each class.")
        for number, height in height_m_of_class.items():
            if not 0.0 <= height < np.inf:
                raise TerrainError(
                    f"Land-cover class {number} has a height of {height:g} m; it must be 0 or more."
                )
        self.raster = RasterFolder(folder, cache_mb=cache_mb)
        self._numbers = np.array(sorted(height_m_of_class), dtype=np.float64)
        self._heights = np.array([height_m_of_class[int(number)] for number in self._numbers])
        table = hashlib.sha256(self._numbers.tobytes() + self._heights.tobytes()).hexdigest()[:8]
        self.fingerprint = f"{self.raster.fingerprint}-{table}"

    def clutter_height_m(self, latitude_deg: Array, longitude_deg: Array) -> Array:
        """Clutter height at points, metres; NaN where no raster lies or its class is not listed."""
        classes = self.raster.sample(latitude_deg, longitude_deg, nearest=True).values
        at = np.clip(np.searchsorted(self._numbers, classes), 0, len(self._numbers) - 1)
        heights: Array = np.where(self._numbers[at] == classes, self._heights[at], np.nan)
        return heights
