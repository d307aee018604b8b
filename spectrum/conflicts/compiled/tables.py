"""What the compiled search looks up: the least rejection at an offset, the least loss of gain off the boresight."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

from spectrum.conflicts.antenna_gain import gain_dbi
from spectrum.conflicts.columns import FloatArray, IntArray
from spectrum.conflicts.neighbours import window_hz
from spectrum.conflicts.network import AntennaRecord, ModeRecord
from spectrum.radio.rejection import rejection_table

# The mask of a channel is followed in steps of this part of the narrower width.
STEPS_PER_WIDTH = 50
MOST_STEPS = 20_000
REJECTION_MARGIN_DB = 0.05
# Directions within so many degrees of level have their gain read from the table; others count with all of it.
STEEPEST_DEG = 6.0
GAIN_MARGIN_DB = 0.1
BIN_SLACK_DEG = 1.5
# One gain table serves frequencies that differ by no more than this factor, and so much beyond.
FREQUENCY_FACTOR = 1.1
FREQUENCY_SLACK = 1.02


class RejectionTables:
    """FDR of every pair of modes on a grid of offsets, taken so that it never falls away from the centre.

    Between two grid points the smaller value counts. A mask whose rejection is not monotone is thereby
    replaced by its running minimum over the grid; the margin stands for what lies between.
    """

    def __init__(self, modes: list[ModeRecord]) -> None:
        count = len(modes)
        self.start = np.zeros((count, count), dtype=np.int64)
        self.low_hz = np.zeros((count, count), dtype=np.float64)
        self.step_hz = np.ones((count, count), dtype=np.float64)
        self.steps = np.zeros((count, count), dtype=np.int64)
        parts: list[FloatArray] = []
        for e, emission in enumerate(modes):
            for s, selectivity in enumerate(modes):
                low_hz, high_hz = window_hz(emission, selectivity)
                width = min(emission.channel_width_hz, selectivity.channel_width_hz)
                step = max(width // STEPS_PER_WIDTH, -(-(high_hz - low_hz) // MOST_STEPS), 1)
                first, last = low_hz // step, -(-high_hz // step)
                offsets = np.arange(first, last + 1, dtype=np.int64) * step
                fdr = rejection_table(emission.emission, selectivity.selectivity, offsets).fdr_db
                self.start[e, s] = sum(len(p) for p in parts)
                self.low_hz[e, s], self.step_hz[e, s] = float(first * step), float(step)
                self.steps[e, s] = len(offsets)
                parts.append(_never_falling(np.asarray(fdr), int(-first)) - REJECTION_MARGIN_DB)
        self.values = np.concatenate(parts) if parts else np.zeros(0)


def _never_falling(fdr: FloatArray, centre: int) -> FloatArray:
    up = np.minimum.accumulate(fdr[centre:][::-1])[::-1]
    down = np.minimum.accumulate(fdr[: centre + 1])
    return np.concatenate((down[:-1], [min(up[0], down[-1])], up[1:]))


def gain_tables(
    antennas: list[AntennaRecord], antenna: IntArray, frequency_hz: IntArray
) -> tuple[IntArray, npt.NDArray[np.float64]]:
    """Row of each station, and for each row what the antenna loses at 0°, 1°, … 180° of azimuth, dB.

    Entry k holds for k to k + 1 degrees off the boresight, at any elevation and tilt within
    :data:`STEEPEST_DEG` of level.
    """
    megahertz = np.maximum(frequency_hz, 1) / 1e6
    step = np.floor(np.log(megahertz) / np.log(FREQUENCY_FACTOR)).astype(np.int64)
    key = antenna * 1000 + (step + 500)
    rows, number = np.unique(key, return_inverse=True)
    table = np.zeros((len(rows), 182))
    for i, code in enumerate(rows.tolist()):
        table[i] = _lost_gain(antennas[code // 1000], code % 1000 - 500)
    return number.astype(np.int64), table


@lru_cache(maxsize=4096)
def _lost_gain(record: AntennaRecord, step: int) -> npt.NDArray[np.float64]:
    azimuth = np.arange(-190.0, 190.01, 0.5)
    low = FREQUENCY_FACTOR**step / FREQUENCY_SLACK
    high = FREQUENCY_FACTOR ** (step + 1) * FREQUENCY_SLACK
    best = np.full(len(azimuth), -np.inf)
    for frequency in (low, (low * high) ** 0.5, high):
        for tilt in (-STEEPEST_DEG, 0.0, STEEPEST_DEG):
            for elevation in np.linspace(-STEEPEST_DEG, STEEPEST_DEG, 5):
                even = np.full(len(azimuth), 1.0)
                toward = np.where(azimuth < 0.0, azimuth + 360.0, azimuth) % 360.0
                gain = gain_dbi(record, 0.0 * even, tilt * even, toward, elevation * even, frequency * even)
                best = np.maximum(best, gain)
    lost = np.empty(182)
    for k in range(182):
        near = (np.abs(azimuth) >= k - BIN_SLACK_DEG) & (np.abs(azimuth) <= k + 1 + BIN_SLACK_DEG)
        lost[k] = max(record.gain_dbi - best[near].max() - GAIN_MARGIN_DB, 0.0)
    lost.setflags(write=False)
    return lost
