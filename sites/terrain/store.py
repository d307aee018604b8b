"""Terrain profiles along the geodesic, for many paths per call."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from sites.geodesy import destination, inverse
from sites.terrain.landcover import LandCover
from sites.terrain.lru import LeastRecentlyUsed
from sites.terrain.rasters import RasterFolder, Samples, missing_cells
from sites.terrain.tiles import Array, TerrainError, Tile

POINTS_PER_CHUNK = 500_000
MOST_POINTS_PER_PATH = 100_000

Key = tuple[float, float, float, float, int]


@dataclass(frozen=True)
class Profile:
    """One path's ground, from A to B; NaN where it is not known.

    Attributes
    ----------
    distance_m : from A, equally spaced, both ends included
    height_m : ground above sea level
    clutter_height_m : what stands on the ground; None without land cover
    missing_fraction : share of the points where no tile lies
    void_fraction : share of the points where a tile lies and holds no value
    missing_tiles : one-degree cells for which a tile would be needed
    """

    distance_m: Array
    height_m: Array
    clutter_height_m: Array | None
    missing_fraction: float
    void_fraction: float
    missing_tiles: tuple[str, ...]

    @property
    def is_complete(self) -> bool:
        """Whether every height is known."""
        return self.missing_fraction == 0.0 and self.void_fraction == 0.0


@dataclass(frozen=True)
class Profiles:
    """Profiles of n paths, padded with NaN to the longest.

    Attributes
    ----------
    distance_m, height_m, clutter_height_m : shape (n, most points); clutter None without land cover
    n_points, length_m, spacing_m : shape (n,)
    missing_fraction, void_fraction : shape (n,), see :class:`Profile`
    missing_tiles : per path, the one-degree cells for which a tile would be needed
    source : fingerprint of the tiles (and land cover) that were read
    """

    distance_m: Array
    height_m: Array
    clutter_height_m: Array | None
    n_points: npt.NDArray[np.intp]
    length_m: Array
    spacing_m: Array
    missing_fraction: Array
    void_fraction: Array
    missing_tiles: tuple[tuple[str, ...], ...]
    source: str

    def __len__(self) -> int:
        return len(self.n_points)

    def __getitem__(self, index: int) -> Profile:
        end = int(self.n_points[index])
        return Profile(
            distance_m=self.distance_m[index, :end],
            height_m=self.height_m[index, :end],
            clutter_height_m=None if self.clutter_height_m is None else self.clutter_height_m[index, :end],
            missing_fraction=float(self.missing_fraction[index]),
            void_fraction=float(self.void_fraction[index]),
            missing_tiles=self.missing_tiles[index],
        )

    @property
    def is_complete(self) -> npt.NDArray[np.bool_]:
        """Per path, whether every height is known."""
        complete: npt.NDArray[np.bool_] = (self.missing_fraction == 0.0) & (self.void_fraction == 0.0)
        return complete


@dataclass(frozen=True)
class _Ground:
    """What is remembered of one path: from its lesser to its greater end."""

    height_m: Array
    clutter_height_m: Array | None
    missing_fraction: float
    void_fraction: float
    missing_tiles: tuple[str, ...]

    @property
    def nbytes(self) -> int:
        return self.height_m.nbytes * (1 if self.clutter_height_m is None else 2) + 500


class TerrainStore:
    """The terrain of one folder. Tiles are indexed once; what was read is remembered. Thread-safe.

    Parameters
    ----------
    folder : GeoTIFF and SRTM (.hgt) tiles, heights in metres, any coordinate system with north up
    land_cover : classes and their heights, if clutter is wanted
    cache_mb : memory for parts of tiles, MB
    profile_cache_mb : memory for finished profiles, MB

    Attributes
    ----------
    tiles : what was found, finest first
    unreadable : file name → reason, for files that cannot be used
    fingerprint : changes with the files and with the land cover

    Raises
    ------
    TerrainError
        The folder does not exist.
    """

    def __init__(
        self,
        folder: Path | str,
        *,
        land_cover: LandCover | None = None,
        cache_mb: float = 256.0,
        profile_cache_mb: float = 64.0,
    ) -> None:
        self._raster = RasterFolder(folder, cache_mb=cache_mb)
        self._land_cover = land_cover
        self.folder = self._raster.folder
        self.tiles: tuple[Tile, ...] = self._raster.tiles
        self.unreadable = self._raster.unreadable
        self.fingerprint = self._raster.fingerprint
        if land_cover is not None:
            self.fingerprint += f"+{land_cover.fingerprint}"
        self._known: LeastRecentlyUsed[Key, _Ground] = LeastRecentlyUsed(
            int(profile_cache_mb * 1e6), lambda ground: ground.nbytes
        )

    def is_current(self) -> bool:
        """Whether the folders still hold the files that were indexed."""
        cover = self._land_cover
        return self._raster.is_current() and (cover is None or cover.raster.is_current())

    def sample(self, latitude_deg: npt.ArrayLike, longitude_deg: npt.ArrayLike) -> Samples:
        """Ground height above sea level at points, metres; NaN where not known, and why.

        Parameters
        ----------
        latitude_deg, longitude_deg : WGS 84, degrees, scalars or arrays; the result is 1-d
        """
        latitude, longitude = np.broadcast_arrays(
            np.atleast_1d(np.asarray(latitude_deg, dtype=np.float64)),
            np.atleast_1d(np.asarray(longitude_deg, dtype=np.float64)),
        )
        return self._raster.sample(latitude.reshape(-1), longitude.reshape(-1))

    def profiles(
        self,
        paths: npt.ArrayLike | Sequence[Sequence[float]],
        *,
        step_m: float | None = None,
        n_points: int | None = None,
    ) -> Profiles:
        """Ground profiles along the geodesics of many paths.

        Points are equally spaced, both ends included. Heights between posts are
        interpolated bilinearly. A path and the same path with its ends swapped give
        the same heights, reversed.

        Parameters
        ----------
        paths : shape (n, 4): latitude A, longitude A, latitude B, longitude B, degrees
        step_m : longest spacing of the points, metres; give this or ``n_points``
        n_points : points on every path, at least 2

        Returns
        -------
        Profiles

        Raises
        ------
        TerrainError
            Neither or both of ``step_m`` and ``n_points``; one out of range; a
            coordinate that is not a number.
        GeodesyError
            A latitude or longitude out of range.
        """
        ends = np.asarray(paths, dtype=np.float64).reshape(-1, 4)
        if not np.isfinite(ends).all():
            row = int(np.flatnonzero(~np.isfinite(ends).all(axis=1))[0])
            raise TerrainError(
                f"Path {row} has a coordinate that is not a number; give both ends in degrees."
            )
        swap = (ends[:, 0] > ends[:, 2]) | ((ends[:, 0] == ends[:, 2]) & (ends[:, 1] > ends[:, 3]))
        ends = np.where(swap[:, None], ends[:, [2, 3, 0, 1]], ends)
        length, azimuth, _ = inverse(ends[:, 0], ends[:, 1], ends[:, 2], ends[:, 3])
        counts = _point_counts(length, step_m, n_points)
        keys: list[Key] = [(*end, count) for end, count in zip(ends.tolist(), counts.tolist(), strict=True)]
        grounds: dict[Key, _Ground] = {}
        wanted: dict[Key, int] = {}
        for index, key in enumerate(keys):
            known = self._known.get(key)
            if known is not None:
                grounds[key] = known
            else:
                wanted.setdefault(key, index)
        for chunk in _chunks(list(wanted.values()), counts):
            azimuths = np.nan_to_num(azimuth[chunk])
            for index, ground in zip(
                chunk,
                self._read(ends[chunk, 0], ends[chunk, 1], azimuths, length[chunk], counts[chunk]),
                strict=True,
            ):
                grounds[keys[index]] = ground
                self._known.put(keys[index], ground)
        return self._assembled([grounds[key] for key in keys], swap, length, counts)

    def _read(
        self, latitude: Array, longitude: Array, azimuth: Array, length: Array, counts: npt.NDArray[np.intp]
    ) -> list[_Ground]:
        """Ground of paths that are not remembered: all their points in one go."""
        ends = np.cumsum(counts)
        starts = ends - counts
        path = np.repeat(np.arange(len(counts)), counts)
        step = np.arange(ends[-1]) - starts[path]
        along = length[path] * (step / (counts[path] - 1))
        point_latitude, point_longitude, _ = destination(
            latitude[path], longitude[path], azimuth[path], along
        )
        samples = self._raster.sample(point_latitude, point_longitude)
        clutter = None
        if self._land_cover is not None:
            clutter = self._land_cover.clutter_height_m(point_latitude, point_longitude)
        missing = np.add.reduceat(samples.missing.astype(np.float64), starts) / counts
        void = np.add.reduceat(samples.void.astype(np.float64), starts) / counts
        grounds = []
        for i, (start, end) in enumerate(zip(starts.tolist(), ends.tolist(), strict=True)):
            cells: tuple[str, ...] = ()
            if missing[i]:
                lacking = start + np.flatnonzero(samples.missing[start:end])
                cells = missing_cells(point_latitude[lacking], point_longitude[lacking])
            grounds.append(
                _Ground(
                    height_m=samples.values[start:end].copy(),
                    clutter_height_m=None if clutter is None else clutter[start:end].copy(),
                    missing_fraction=float(missing[i]),
                    void_fraction=float(void[i]),
                    missing_tiles=cells,
                )
            )
        return grounds

    def _assembled(
        self, grounds: list[_Ground], swap: npt.NDArray[np.bool_], length: Array, counts: npt.NDArray[np.intp]
    ) -> Profiles:
        most = int(counts.max()) if len(counts) else 0
        height = np.full((len(grounds), most), np.nan)
        clutter = None if self._land_cover is None else np.full((len(grounds), most), np.nan)
        for i, (ground, swapped, count) in enumerate(
            zip(grounds, swap.tolist(), counts.tolist(), strict=True)
        ):
            direction = slice(None, None, -1) if swapped else slice(None)
            height[i, :count] = ground.height_m[direction]
            if clutter is not None and ground.clutter_height_m is not None:
                clutter[i, :count] = ground.clutter_height_m[direction]
        step = np.arange(most)
        spacing = length / np.maximum(counts - 1, 1)
        distance = np.where(
            step < counts[:, None], length[:, None] * (step / np.maximum(counts - 1, 1)[:, None]), np.nan
        )
        return Profiles(
            distance_m=distance,
            height_m=height,
            clutter_height_m=clutter,
            n_points=counts,
            length_m=length,
            spacing_m=spacing,
            missing_fraction=np.array([ground.missing_fraction for ground in grounds]),
            void_fraction=np.array([ground.void_fraction for ground in grounds]),
            missing_tiles=tuple(ground.missing_tiles for ground in grounds),
            source=self.fingerprint,
        )


def _point_counts(length: Array, step_m: float | None, n_points: int | None) -> npt.NDArray[np.intp]:
    if (step_m is None) == (n_points is None):
        raise TerrainError("Give either step_m or n_points, not both and not neither.")
    if n_points is not None:
        counts = np.full(len(length), n_points, dtype=np.intp)
    else:
        if step_m is None or not step_m > 0.0:
            raise TerrainError(f"step_m is {step_m}; it must be positive, for example 90.")
        counts = np.maximum(np.ceil(length / step_m - 1e-9).astype(np.intp) + 1, 2)
    if len(counts) and not 2 <= counts.min() <= counts.max() <= MOST_POINTS_PER_PATH:
        worst = int(counts.min() if counts.min() < 2 else counts.max())
        raise TerrainError(
            f"A profile would have {worst} points; it must have 2 to {MOST_POINTS_PER_PATH}. Change the step."
        )
    return counts


def _chunks(indexes: list[int], counts: npt.NDArray[np.intp]) -> list[list[int]]:
    """Paths in portions that bound the memory one call takes."""
    chunks: list[list[int]] = []
    room = 0
    for index in indexes:
        if not chunks or counts[index] > room:
            chunks.append([])
            room = POINTS_PER_CHUNK
        chunks[-1].append(index)
        room -= int(counts[index])
    return chunks


_shared: dict[Path, TerrainStore] = {}
_shared_lock = threading.Lock()


def shared_store(folder: Path | str) -> TerrainStore:
    """The one store of this process for a folder; made anew when the folder's files change.

    Parameters
    ----------
    folder : see :class:`TerrainStore`

    Raises
    ------
    TerrainError
        The folder does not exist.
    """
    path = Path(folder).resolve()
    with _shared_lock:
        store = _shared.get(path)
        if store is None or not store.is_current():
            store = _shared[path] = TerrainStore(path)
        return store
