"""The map's projection: spherical Mercator on a square of side 1, north up, as web maps are tiled.

Source: OGC 17-083r4 (Two Dimensional Tile Matrix Set), annex D, WebMercatorQuad; EPSG method 1024.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from sites.terrain.relief import MERCATOR_LIMIT_DEG, mercator_latitude_deg

Array = npt.NDArray[np.float64]


def map_x(longitude_deg: npt.ArrayLike) -> Array:
    """Longitude (degrees) to the map's x: 0 at 180° W, 1 at 180° E.

    >>> float(map_x(0.0))
    0.5
    """
    return np.asarray((np.asarray(longitude_deg, dtype=np.float64) + 180.0) / 360.0)


def map_y(latitude_deg: npt.ArrayLike) -> Array:
    """Latitude (degrees) to the map's y: 0 in the north, 1 in the south; held at the square's edge.

    >>> float(map_y(0.0)), abs(float(map_y(90.0))) < 1e-12
    (0.5, True)
    """
    held = np.clip(np.asarray(latitude_deg, dtype=np.float64), -MERCATOR_LIMIT_DEG, MERCATOR_LIMIT_DEG)
    return np.asarray(0.5 - np.arcsinh(np.tan(np.radians(held))) / (2.0 * np.pi))


def longitude_deg(x: npt.ArrayLike) -> Array:
    """The map's x to longitude, degrees."""
    return np.asarray(np.asarray(x, dtype=np.float64) * 360.0 - 180.0)


def latitude_deg(y: npt.ArrayLike) -> Array:
    """The map's y to latitude, degrees."""
    return mercator_latitude_deg(y)
