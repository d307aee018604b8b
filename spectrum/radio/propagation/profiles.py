"""Terrain profiles of many paths.

Rows may differ in length: a short row is padded with NaN distances. Where sums are taken over the
rows, :meth:`PathProfiles.rows` turns the padding into copies of the last point but one, which add
segments of no length and change neither a maximum nor a sum.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spectrum.radio.ranges import Array, ArrayLike, RadioRangeError

COASTAL_LAND, INLAND, SEA = 1, 2, 3
"""Radio-climatic zones A1, A2 and B of P.452-18 Table 1, numbered as its data files number them."""


@dataclass(frozen=True)
class PathProfiles:
    """Terrain under many paths.

    Attributes
    ----------
    distance_km : (paths, points), km from the transmitter, from 0 upward; NaN marks the padding of
        short rows. One row of (points,) serves all paths alike
    terrain_m : (paths, points), m above mean sea level. NaN inside a path means "not known" and
        makes every result of that path NaN
    clutter_m : (paths, points) or None, m, representative height of ground cover
    zone : (paths, points), one number for all, or None (all inland): 1 coastal land, 2 inland, 3 sea

    Raises
    ------
    ValueError
        Shapes that do not match, fewer than three points, distances that do not start at 0 or do
        not rise, a zone that is not 1, 2 or 3.

    Examples
    --------
    >>> paths = PathProfiles([[0.0, 5.0, 10.0]], [[10.0, 40.0, 20.0]])
    >>> paths.length_km
    array([10.])
    >>> ragged = PathProfiles([[0.0, 1.0, 2.0, 3.0], [0.0, 4.0, 9.0, np.nan]], np.zeros((2, 4)))
    >>> ragged.points
    array([4, 3])
    """

    distance_km: Array
    terrain_m: Array
    clutter_m: Array | None = None
    zone: npt.NDArray[np.int8] | None = None

    def __init__(
        self,
        distance_km: ArrayLike,
        terrain_m: ArrayLike,
        clutter_m: ArrayLike | None = None,
        zone: npt.ArrayLike | None = None,
    ) -> None:
        height = np.atleast_2d(np.asarray(terrain_m, dtype=np.float64))
        distance = np.atleast_2d(np.asarray(distance_km, dtype=np.float64))
        if height.ndim != 2 or height.shape[1] < 3:
            raise ValueError(
                f"terrain_m has shape {height.shape}; (paths, points) with 3 points or more is needed."
            )
        cover = None if clutter_m is None else np.atleast_2d(np.asarray(clutter_m, dtype=np.float64))
        codes = None if zone is None or np.ndim(zone) == 0 else np.atleast_2d(np.asarray(zone))
        for name, array in (("distance_km", distance), ("clutter_m", cover), ("zone", codes)):
            if array is not None and array.shape not in {height.shape, (1, height.shape[1])}:
                raise ValueError(f"{name} has shape {array.shape}; terrain_m has {height.shape}.")
        if zone is not None and not np.isin(np.asarray(zone), (COASTAL_LAND, INLAND, SEA)).all():
            raise ValueError("zone holds a number that is not 1 (coastal land), 2 (inland) or 3 (sea).")
        _check_distances(distance)
        if cover is not None and (cover < 0.0).any():
            raise RadioRangeError("clutter_m", float(np.nanmin(cover)), 0.0, np.inf)
        if codes is None and zone is not None:
            codes = np.full((1, height.shape[1]), zone)
        object.__setattr__(self, "distance_km", np.broadcast_to(distance, height.shape))
        object.__setattr__(self, "terrain_m", height)
        object.__setattr__(self, "clutter_m", None if cover is None else np.broadcast_to(cover, height.shape))
        small = None if codes is None else np.broadcast_to(codes.astype(np.int8), height.shape)
        object.__setattr__(self, "zone", small)

    def __len__(self) -> int:
        return int(self.terrain_m.shape[0])

    @property
    def points(self) -> npt.NDArray[np.intp]:
        """Number of points of each path."""
        count: npt.NDArray[np.intp] = np.count_nonzero(~np.isnan(self.distance_km), axis=1)
        return count

    @property
    def length_km(self) -> Array:
        """Length of each path in km."""
        ends: Array = self.distance_km[np.arange(len(self)), self.points - 1]
        return ends

    def rows(self, part: slice) -> tuple[Array, Array, Array | None, npt.NDArray[np.int8] | None]:
        """Distance, terrain, clutter and zone of some rows, short rows filled as the module says."""
        distance, terrain = self.distance_km[part], self.terrain_m[part]
        clutter = None if self.clutter_m is None else self.clutter_m[part]
        zone = None if self.zone is None else self.zone[part]
        if not np.isnan(distance[:, -1]).any():
            return distance, terrain, clutter, zone
        last = np.count_nonzero(~np.isnan(distance), axis=1)[:, None] - 1
        index = np.minimum(np.arange(terrain.shape[1]), last - 1)
        index[:, -1:] = last
        row = np.arange(len(index))[:, None]
        return (
            distance[row, index],
            terrain[row, index],
            None if clutter is None else clutter[row, index],
            None if zone is None else zone[row, index],
        )


def _check_distances(distance: Array) -> None:
    if (distance[:, 0] != 0.0).any():
        raise ValueError("distance_km must begin with 0 in every row; it is counted from the transmitter.")
    step = distance[:, 1:] - distance[:, :-1]
    missing = np.isnan(distance)
    padded = bool(missing.any())
    if (step <= 0.0).any() or (padded and (missing[:, :-1] & ~missing[:, 1:]).any()):
        raise ValueError("distance_km must rise from point to point in every row; NaN may only fill its end.")
    if padded and missing[:, 2].any():
        raise ValueError(
            "distance_km has a row of fewer than 3 points; a profile needs at least one between its ends."
        )
