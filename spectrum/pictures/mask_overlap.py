"""The interferer's emission above the line, the victim's selectivity below it, and what of the one the other lets in.

Both are drawn in dB over the distance from the victim's centre. What gets through is the sum of the two levels at
each frequency: the integrand of FDR (ITU-R SM.337-6, Annex 1).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

from spectrum.radio.masks import Mask

from .steps import round_step, ticks

LEFT, RIGHT = 52.0, 548.0
TOP, AXIS, BOTTOM = 46.0, 168.0, 290.0
#: The picture goes no deeper than this.
DEEPEST_DB: Final = -100.0

Points = list[tuple[float, float]]


@dataclass(frozen=True)
class Tick:
    """A line across the picture, and what it says."""

    at: float
    text: str


@dataclass(frozen=True)
class Channel:
    """The edges of a channel: places on paper, and their distance from the victim's centre in kHz."""

    left: float
    right: float
    centre: float
    low_khz: float
    high_khz: float


@dataclass(frozen=True)
class MaskPicture:
    """SVG paths; ``shared`` is where both masks have something, None where they share no frequency."""

    emission: str
    selectivity: str
    through: str
    shared: tuple[float, float] | None
    shared_khz: tuple[float, float] | None
    sent: Channel
    heard: Channel
    offset_khz: float
    x_ticks: list[Tick]
    y_ticks: list[Tick]
    deepest_db: float


def mask_picture(
    emission: Mask, selectivity: Mask, offset_hz: int, sent_width_hz: int, heard_width_hz: int
) -> MaskPicture:
    """Draw two masks. ``offset_hz`` is the interferer's frequency less the victim's."""
    offset = offset_hz / 1e3
    sent, heard = _points(emission, offset), _points(selectivity, 0.0)
    low = min(sent[0][0], heard[0][0], offset - sent_width_hz / 2e3, -heard_width_hz / 2e3)
    high = max(sent[-1][0], heard[-1][0], offset + sent_width_hz / 2e3, heard_width_hz / 2e3)
    levels = [level for _, level in (*sent, *heard)]
    deepest = max(DEEPEST_DB, math.floor(min(levels) / 10.0) * 10.0 - 10.0)

    def x(khz: float) -> float:
        return LEFT + (khz - low) / (high - low) * (RIGHT - LEFT)

    def height(db: float, room: float) -> float:
        return (max(db, deepest) - deepest) / -deepest * room

    def up(db: float) -> float:
        return AXIS - height(db, AXIS - TOP)

    def down(db: float) -> float:
        return AXIS + height(db, BOTTOM - AXIS)

    def channel(centre: float, width_hz: int) -> Channel:
        edges = (centre - width_hz / 2e3, centre + width_hz / 2e3)
        return Channel(round(x(edges[0]), 1), round(x(edges[1]), 1), round(x(centre), 1), *edges)

    shared = (max(sent[0][0], heard[0][0]), min(sent[-1][0], heard[-1][0]))
    meet = shared[1] > shared[0]
    through = _through(emission, selectivity, offset, sent, heard, shared) if meet else []
    step = round_step(-deepest / 4)
    count = round(-deepest / step - 0.5)
    return MaskPicture(
        emission=_area([(x(a), up(b)) for a, b in sent]),
        selectivity=_area([(x(a), down(b)) for a, b in heard]),
        through=_area([(x(a), up(b)) for a, b in through]) if through else "",
        shared=(round(x(shared[0]), 1), round(x(shared[1]) - x(shared[0]), 1)) if meet else None,
        shared_khz=shared if meet else None,
        sent=channel(offset, sent_width_hz),
        heard=channel(0.0, heard_width_hz),
        offset_khz=offset,
        x_ticks=[Tick(round(x(t), 1), _signed(t)) for t in ticks(low, high, 5)],
        y_ticks=[
            Tick(round(y, 1), _signed(-n * step))
            for n in range(count + 1)
            for y in dict.fromkeys((up(-n * step), down(-n * step)))
        ],
        deepest_db=deepest,
    )


def _points(mask: Mask, centre_khz: float) -> Points:
    """Corners of a mask around a centre, both halves."""
    edge, start, end = mask.pieces
    corners = []
    for n in range(start.size):
        corners += [
            (float(edge[n]) + centre_khz, float(start[n])),
            (float(edge[n + 1]) + centre_khz, float(end[n])),
        ]
    return corners


def _through(
    emission: Mask, selectivity: Mask, offset: float, sent: Points, heard: Points, shared: tuple[float, float]
) -> Points:
    """Sum of both levels over the frequencies shared; between two corners it is a straight line."""
    corners = sorted({khz for khz, _ in (*sent, *heard) if shared[0] <= khz <= shared[1]})
    points: Points = []
    for low, high in pairwise(corners):
        # Just inside the piece, so that a step of either mask belongs to the piece on its side.
        inside = np.array([low, high]) + np.array([1.0, -1.0]) * (high - low) * 1e-6
        level = _levels(emission, inside - offset) + _levels(selectivity, inside)
        points += [(low, float(level[0])), (high, float(level[1]))]
    return points


def _levels(mask: Mask, khz: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    return np.asarray(mask.level_at_db(khz), dtype=np.float64)


def _area(points: Sequence[tuple[float, float]]) -> str:
    """A closed path from the axis along the points and back to it."""
    along = "L".join(f"{a:.1f} {b:.1f}" for a, b in points)
    return f"M{points[0][0]:.1f} {AXIS:.1f}L{along}L{points[-1][0]:.1f} {AXIS:.1f}Z"


def _signed(value: float) -> str:
    return f"{value:g}".replace("-", "−")
