"""Words beside points, placed so that they cover neither each other nor what is drawn."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

#: A letter and a line of the monospaced face on a narrow screen, in units of a picture 560 wide.
LETTER: Final = 9.8
LINE: Final = 17.0
#: Words this much further from their point than they had to be get a line that leads back to it.
LEADER_FROM: Final = 18.0
_DIRECTIONS: Final = tuple(math.radians(a) for a in range(0, 360, 15))
_STEPS: Final = (0.0, 8.0, 18.0, 30.0, 44.0, 60.0, 80.0, 104.0)
#: What a word pays for each unit of line that it covers, and for each unit away from its point.
_COVERED: Final = 2.0
_AWAY: Final = 0.35

Points = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Box:
    """A rectangle: left, top, right, bottom; y grows downward."""

    left: float
    top: float
    right: float
    bottom: float

    def overlaps(self, other: Box) -> bool:
        """Whether two rectangles share more than an edge."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def inside(self, other: Box) -> bool:
        """Whether this rectangle lies wholly in another."""
        return (
            self.left >= other.left
            and self.right <= other.right
            and self.top >= other.top
            and self.bottom <= other.bottom
        )

    def holds(self, points: Points) -> int:
        """How many points lie in it."""
        x, y = points[:, 0], points[:, 1]
        return int(((x > self.left) & (x < self.right) & (y > self.top) & (y < self.bottom)).sum())


@dataclass(frozen=True)
class Words:
    """Lines of text that belong to a point, kept at least ``gap`` away from it; ``kind`` is for the template."""

    x: float
    y: float
    lines: tuple[str, ...]
    gap: float = 8.0
    kind: str = ""


@dataclass(frozen=True)
class Placed:
    """Where lines of text stand: the middle of each, on its baseline; ``leader`` leads back to their point."""

    words: Words
    box: Box
    leader: str

    @property
    def kind(self) -> str:
        return self.words.kind

    @property
    def rows(self) -> list[tuple[float, float, str]]:
        """Each line: x of its middle, y of its baseline, text."""
        middle = round((self.box.left + self.box.right) / 2, 1)
        return [
            (middle, round(self.box.top + (n + 1) * LINE - 5.0, 1), text)
            for n, text in enumerate(self.words.lines)
        ]


def place(wanted: Iterable[Words], frame: Box, drawn: Points, keep_off: Sequence[Box] = ()) -> list[Placed]:
    """Place words one after the other, the most important first.

    ``drawn`` are points along the lines of the picture, a unit or so apart, that are better not covered;
    ``keep_off`` may not be. Where nothing fits, the least bad place is taken.
    """
    taken = list(keep_off)
    result = []
    for words in wanted:
        box, away = _best(words, frame, drawn, taken)
        taken.append(box)
        result.append(Placed(words, box, _leader(words, box) if away >= LEADER_FROM else ""))
    return result


def _best(words: Words, frame: Box, drawn: Points, taken: Sequence[Box]) -> tuple[Box, float]:
    width, height = max(len(line) for line in words.lines) * LETTER, len(words.lines) * LINE
    best: tuple[float, Box, float] | None = None
    for step in _STEPS:
        for angle in _DIRECTIONS:
            box = _beside(words, angle, step, width, height)
            cost = _COVERED * box.holds(drawn) + _AWAY * step
            cost += 1e4 * sum(box.overlaps(other) for other in taken) + (0.0 if box.inside(frame) else 1e5)
            if best is None or cost < best[0] - 1e-9:
                best = (cost, box, step)
    if best is None:
        raise ValueError("There is no direction to place words in.")
    return best[1], best[2]


def _beside(words: Words, angle: float, step: float, width: float, height: float) -> Box:
    """The rectangle that touches a circle around the point in a direction."""
    across, down = math.cos(angle), -math.sin(angle)
    reach = words.gap + step
    # How far the middle of the rectangle lies behind its edge in this direction.
    behind = min(
        width / 2 / abs(across) if abs(across) > 1e-9 else math.inf,
        height / 2 / abs(down) if abs(down) > 1e-9 else math.inf,
    )
    x, y = words.x + across * (reach + behind), words.y + down * (reach + behind)
    return Box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)


def _leader(words: Words, box: Box) -> str:
    x = min(max(words.x, box.left), box.right)
    y = min(max(words.y, box.top), box.bottom)
    length = math.hypot(x - words.x, y - words.y)
    if length <= words.gap:
        return ""
    part = words.gap / length / 2
    return f"M{words.x + (x - words.x) * part:.1f} {words.y + (y - words.y) * part:.1f}L{x:.1f} {y:.1f}"


def along(x1: float, y1: float, x2: float, y2: float) -> Points:
    """Points a unit apart on a straight line."""
    count = max(2, round(math.hypot(x2 - x1, y2 - y1)) + 1)
    return np.column_stack([np.linspace(x1, x2, count), np.linspace(y1, y2, count)])
