"""Counts of ordered pairs, interferer's transmitter → victim's receiver, by distance and pointing.

Conventions
-----------
- One row is one licensed transmit frequency on one directed path: it transmits at its
  transmit position and is received at its receive position, on the same frequency.
  A pair takes the transmit end of one row and the receive end of another.
- Pairs are ordered: (a, b) and (b, a) are two. Rows are not merged: two rows that repeat
  each other make pairs of their own.
- Rows of one licence (the same licence number, letter for letter) make no pair.
- Frequencies are whole hertz. Equal means equal; apart means 0 < |Δf| ≤ 30 MHz, 30 MHz itself included.
- Distance is the geodesic on WGS 84 between the two positions as stated, no heights: the
  interferer's transmit position to the victim's receive position.
- Off-axis angles are differences of geodesic azimuths on WGS 84, 0…180 degrees. At the interferer's
  transmitter: between the azimuth to its own receiver and the azimuth to the victim's receiver.
  At the victim's receiver: between the azimuth to its own transmitter and the azimuth to the
  interferer's transmitter. The azimuth is always the one at the position where the antenna stands.
- All limits are inclusive (at most): 100 km, 50 m, 30 km, 5 degrees. *Beyond* 50 m is more than 50 m.
- Where a position has no azimuth to another (they coincide), the angle is not at most 5 degrees.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from sites.geodesy import ecef, inverse
from spectrum.conflicts.columns import FloatArray, IntArray
from spectrum.conflicts.network import expanded

WITHIN_M: Final = 100_000.0
CO_LOCATED_M: Final = 50.0
NEAR_M: Final = 30_000.0
ON_AXIS_DEG: Final = 5.0
APART_HZ: Final = 30_000_000
VICTIMS_PER_BLOCK: Final = 256
# A chord is never longer than its geodesic; this covers the rounding of the chord itself.
CHORD_SLACK_M: Final = 0.01


@dataclass(frozen=True)
class Paths:
    """Directed paths, one entry a row: who may transmit what from where to where."""

    licence: IntArray
    frequency_hz: IntArray
    tx_latitude_deg: FloatArray
    tx_longitude_deg: FloatArray
    rx_latitude_deg: FloatArray
    rx_longitude_deg: FloatArray

    def __len__(self) -> int:
        return len(self.frequency_hz)


@dataclass
class Group:
    """Five counts of ordered pairs; the last three are of those beyond 50 m."""

    within_100_km: int = 0
    co_located: int = 0
    within_30_km: int = 0
    both_on_axis: int = 0
    one_on_axis: int = 0


@dataclass(frozen=True)
class Screening:
    """The counts at equal frequency, and at up to 30 MHz apart."""

    paths: int
    equal: Group
    apart: Group


def screen(paths: Paths, *, victims: IntArray | None = None) -> Screening:
    """Count the pairs of all paths given, or only those with one of the ``victims`` (row numbers) as victim.

    Frequency and the straight chord prune; the geodesic decides.
    """
    equal, apart = Group(), Group()
    order = np.argsort(paths.frequency_hz, kind="stable")
    sent = paths.frequency_hz[order]
    tx_point = ecef(paths.tx_latitude_deg, paths.tx_longitude_deg)
    rx_point = ecef(paths.rx_latitude_deg, paths.rx_longitude_deg)
    _, azimuth_tx, azimuth_rx = inverse(
        paths.tx_latitude_deg, paths.tx_longitude_deg, paths.rx_latitude_deg, paths.rx_longitude_deg
    )
    listeners = order if victims is None else order[np.isin(order, victims)]
    for start in range(0, len(listeners), VICTIMS_PER_BLOCK):
        block = listeners[start : start + VICTIMS_PER_BLOCK]
        heard = paths.frequency_hz[block]
        first = np.searchsorted(sent, heard - APART_HZ, side="left")
        last = np.searchsorted(sent, heard + APART_HZ, side="right")
        tx, rx = expanded(order, first, last, block)
        keep = paths.licence[tx] != paths.licence[rx]
        tx, rx = tx[keep], rx[keep]
        chord_m = np.linalg.norm(tx_point[tx] - rx_point[rx], axis=-1)
        near = chord_m <= WITHIN_M + CHORD_SLACK_M
        tx, rx = tx[near], rx[near]
        distance_m, toward_victim, toward_interferer = inverse(
            paths.tx_latitude_deg[tx],
            paths.tx_longitude_deg[tx],
            paths.rx_latitude_deg[rx],
            paths.rx_longitude_deg[rx],
        )
        at_tx = between_deg(azimuth_tx[tx], toward_victim) <= ON_AXIS_DEG
        at_rx = between_deg(azimuth_rx[rx], toward_interferer) <= ON_AXIS_DEG
        same = paths.frequency_hz[tx] == paths.frequency_hz[rx]
        _count(equal, same, distance_m, at_tx, at_rx)
        _count(apart, ~same, distance_m, at_tx, at_rx)
    return Screening(len(paths), equal, apart)


def between_deg(a_deg: FloatArray, b_deg: FloatArray) -> FloatArray:
    """The angle between two azimuths, 0…180 degrees; NaN where one is not known.

    >>> float(between_deg(np.array(350.0), np.array(5.0)))
    15.0
    """
    return np.abs((a_deg - b_deg + 180.0) % 360.0 - 180.0)


def _count(
    group: Group,
    of_group: npt.NDArray[np.bool_],
    distance_m: FloatArray,
    at_tx: npt.NDArray[np.bool_],
    at_rx: npt.NDArray[np.bool_],
) -> None:
    within = of_group & (distance_m <= WITHIN_M)
    beyond = within & (distance_m > CO_LOCATED_M)
    group.within_100_km += int(within.sum())
    group.co_located += int((within & ~beyond).sum())
    group.within_30_km += int((beyond & (distance_m <= NEAR_M)).sum())
    group.both_on_axis += int((beyond & at_tx & at_rx).sum())
    group.one_on_axis += int((beyond & (at_tx ^ at_rx)).sum())
