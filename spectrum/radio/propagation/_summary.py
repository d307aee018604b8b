"""What diffraction and geometry need to know of a profile: a few maxima and sums, one number per path.

:func:`summarise` takes them over blocks of profiles, so that everything after it works on one
number per path. Nearly all the time of P.452-18 goes here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from spectrum.radio.propagation.profiles import INLAND, SEA, PathProfiles
from spectrum.radio.ranges import Array

CLUTTER_FREE_KM = 0.05
"""Clutter closer than this to an end of the path is not added to the terrain (P.452-18 §3.2.1)."""

ROWS_PER_BLOCK = 128
"""Rows taken at once: their working arrays stay in the processor's cache."""


@dataclass(frozen=True)
class Edges:
    """Largest values along the profile under one earth radius, for Bullington's construction.

    ``slope_tx``, ``slope_rx`` are the steepest slopes (m/km) seen from the ends; ``nu_scaled`` is the
    largest ν times √(λ/(0.002 d)), λ in m and d in km.
    """

    slope_tx: Array
    slope_rx: Array
    nu_scaled: Array


@dataclass(frozen=True)
class ProfileSummary:
    """One number per path of what P.526 and P.452 take from a profile (km, m, m/km)."""

    length_km: Array
    ground_tx_m: Array
    ground_rx_m: Array
    height_tx_m: Array
    height_rx_m: Array
    bare: Edges
    actual: tuple[Edges, ...]
    smooth: tuple[Edges, ...]
    horizon_first_km: Array
    horizon_last_km: Array
    nu_last_km: Array
    surface_tx_m: Array
    surface_rx_m: Array
    diffraction_surface_tx_m: Array
    diffraction_surface_rx_m: Array
    roughness_m: Array
    over_sea_fraction: Array
    longest_land_km: Array
    longest_inland_km: Array

    @property
    def step_slope(self) -> Array:
        """Slope of the straight line between the antennas, m/km."""
        return (self.height_rx_m - self.height_tx_m) / self.length_km

    @property
    def trans_horizon(self) -> npt.NDArray[np.bool_]:
        """Terrain stands above the line between the antennas."""
        return self.bare.slope_tx > self.step_slope


def summarise(
    paths: PathProfiles, height_tx_agl_m: Array, height_rx_agl_m: Array, radii_km: Sequence[Array]
) -> ProfileSummary:
    """Take from each profile what the diffraction and geometry formulas need.

    Parameters
    ----------
    paths : the profiles
    height_tx_agl_m, height_rx_agl_m : (paths,), m, antenna heights above ground
    radii_km : effective earth radii, each (paths,); the first one rules the geometry

    Returns
    -------
    ProfileSummary

    Source
    ------
    P.452-18 Annex 1, Attachment 2 (path profile analysis) and §4.2.1 (Bullington).

    Range
    -----
    Profiles of three points or more; the arguments are not checked here.

    Examples
    --------
    >>> paths = PathProfiles([[0.0, 5.0, 10.0]], [[10.0, 80.0, 20.0]])
    >>> summary = summarise(paths, np.array([30.0]), np.array([30.0]), [np.array([8500.0])])
    >>> summary.trans_horizon, summary.bare.slope_tx.round(3)
    (array([ True]), array([8.294]))
    >>> summarise(paths, np.array([90.0]), np.array([90.0]), [np.array([8500.0])]).trans_horizon
    array([False])
    """
    parts = []
    for start in range(0, len(paths), ROWS_PER_BLOCK):
        part = slice(start, start + ROWS_PER_BLOCK)
        curvatures = [500.0 / radius[part] for radius in radii_km]
        parts.append(_Block(paths, part, height_tx_agl_m[part], height_rx_agl_m[part]).summary(curvatures))
    return parts[0] if len(parts) == 1 else _joined(parts)


def _joined(parts: list[ProfileSummary]) -> ProfileSummary:
    def edges(items: Sequence[Edges]) -> Edges:
        return Edges(*(np.concatenate([getattr(i, f.name) for i in items]) for f in fields(Edges)))

    values: dict[str, object] = {}
    for field in fields(ProfileSummary):
        column = [getattr(part, field.name) for part in parts]
        if isinstance(column[0], Edges):
            values[field.name] = edges(column)
        elif isinstance(column[0], tuple):
            values[field.name] = tuple(edges(group) for group in zip(*column, strict=True))
        else:
            values[field.name] = np.concatenate(column)
    return ProfileSummary(**values)  # type: ignore[arg-type]


class _Block:
    """Working arrays of some rows. Interior points only, where not said otherwise."""

    def __init__(
        self, paths: PathProfiles, part: slice, height_tx_agl_m: Array, height_rx_agl_m: Array
    ) -> None:
        d, h, clutter, zone = paths.rows(part)
        self.full_d, self.zone = d, zone
        self.length = d[:, -1]
        self.h0, self.hn = h[:, 0], h[:, -1]
        self.hts, self.hrs = self.h0 + height_tx_agl_m, self.hn + height_rx_agl_m
        self.step = (self.hrs - self.hts) / self.length
        self.d, self.h = np.ascontiguousarray(d[:, 1:-1]), np.ascontiguousarray(h[:, 1:-1])
        self.rest = self.length[:, None] - self.d
        self.inverse_d, self.inverse_rest = 1.0 / self.d, 1.0 / self.rest
        self.root = np.sqrt(self.d * self.rest)
        self.inverse_root = 1.0 / self.root
        self.work = np.empty_like(self.d)
        self.g: Array | None = None
        if clutter is not None and clutter.any():
            # The comparison with d > D − 0.05, not D − d < 0.05: in floating point they differ
            # for a point at exactly 50 m, which keeps its clutter.
            near = (self.d < CLUTTER_FREE_KM) | (self.d > self.length[:, None] - CLUTTER_FREE_KM)
            self.g = self.h + np.where(near, 0.0, clutter[:, 1:-1])

    def relative(self, height: Array) -> tuple[Array, Array, Array]:
        """Slopes from both ends and height over the direct line, scaled to ν, on the flat earth."""
        over_tx = height - self.hts[:, None]
        slope_tx = over_tx * self.inverse_d
        slope_rx = (height - self.hrs[:, None]) * self.inverse_rest
        over_tx -= self.step[:, None] * self.d
        over_tx *= self.inverse_root
        return slope_tx, slope_rx, over_tx

    def raised(self, base: Array, shape: Array, curvature: Array) -> Array:
        """``base`` with the earth's bulge added; the result lives until the next call."""
        np.multiply(shape, curvature[:, None], out=self.work)
        self.work += base
        return self.work

    def edges(self, base: tuple[Array, Array, Array], curvature: Array) -> Edges:
        return Edges(
            self.raised(base[0], self.rest, curvature).max(axis=1),
            self.raised(base[1], self.d, curvature).max(axis=1),
            self.raised(base[2], self.root, curvature).max(axis=1),
        )

    def smooth_edges(self, height_tx: Array, height_rx: Array, curvature: Array) -> Edges:
        """The same over the sphere without terrain, antennas at these heights above it."""
        c = curvature[:, None]
        step = ((height_rx - height_tx) / self.length)[:, None]
        tx = height_tx[:, None]
        slope_tx = (c * self.rest - tx * self.inverse_d).max(axis=1)
        slope_rx = (c * self.d - height_rx[:, None] * self.inverse_rest).max(axis=1)
        nu = (c * self.root - (tx + step * self.d) * self.inverse_root).max(axis=1)
        return Edges(slope_tx, slope_rx, nu)

    def at(self, index: npt.NDArray[np.intp]) -> Array:
        picked: Array = self.d[np.arange(len(self.d)), index]
        return picked

    def last_maximum(self, values: Array) -> npt.NDArray[np.intp]:
        from_end = values[:, ::-1].argmax(axis=1)
        index: npt.NDArray[np.intp] = values.shape[1] - 1 - from_end
        return index

    def summary(self, curvatures: list[Array]) -> ProfileSummary:
        base = self.relative(self.h)
        rows = np.arange(len(self.d))
        values = self.raised(base[0], self.rest, curvatures[0])
        first = values.argmax(axis=1)
        slope_tx = values[rows, first]
        values = self.raised(base[1], self.d, curvatures[0])
        last = self.last_maximum(values)
        slope_rx = values[rows, last]
        values = self.raised(base[2], self.root, curvatures[0])
        nearest = self.last_maximum(values)
        bare = Edges(slope_tx, slope_rx, values[rows, nearest])
        if self.g is None:
            actual = (bare, *(self.edges(base, c) for c in curvatures[1:]))
        else:
            raised = self.relative(self.g)
            actual = tuple(self.edges(raised, c) for c in curvatures)
        surface_tx, surface_rx = self.smooth_surface()
        clear_tx, clear_rx = self.below_obstruction(surface_tx, surface_rx, base)
        over = (self.hts - clear_tx, self.hrs - clear_rx)
        blocked = bare.slope_tx > self.step
        from_km = np.where(blocked, self.at(first), self.at(nearest))
        to_km = np.where(blocked, self.at(last), from_km)
        sea, land, inland = self.zones()
        return ProfileSummary(
            length_km=self.length,
            ground_tx_m=self.h0,
            ground_rx_m=self.hn,
            height_tx_m=self.hts,
            height_rx_m=self.hrs,
            bare=bare,
            actual=actual,
            smooth=tuple(self.smooth_edges(*over, c) for c in curvatures),
            horizon_first_km=self.at(first),
            horizon_last_km=self.at(last),
            nu_last_km=self.at(nearest),
            surface_tx_m=surface_tx,
            surface_rx_m=surface_rx,
            diffraction_surface_tx_m=clear_tx,
            diffraction_surface_rx_m=clear_rx,
            roughness_m=self.roughness(surface_tx, surface_rx, from_km, to_km),
            over_sea_fraction=sea,
            longest_land_km=land,
            longest_inland_km=inland,
        )

    def smooth_surface(self) -> tuple[Array, Array]:
        """Heights at the two ends of the straight line fitted to the terrain by least squares."""
        d, length = self.full_d, self.length
        span = (d[:, 2:] - d[:, :-2]) * self.h
        first, last = d[:, 1], d[:, -2]
        v1 = span.sum(axis=1) + self.h0 * first + self.hn * (length - last)
        span *= d[:, :-2] + self.d + d[:, 2:]
        v2 = span.sum(axis=1) + self.h0 * first * first + self.hn * (length - last) * (2.0 * length + last)
        squared = length * length
        return (2.0 * v1 * length - v2) / squared, (v2 - v1 * length) / squared

    def below_obstruction(
        self, surface_tx: Array, surface_rx: Array, base: tuple[Array, Array, Array]
    ) -> tuple[Array, Array]:
        """The fitted line lowered for diffraction where terrain obstructs the path, never above the ends."""
        angle_tx = base[0].max(axis=1) - self.step
        angle_rx = base[1].max(axis=1) + self.step
        np.multiply(base[2], self.root, out=self.work)
        obstruction = np.maximum(self.work.max(axis=1), 0.0)
        total = np.where(obstruction > 0.0, angle_tx + angle_rx, 1.0)
        lowered_tx = surface_tx - obstruction * angle_tx / total
        lowered_rx = surface_rx - obstruction * angle_rx / total
        return np.minimum(lowered_tx, self.h0), np.minimum(lowered_rx, self.hn)

    def roughness(self, surface_tx: Array, surface_rx: Array, from_km: Array, to_km: Array) -> Array:
        """Greatest height of terrain over the smooth surface between the two horizons."""
        start, end = np.minimum(surface_tx, self.h0), np.minimum(surface_rx, self.hn)
        np.multiply(self.d, ((end - start) / self.length)[:, None], out=self.work)
        np.subtract(self.h, self.work, out=self.work)
        self.work[(self.d < from_km[:, None]) | (self.d > to_km[:, None])] = -np.inf
        highest: Array = self.work.max(axis=1) - start
        return highest

    def zones(self) -> tuple[Array, Array, Array]:
        """Part of the path over sea; longest stretch of land; longest stretch of inland."""
        none = np.zeros_like(self.length)
        if self.zone is None or (self.zone == INLAND).all():
            return none, self.length, self.length
        half = 0.5 * np.diff(self.full_d, axis=1)
        cell = np.pad(half, ((0, 0), (0, 1))) + np.pad(half, ((0, 0), (1, 0)))
        sea = np.where(self.zone == SEA, cell, 0.0).sum(axis=1) / self.length
        return sea, _longest(self.zone != SEA, cell), _longest(self.zone == INLAND, cell)


def _longest(member: npt.NDArray[np.bool_], cell: Array) -> Array:
    covered = np.cumsum(np.where(member, cell, 0.0), axis=1)
    before = np.maximum.accumulate(np.where(member, 0.0, covered), axis=1)
    longest: Array = (covered - before).max(axis=1)
    return longest
