"""How far the curved Earth stands above the straight line between two ends."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

MEAN_EARTH_RADIUS_KM = 6371.0
"""The radius that k multiplies, as in ITU-R P.452-18 and P.526 (from memory, clause not verified)."""


def earth_bulge_m(
    distance_m: npt.ArrayLike, path_length_m: npt.ArrayLike, *, effective_earth_radius_km: npt.ArrayLike
) -> npt.NDArray[np.float64]:
    """Height of the effective Earth's surface above the chord between the ends of a path.

    Parameters
    ----------
    distance_m : from one end, metres, 0…path_length_m; scalar or array, NaN (padding) stays NaN
    path_length_m : metres; broadcasts with ``distance_m``
    effective_earth_radius_km : k times 6371 km, for example 8500 for a standard atmosphere

    Returns
    -------
    bulge_m : metres, 0 at both ends

    Raises
    ------
    ValueError
        A distance below 0 or beyond the path, or a radius that is not positive.

    Source
    ------
    Geometry of a circle of radius aₑ, to second order: h = d₁·d₂ / (2·aₑ). ITU-R P.452-18 and
    P.526 add the same term to terrain heights (from memory, clause not verified).

    Range
    -----
    Paths short against the Earth's radius; at 200 km the neglected terms are below 0.1 %.

    Known disagreements
    -------------------
    Handbooks write d₁·d₂/(12.75·k) with km and m; with 6371 km the constant is 12.742 (0.06 %).

    Examples
    --------
    >>> float(earth_bulge_m(25_000.0, 50_000.0, effective_earth_radius_km=8500.0).round(2))
    36.76
    >>> print(earth_bulge_m([0.0, 10_000.0, 20_000.0], 20_000.0, effective_earth_radius_km=6371.0).round(2))
    [0.   7.85 0.  ]
    """
    distance = np.asarray(distance_m, dtype=np.float64)
    length = np.asarray(path_length_m, dtype=np.float64)
    radius = np.asarray(effective_earth_radius_km, dtype=np.float64)
    if (radius <= 0.0).any():
        raise ValueError(f"effective_earth_radius_km is {radius.min():g}; it must be positive.")
    rest = length - distance
    if (distance < 0.0).any() or (rest < -1e-6).any():
        raise ValueError("distance_m must lie between 0 and path_length_m.")
    bulge = distance * np.maximum(rest, 0.0) / (2000.0 * radius)
    return np.asarray(bulge)[()]
