"""Carriers or transmitter noise at a receiver: how strong each leaves, what is taken off, how strong it arrives.

Frequency to the right, level upward; transmitters above the line, the receiver's channel below it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from sites.templatetags.figures import fixed
from sites.words import gettext

from .labels import LETTER, LINE, Box, Placed, Words, along, place
from .steps import ticks

WIDTH: Final = 560.0
LEFT, RIGHT = 60.0, 500.0
TOP, AXIS, HEIGHT = 34.0, 250.0, 312.0
BAR: Final = 14.0


@dataclass(frozen=True)
class Arrival:
    """One transmitter at the receiver: where its power counts, MHz, and its level there and at its output, dBm."""

    name: str
    at_mhz: float
    sent_dbm: float
    arrives_dbm: float
    judged: bool = True

    @property
    def taken_off_db(self) -> float:
        return self.sent_dbm - self.arrives_dbm


@dataclass(frozen=True)
class Bar:
    """Hollow from the level sent down to the one that arrives, filled from there to the axis."""

    x: float
    top: float
    between: float
    filled: float

    @property
    def filled_from(self) -> float:
        return round(self.top + self.between, 1)


@dataclass(frozen=True)
class Ladder:
    bars: list[Bar]
    limit_y: float
    limit_text: Placed
    channel: tuple[float, float]
    words: list[Placed]
    x_ticks: list[tuple[float, str]]
    y_ticks: list[tuple[float, str]]


def ladder(
    arrivals: Sequence[Arrival],
    heard_name: str,
    heard_mhz: float,
    width_khz: float,
    limit_dbm: float,
    limit_name: str,
) -> Ladder:
    """Draw what arrives at a receiver against the level that is permitted; the strongest is named."""
    places = [a.at_mhz for a in arrivals] + [heard_mhz]
    span = max(max(places) - min(places), 4 * width_khz / 1e3)
    middle = (max(places) + min(places)) / 2
    low, high = middle - span * 0.62, middle + span * 0.62
    levels = [v for a in arrivals for v in (a.sent_dbm, a.arrives_dbm)] + [limit_dbm]
    least, most = min(levels) - 12.0, max(levels) + 4.0

    def x(mhz: float) -> float:
        return LEFT + (mhz - low) / (high - low) * (RIGHT - LEFT)

    def y(dbm: float) -> float:
        return AXIS - (dbm - least) / (most - least) * (AXIS - TOP)

    bars, words, drawn, taken = [], [], [], []
    shift: dict[float, int] = {}
    for one in arrivals:
        beside = shift[one.at_mhz] = shift.get(one.at_mhz, -1) + 1
        place_x = x(one.at_mhz) + beside * (BAR + 6.0)
        top, arrives = y(one.sent_dbm), y(one.arrives_dbm)
        bars.append(
            Bar(round(place_x - BAR / 2, 1), round(top, 1), round(arrives - top, 1), round(AXIS - arrives, 1))
        )
        taken.append(Box(place_x - BAR / 2 - 2, top - 2, place_x + BAR / 2 + 2, AXIS))
    for one, bar in zip(arrivals[:3], bars, strict=False):
        middle_x = bar.x + BAR / 2
        off = gettext("{decibels} dB less").format(decibels=fixed(one.taken_off_db, 1))
        words.append(Words(middle_x, bar.top + bar.between, (one.name, off), BAR / 2 + 3, "named"))
    limit = y(limit_dbm)
    drawn.append(along(LEFT, limit, RIGHT, limit))
    said = Words(
        (LEFT + RIGHT) / 2, limit, (f"{limit_name} {limit_dbm:.1f} dBm".replace("-", "−"),), 1.0, "strong"
    )
    at_limit = _on_line(said, taken)
    taken.append(at_limit.box)
    named = place(words, Box(LEFT + 2, 4.0, WIDTH - 2, AXIS - 2), np.concatenate(drawn), taken)
    heard = max(6.0, x(heard_mhz + width_khz / 2e3) - x(heard_mhz - width_khz / 2e3))
    named += place(
        [Words(x(heard_mhz), AXIS + 9.0, (heard_name,), heard / 2 + 6, "named")],
        Box(LEFT, AXIS, WIDTH - 2, AXIS + 26.0),
        np.zeros((0, 2)),
        [Box(x(heard_mhz) - heard / 2, AXIS, x(heard_mhz) + heard / 2, AXIS + 18.0)],
    )
    return Ladder(
        bars=bars,
        limit_y=round(limit, 1),
        limit_text=at_limit,
        channel=(round(x(heard_mhz) - heard / 2, 1), round(heard, 1)),
        words=named,
        x_ticks=[(round(x(t), 1), f"{t:g}") for t in ticks(low, high, 4)],
        y_ticks=[(round(y(t), 1), f"{t:g}".replace("-", "−")) for t in ticks(least, most, 5)],
    )


def _on_line(words: Words, taken: Sequence[Box]) -> Placed:
    """Words on top of the limit's line, where fewest bars stand behind them."""
    width = len(words.lines[0]) * LETTER
    best = min(
        (
            Box(left, words.y - LINE - 1.0, left + width, words.y - 1.0)
            for left in np.linspace(LEFT + 2.0, RIGHT - width - 2.0, 12)
        ),
        key=lambda box: sum(box.overlaps(other) for other in taken),
    )
    return Placed(words, best, "")
