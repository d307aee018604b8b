"""Basic transmission loss of pairs of stations: P.452-18 over terrain, else over the smooth earth.

Each pair says which of these was used:

- *same site*: free space over the spacing of the antennas;
- *terrain*: P.452-18 over the profile, where tiles cover it without a gap;
- *smooth earth*: P.452-18 over a bare earth at the height of the lower site, which leaves
  out every hill and so gives no more loss than a path with the same ends would have on flat ground;
- *free space only*: below 100 MHz and above 50 GHz, where P.452 does not hold; the least loss there can be.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final

import numpy as np

from sites.terrain import TerrainStore
from spectrum.radio.propagation.free_space import free_space_loss_db
from spectrum.radio.propagation.p452 import (
    Climate,
    P452Result,
    basic_transmission_loss,
    path_centre_latitude_deg,
    smooth_earth_loss,
)
from spectrum.radio.propagation.profiles import PathProfiles

from .columns import FloatArray, IntArray
from .network import Network

SAME_SITE: Final = 0
TERRAIN: Final = 1
SMOOTH_EARTH: Final = 2
FREE_SPACE_ONLY: Final = 3
# ITU-R P.452-18 recommends 2: about 0.1 to 50 GHz.
LEAST_FREQUENCY_MHZ: Final = 100.0
GREATEST_FREQUENCY_MHZ: Final = 50_000.0
# An antenna on the ground would have no path at all in the model.
LEAST_HEIGHT_M: Final = 1.0
# Terrain is read at about this spacing; a profile has at least 20 and at most 600 points.
PROFILE_STEP_M: Final = 100.0
PROFILE_POINTS: Final = (20, 600)
POINTS_TOGETHER: Final = 20
PAIRS_PER_BLOCK: Final = 2048


@dataclass
class PathLoss:
    """One entry a pair, dB: the loss at two percentages of time, and the parts of the first."""

    long_db: FloatArray
    short_db: FloatArray
    free_space_db: FloatArray
    diffraction_db: FloatArray
    troposcatter_db: FloatArray
    ducting_db: FloatArray
    model: IntArray
    missing_terrain: FloatArray

    @classmethod
    def unknown(cls, pairs: int) -> PathLoss:
        """Room for the losses of so many pairs."""
        columns = {f.name: np.full(pairs, np.nan) for f in fields(cls)}
        return cls(**{**columns, "model": np.zeros(pairs, dtype=np.int64)})


@dataclass(frozen=True)
class Paths:
    """What the loss of pairs depends on. Heights are of the antennas above the sea (or a common level)."""

    tx: IntArray
    rx: IntArray
    distance_km: FloatArray
    slant_km: FloatArray
    same_site: np.ndarray
    gain_tx_dbi: FloatArray
    gain_rx_dbi: FloatArray
    frequency_mhz: FloatArray
    long_percent: FloatArray
    short_percent: FloatArray

    @property
    def percentages(self) -> FloatArray:
        """The percentages of time as rows: the long-term one and, where it differs, the short-term one."""
        if self.short_percent is self.long_percent:
            return self.long_percent[None, :]
        return np.stack((self.long_percent, self.short_percent))

    def part(self, chosen: np.ndarray) -> Paths:
        """The pairs that are chosen."""
        values = {f.name: getattr(self, f.name)[chosen] for f in fields(self)}
        if self.short_percent is self.long_percent:
            values["short_percent"] = values["long_percent"]
        return Paths(**values)


def path_loss(network: Network, paths: Paths, climate: Climate, terrain: TerrainStore | None) -> PathLoss:
    """The loss of every pair; NaN nowhere."""
    loss = PathLoss.unknown(len(paths.tx))
    loss.free_space_db = free_space_loss_db(paths.frequency_mhz, paths.slant_km)
    loss.missing_terrain = np.ones(len(paths.tx))
    outside = (paths.frequency_mhz < LEAST_FREQUENCY_MHZ) | (paths.frequency_mhz > GREATEST_FREQUENCY_MHZ)
    for chosen, model in ((paths.same_site, SAME_SITE), (outside & ~paths.same_site, FREE_SPACE_ONLY)):
        loss.model[chosen] = model
        loss.long_db[chosen] = loss.short_db[chosen] = loss.free_space_db[chosen]
    remaining = np.flatnonzero(~paths.same_site & ~outside)
    for start in range(0, len(remaining), PAIRS_PER_BLOCK):
        block = remaining[start : start + PAIRS_PER_BLOCK]
        over_terrain = _over_terrain(network, paths.part(block), climate, terrain, loss, block)
        rest = block[~over_terrain]
        if len(rest):
            _smooth(network, paths.part(rest), climate, loss, rest)
    return loss


def _smooth(network: Network, paths: Paths, climate: Climate, loss: PathLoss, at: IntArray) -> None:
    ground_tx, ground_rx = _ground(network, paths.tx, paths.rx)
    lower = np.minimum(ground_tx, ground_rx)
    height_tx, height_rx = heights_over_lower(network, paths.tx, paths.rx)

    result = smooth_earth_loss(
        paths.frequency_mhz,
        paths.distance_km,
        np.maximum(height_tx, LEAST_HEIGHT_M),
        np.maximum(height_rx, LEAST_HEIGHT_M),
        paths.percentages,
        lower,
        lower,
        latitude_deg=_centre_latitude(network, paths),
        gain_tx_dbi=paths.gain_tx_dbi,
        gain_rx_dbi=paths.gain_rx_dbi,
        vertical=network.vertical[paths.tx],
        climate=climate,
    )
    _keep(loss, at, result, SMOOTH_EARTH)


def profile_point_count(distance_km: FloatArray | np.float64) -> IntArray:
    """How many points a terrain profile of each length gets, in steps of 20 so that paths can be read together."""
    points = np.ceil((distance_km * 1e3 / PROFILE_STEP_M + 1) / POINTS_TOGETHER) * POINTS_TOGETHER
    return np.clip(points, *PROFILE_POINTS).astype(np.int64)


def _over_terrain(
    network: Network,
    paths: Paths,
    climate: Climate,
    terrain: TerrainStore | None,
    loss: PathLoss,
    at: IntArray,
) -> np.ndarray:
    """Compute the pairs whose profile is known from end to end; True for those."""
    covered = np.zeros(len(paths.tx), dtype=bool)
    if terrain is None or not len(paths.tx):
        return covered
    corners = np.column_stack(
        [
            network.latitude_deg[paths.tx],
            network.longitude_deg[paths.tx],
            network.latitude_deg[paths.rx],
            network.longitude_deg[paths.rx],
        ]
    )
    points = profile_point_count(paths.distance_km)
    for count in np.unique(points):
        group = np.flatnonzero(points == count)
        profiles = terrain.profiles(corners[group], n_points=int(count))
        gap = np.asarray(profiles.missing_fraction) + np.asarray(profiles.void_fraction)
        loss.missing_terrain[at[group]] = gap
        whole = gap == 0.0
        group = group[whole]
        if not len(group):
            continue
        part = paths.part(group)
        clutter = profiles.clutter_height_m
        shape = PathProfiles(
            profiles.distance_m[whole] / 1e3,
            profiles.height_m[whole],
            None if clutter is None else np.nan_to_num(clutter[whole], nan=0.0),
        )

        result = basic_transmission_loss(
            shape,
            frequency_ghz=part.frequency_mhz / 1e3,
            time_percent=part.percentages,
            height_tx_agl_m=np.maximum(network.antenna_height_agl_m[part.tx], LEAST_HEIGHT_M),
            height_rx_agl_m=np.maximum(network.antenna_height_agl_m[part.rx], LEAST_HEIGHT_M),
            latitude_deg=_centre_latitude(network, part),
            gain_tx_dbi=part.gain_tx_dbi,
            gain_rx_dbi=part.gain_rx_dbi,
            vertical=network.vertical[part.tx],
            climate=climate,
        )
        _keep(loss, at[group], result, TERRAIN)
        covered[group] = True
    return covered


def _keep(loss: PathLoss, at: IntArray, result: P452Result, model: int) -> None:
    """Take over the loss at both percentages (the last rows of one are those of the other if they are equal)."""
    loss.long_db[at] = result.lb_db[0]
    loss.short_db[at] = result.lb_db[-1]
    loss.free_space_db[at] = result.lbfsg_db[0]
    loss.diffraction_db[at] = result.ldp_db[0]
    loss.troposcatter_db[at] = result.lbs_db[0]
    loss.ducting_db[at] = result.lba_db[0]
    loss.model[at] = model


def heights_over_lower(network: Network, tx: IntArray, rx: IntArray) -> tuple[FloatArray, FloatArray]:
    """Heights of both antennas above the ground of the lower site, m; both above their own if one is unknown."""
    ground_tx, ground_rx = _ground(network, tx, rx)
    lower = np.minimum(ground_tx, ground_rx)
    return (
        network.antenna_height_agl_m[tx] + (ground_tx - lower),
        network.antenna_height_agl_m[rx] + (ground_rx - lower),
    )


def _ground(network: Network, tx: IntArray, rx: IntArray) -> tuple[FloatArray, FloatArray]:
    """Ground heights at both ends; both 0 where one is not known."""
    known = network.ground_known[tx] & network.ground_known[rx]
    return (
        np.where(known, network.ground_height_m[tx], 0.0),
        np.where(known, network.ground_height_m[rx], 0.0),
    )


def _centre_latitude(network: Network, paths: Paths) -> FloatArray:
    return path_centre_latitude_deg(
        network.latitude_deg[paths.tx],
        network.longitude_deg[paths.tx],
        network.latitude_deg[paths.rx],
        network.longitude_deg[paths.rx],
        paths.distance_km,
    )
