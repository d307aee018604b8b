"""What an antenna surely loses away from its boresight, read from a table by the angle in azimuth alone.

Both searches use it, and it must never be more than what the definition loses (spectrum.conflicts.antenna_gain):

- an entry is the least loss over every elevation and tilt within ``STEEPEST_DEG`` of level, over a range of
  frequencies, and over ``BIN_SLACK_DEG`` more to both sides, less ``GAIN_MARGIN_DB``. The slack is far more
  than the azimuth of a chord differs from that of the geodesic, and more than the step of the angles looked at;
  the corners of a measured cut are looked at themselves;
- a path that is steeper than that, a boresight or a tilt that is unknown or steeper, a path shorter than
  ``NEAREST_KM`` and, at a receiver, a frequency off the range of its table lose nothing.

The angle θ comes in as sin(θ/2), for that takes one square root: with the direction d to the other station, the
boresight b and the vertical u, cos θ = d·b / √(|d|² − (d·u)²). Both vectors are of unit length, b is level.
"""

from __future__ import annotations

from functools import cached_property, lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from sites.geodesy import ecef

from .antenna_gain import gain_dbi
from .columns import FloatArray, IntArray
from .network import AntennaRecord, Network
from .path_loss import heights_over_lower

# Directions within so many degrees of level have their gain read from the table; others count with all of it.
STEEPEST_DEG: Final = 6.0
STEEPEST_SLOPE: Final = float(np.tan(np.radians(STEEPEST_DEG)))
NEAREST_KM: Final = 1.0
GAIN_MARGIN_DB: Final = 0.1
BIN_SLACK_DEG: Final = 1.5
STEP_DEG: Final = 0.5
# Entries of a table: bin k holds for sin(θ/2) from k/BINS to (k + 1)/BINS, the last one for the half turn itself.
BINS: Final = 256
# One table serves frequencies that differ by no more than this factor, and so much beyond.
FREQUENCY_FACTOR: Final = 1.1
FREQUENCY_SLACK: Final = 1.02
SILENT: Final = -1
# The effective radius over which a path sinks below the horizontal; any path of the model sinks by less than this.
LEAST_RADIUS_KM: Final = 6371.0


class OffBoresight:
    """The tables of one network's stations, and which way their antennas look.

    ``lost_db[row]`` is one table; ``tx_row`` and ``rx_row`` are those of each station on the frequency that it
    transmits and receives. ``boresight`` (NaN where there is none) and ``up`` are unit vectors, earth-centred.
    """

    def __init__(self, network: Network) -> None:
        self._network = network
        n = network
        self.tx_row, tx_lost = _tables(n.antennas, n.antenna, n.tx_hz)
        self.rx_row, rx_lost = _tables(n.antennas, n.antenna, n.rx_hz)
        self.rx_row = self.rx_row + len(tx_lost)
        self.lost_db = np.concatenate((tx_lost, rx_lost))
        latitude, longitude = np.radians(n.latitude_deg), np.radians(n.longitude_deg)
        level = np.abs(n.tilt_deg) <= STEEPEST_DEG
        azimuth = np.radians(np.where(level, n.azimuth_deg, np.nan))
        sin_lat, cos_lat = np.sin(latitude), np.cos(latitude)
        sin_lon, cos_lon = np.sin(longitude), np.cos(longitude)
        east, north = np.sin(azimuth), np.cos(azimuth)
        self.up = np.column_stack((cos_lat * cos_lon, cos_lat * sin_lon, sin_lat))
        self.boresight = np.column_stack(
            (
                -east * sin_lon - north * sin_lat * cos_lon,
                east * cos_lon - north * sin_lat * sin_lon,
                north * cos_lat,
            )
        )

    @cached_property
    def _position_km(self) -> FloatArray:
        return np.asarray(ecef(self._network.latitude_deg, self._network.longitude_deg) / 1e3)

    def lost_by_both_db(self, tx: IntArray, rx: IntArray) -> FloatArray:
        """What the two antennas of each pair lose together at least, dB."""
        n = self._network
        toward = self._position_km[rx] - self._position_km[tx]
        squared = _product(toward, toward)
        length_km = np.sqrt(squared)
        height_tx, height_rx = heights_over_lower(n, tx, rx)
        far = length_km > NEAREST_KM
        length_km = np.where(far, length_km, NEAREST_KM)
        slope = np.abs(height_tx - height_rx) / 1e3 / length_km + length_km / (2.0 * LEAST_RADIUS_KM)
        level = far & (slope < STEEPEST_SLOPE)
        in_table = (n.tx_hz[tx] < n.rx_hz[rx] * FREQUENCY_SLACK) & (
            n.rx_hz[rx] < n.tx_hz[tx] * FREQUENCY_SLACK
        )
        lost = np.where(level, self._lost_db(tx, self.tx_row, toward, squared), 0.0)
        lost += np.where(level & in_table, self._lost_db(rx, self.rx_row, -toward, squared), 0.0)
        return lost

    def _lost_db(
        self, station: IntArray, row: IntArray, toward: FloatArray, squared: FloatArray
    ) -> FloatArray:
        along = _product(toward, self.boresight[station])
        rise = _product(toward, self.up[station])
        across = squared - rise * rise
        aimed = (across > 0.0) & ~np.isnan(along)
        cosine = np.where(aimed, along, 0.0) / np.sqrt(np.where(aimed, across, 1.0))
        place = (np.sqrt(np.clip(0.5 - 0.5 * cosine, 0.0, 1.0)) * BINS).astype(np.int64)
        return np.where(aimed, self.lost_db[row[station], place], 0.0)


def _product(one: FloatArray, other: FloatArray) -> FloatArray:
    """The inner product of vectors, row by row."""
    return np.asarray(np.einsum("ij,ij->i", one, other))


def _tables(
    antennas: list[AntennaRecord], antenna: IntArray, frequency_hz: IntArray
) -> tuple[IntArray, npt.NDArray[np.float64]]:
    """Row of each station, and the tables."""
    tuned = frequency_hz > 0
    step = np.floor(np.log(np.where(tuned, frequency_hz, 1) / 1e6) / np.log(FREQUENCY_FACTOR)).astype(
        np.int64
    )
    rows, number = np.unique(np.where(tuned, antenna * 1000 + step + 500, SILENT), return_inverse=True)
    table = np.zeros((len(rows), BINS + 1))
    for i, code in enumerate(rows.tolist()):
        if code != SILENT:
            table[i] = _least_lost_db(antennas[code // 1000], code % 1000 - 500)
    return number.astype(np.int64), table


@lru_cache(maxsize=4096)
def _least_lost_db(record: AntennaRecord, step: int) -> npt.NDArray[np.float64]:
    corners = (np.array([angle for angle, _ in record.points]) + 180.0) % 360.0 - 180.0
    azimuth = np.unique(
        np.concatenate((np.arange(-190.0, 190.0 + STEP_DEG / 2, STEP_DEG), corners, -corners))
    )
    low = FREQUENCY_FACTOR**step / FREQUENCY_SLACK
    high = FREQUENCY_FACTOR ** (step + 1) * FREQUENCY_SLACK
    best = np.full(len(azimuth), -np.inf)
    even = np.ones(len(azimuth))
    toward = azimuth % 360.0
    for frequency in (low, (low * high) ** 0.5, high):
        for tilt in (-STEEPEST_DEG, 0.0, STEEPEST_DEG):
            for elevation in np.linspace(-STEEPEST_DEG, STEEPEST_DEG, 5):
                gain = gain_dbi(record, 0.0 * even, tilt * even, toward, elevation * even, frequency * even)
                best = np.maximum(best, gain)
    edge_deg = np.degrees(2.0 * np.arcsin(np.arange(BINS + 1) / BINS))
    away = np.abs(azimuth)
    lost = np.empty(BINS + 1)
    for k in range(BINS):
        near = (away >= edge_deg[k] - BIN_SLACK_DEG) & (away <= edge_deg[k + 1] + BIN_SLACK_DEG)
        lost[k] = max(record.gain_dbi - best[near].max() - GAIN_MARGIN_DB, 0.0)
    lost[BINS] = lost[BINS - 1]
    lost.setflags(write=False)
    return lost
