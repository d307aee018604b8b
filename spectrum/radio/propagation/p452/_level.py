"""The summary of level ground, whose maxima are known without looking along a profile.

Over level ground h metres below an antenna the slope c (D − x) − h/x (c = 500/a, km and m) is steepest at
x = √(h/c), the antenna's horizon; the smooth surface is the ground itself, nothing is rough, and the
smooth path is the path. Only where the antennas see each other the place of the largest ν must be looked for.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from spectrum.radio.propagation._summary import Edges, ProfileSummary
from spectrum.radio.ranges import Array

LEAST_FRACTION = 1e-6
COARSE_STEPS = 25
NEWTON_STEPS = 4


def level_summary(
    length_km: Array,
    height_tx_agl_m: Array,
    height_rx_agl_m: Array,
    ground_m: Array,
    radii_km: Sequence[Array],
) -> ProfileSummary:
    """What an endlessly fine profile of level, inland ground would give (see :func:`summarise`)."""
    none = np.zeros_like(length_km)
    horizons = [_horizons(length_km, height_tx_agl_m, height_rx_agl_m, r) for r in radii_km]
    edges = []
    for (near, far), radius in zip(horizons, radii_km, strict=True):
        c = 500.0 / radius
        slope_tx = c * (length_km - near) - height_tx_agl_m / near
        slope_rx = c * (length_km - far) - height_rx_agl_m / far
        edges.append((slope_tx, slope_rx, c))
    step = (height_rx_agl_m - height_tx_agl_m) / length_km
    nearest = 0.5 * length_km
    actual = []
    for number, (slope_tx, slope_rx, c) in enumerate(edges):
        nu = none.copy()
        seen = np.flatnonzero(~(slope_tx > step))
        if len(seen):
            d, tx, rx = length_km[seen], height_tx_agl_m[seen], height_rx_agl_m[seen]
            fraction = np.clip(
                fraction_of_largest_nu(d, tx, rx, c[seen]), LEAST_FRACTION, 1.0 - LEAST_FRACTION
            )
            at = fraction * d
            root = np.sqrt(at * (d - at))
            nu[seen] = c[seen] * root - (tx + step[seen] * at) / root
            if number == 0:
                nearest[seen] = at
        actual.append(Edges(slope_tx, slope_rx, nu))
    near, far = horizons[0]
    return ProfileSummary(
        length_km=length_km,
        ground_tx_m=ground_m,
        ground_rx_m=ground_m,
        height_tx_m=ground_m + height_tx_agl_m,
        height_rx_m=ground_m + height_rx_agl_m,
        bare=actual[0],
        actual=tuple(actual),
        smooth=tuple(actual),
        horizon_first_km=near,
        horizon_last_km=length_km - far,
        nu_last_km=nearest,
        surface_tx_m=ground_m,
        surface_rx_m=ground_m,
        diffraction_surface_tx_m=ground_m,
        diffraction_surface_rx_m=ground_m,
        roughness_m=none,
        over_sea_fraction=none,
        longest_land_km=length_km,
        longest_inland_km=length_km,
    )


def _horizons(length_km: Array, tx_m: Array, rx_m: Array, radius_km: Array) -> tuple[Array, Array]:
    """Distance of each antenna's horizon from it, within the path."""
    reach = np.sqrt(radius_km / 500.0)
    least, most = LEAST_FRACTION * length_km, (1.0 - LEAST_FRACTION) * length_km
    return (
        np.minimum(np.maximum(np.sqrt(tx_m) * reach, least), most),
        np.minimum(np.maximum(np.sqrt(rx_m) * reach, least), most),
    )


def fraction_of_largest_nu(length_km: Array, tx_m: Array, rx_m: Array, curvature: Array) -> Array:
    """Place of the largest ν over straight ground, as a fraction of the path.

    With e^{2u} = d1/d2 the ν of a point is proportional to K/(2 cosh u) − B e^{−u} − C e^{u}: a coarse
    search over u, then Newton's steps on its derivative.
    """
    k = curvature * length_km * length_km
    u = np.zeros_like(length_km)
    best = np.full_like(length_km, -np.inf)
    for trial in np.linspace(-6.0, 6.0, COARSE_STEPS):
        value = k / (2.0 * np.cosh(trial)) - tx_m * np.exp(-trial) - rx_m * np.exp(trial)
        better = value > best
        u[better] = trial
        best = np.maximum(best, value)
    for _ in range(NEWTON_STEPS):
        up = np.exp(u)
        down = 1.0 / up
        sinh, cosh = 0.5 * (up - down), 0.5 * (up + down)
        fall, rise = tx_m * down, rx_m * up
        first = -k * sinh / (2.0 * cosh**2) + fall - rise
        second = np.minimum(k * (sinh**2 - 1.0) / (2.0 * cosh**3) - fall - rise, -1e-12)
        u = np.clip(u - np.clip(first / second, -0.5, 0.5), -7.0, 7.0)
    fraction: Array = 1.0 / (1.0 + np.exp(-2.0 * u))
    return fraction


def is_level(ground_tx_m: Array, ground_rx_m: Array, inland: npt.NDArray[np.bool_]) -> bool:
    """Whether every path runs over level, inland ground."""
    return bool(inland.all() and (ground_tx_m == ground_rx_m).all())
