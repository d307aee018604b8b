"""Which of many positions lie close together, without comparing each with each."""

from __future__ import annotations

import itertools
from collections import defaultdict

import numpy as np
import numpy.typing as npt

from sites.geodesy import ecef, inverse

_NEIGHBOURS = tuple(itertools.product((-1, 0, 1), repeat=3))


def pairs_within(
    latitude_deg: npt.NDArray[np.float64], longitude_deg: npt.NDArray[np.float64], limit_m: float
) -> list[tuple[int, int, float]]:
    """Pairs (i < j) closer than ``limit_m`` along the geodesic, with their distance in metres.

    The positions are put into cubes of that size in space: two that are closer lie in
    cubes that touch, because the straight chord is never longer than the geodesic. That
    holds at the poles and across the antimeridian, and needs one pass.
    """
    cubes: dict[tuple[int, int, int], list[int]] = defaultdict(list)
    cells = np.floor(ecef(latitude_deg, longitude_deg) / limit_m).astype(np.int64)
    candidates = []
    for i, (x, y, z) in enumerate(cells.tolist()):
        for dx, dy, dz in _NEIGHBOURS:
            candidates += [(j, i) for j in cubes.get((x + dx, y + dy, z + dz), ())]
        cubes[x, y, z].append(i)
    if not candidates:
        return []
    first, second = np.array(candidates).T
    metres, _, _ = inverse(
        latitude_deg[first], longitude_deg[first], latitude_deg[second], longitude_deg[second]
    )
    return sorted((i, j, float(m)) for (i, j), m in zip(candidates, metres, strict=True) if m < limit_m)
