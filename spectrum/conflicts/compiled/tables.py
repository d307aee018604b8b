"""What the compiled search looks up: the least rejection at an offset."""

from __future__ import annotations

import numpy as np

from spectrum.conflicts.columns import FloatArray
from spectrum.conflicts.neighbours import window_hz
from spectrum.conflicts.network import ModeRecord
from spectrum.radio.rejection import rejection_table

# The mask of a channel is followed in steps of this part of the narrower width.
STEPS_PER_WIDTH = 50
MOST_STEPS = 20_000
REJECTION_MARGIN_DB = 0.05


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
