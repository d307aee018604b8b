"""Coordinates of the small drawings: pure, in the units of their picture; the templates put them into SVG."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from sites.templatetags.figures import fixed
from sites.words import gettext

# the margin scale: this many dB on either side of the limit, beyond it the mark becomes an arrow
MARGIN_REACH_DB = 20.0
MARGIN_WIDTH, MARGIN_EDGE = 240.0, 10.0


@dataclass(frozen=True)
class MarginMark:
    """Where a result stands on the margin scale: the limit is in the middle, better is to the right."""

    x: float
    beyond: int  # -1 or 1 when it lies off the scale on that side
    side: str  # over, close, within
    words: str
    spread: tuple[float, float] | None = None  # from where and how wide: what other assumptions give


def margin_mark(
    margin_db: float, *, close_within_db: float = 3.0, spread_db: tuple[float, float] | None = None
) -> MarginMark:
    """A margin in dB as a mark on the scale.

    >>> margin_mark(0.0).x, margin_mark(20.0).x, margin_mark(-45.0).beyond
    (120.0, 230.0, -1)
    """
    held, x = _held(margin_db), _at(margin_db)
    side = "over" if margin_db < 0 else "close" if margin_db < close_within_db else "within"
    sizes = {"margin_db": fixed(abs(margin_db), 1)}
    beyond = 0 if held == margin_db else int(math.copysign(1, margin_db))
    spread = None
    if spread_db is not None:
        least, greatest = spread_db
        spread = (_at(least), max(1.0, round(_at(greatest) - _at(least), 1)))
        sizes |= {"least": fixed(least, 1), "greatest": fixed(greatest, 1)}
    return MarginMark(x, beyond, side, _pattern(margin_db < 0, spread_db is not None).format(**sizes), spread)


def _pattern(over: bool, spread: bool) -> str:
    if spread:
        return (
            gettext("{margin_db} dB over the limit, from {least} to {greatest} dB with other assumptions")
            if over
            else gettext(
                "{margin_db} dB inside the limit, from {least} to {greatest} dB with other assumptions"
            )
        )
    return gettext("{margin_db} dB over the limit") if over else gettext("{margin_db} dB inside the limit")


def _held(margin_db: float) -> float:
    return max(-MARGIN_REACH_DB, min(MARGIN_REACH_DB, margin_db))


def _at(margin_db: float) -> float:
    return round(MARGIN_WIDTH / 2 + _held(margin_db) / MARGIN_REACH_DB * (MARGIN_WIDTH / 2 - MARGIN_EDGE), 1)


@dataclass(frozen=True)
class Block:
    """One channel on the frequency strip, and where its frequency is written."""

    x: float
    y: int
    width: float
    label: str
    label_x: float
    label_y: int
    anchor: str


@dataclass(frozen=True)
class Lane:
    """One station (or several that are set alike) on the frequency strip: what it sends above, hears below."""

    name: str
    y: int
    above: list[Block]
    below: list[Block]

    @property
    def name_y(self) -> int:
        return self.y + 4


@dataclass(frozen=True)
class Strip:
    """The frequency strip: transmit above each line, receive below, frequency rising to the right."""

    lanes: list[Lane]
    left: float
    right: float
    height: int
    low_mhz: str
    high_mhz: str
    axis_y: int
    first_above: int
    first_below: int


STRIP_LEFT, STRIP_RIGHT = 90.0, 650.0
FIRST_LANE, LANE_HEIGHT = 40, 92


def frequency_strip(stations: Iterable[tuple[str, int | None, int | None, int]]) -> Strip | None:
    """Lanes from ``(name, transmit Hz, receive Hz, width Hz)``; stations set alike share a lane."""
    alike: dict[tuple[int | None, int | None, int], list[str]] = {}
    for name, tx_hz, rx_hz, width_hz in stations:
        alike.setdefault((tx_hz, rx_hz, width_hz), []).append(name)
    edges = [f + s * w / 2 for tx, rx, w in alike for f in (tx, rx) if f is not None for s in (-1, 1)]
    if not edges:
        return None
    low, high = min(edges), max(edges)
    pad = max((high - low) * 0.12, 1.0)
    low, high = low - pad, high + pad

    def x_of(frequency: float) -> float:
        return STRIP_LEFT + (frequency - low) / (high - low) * (STRIP_RIGHT - STRIP_LEFT)

    def block(frequency: int | None, width: int, y: int, label_y: int) -> list[Block]:
        if frequency is None:
            return []
        drawn = max(6.0, x_of(frequency + width / 2) - x_of(frequency - width / 2))
        middle = round(x_of(frequency), 1)
        return [
            Block(
                round(middle - drawn / 2, 1),
                y,
                round(drawn, 1),
                f"{frequency / 1e6:.5f}",
                middle,
                label_y,
                "middle",
            )
        ]

    lanes = []
    for number, ((tx, rx, width), names) in enumerate(alike.items()):
        shown = ", ".join(names[:2]) + (f" +{len(names) - 2}" if len(names) > 2 else "")
        y = FIRST_LANE + number * LANE_HEIGHT
        lanes.append(Lane(shown, y, block(tx, width, y - 17, y - 22), block(rx, width, y + 1, y + 31)))
    axis_y = FIRST_LANE + len(lanes) * LANE_HEIGHT - 36
    return Strip(
        lanes, STRIP_LEFT, STRIP_RIGHT, axis_y + 8, f"{low / 1e6:.3f}", f"{high / 1e6:.3f}", axis_y,
        FIRST_LANE - 6, FIRST_LANE + 14,
    )  # fmt: skip


@dataclass(frozen=True)
class DayMark:
    """A named day on the time strip: its line, and its words on one of the rows below."""

    x: float
    day: dt.date
    label: str
    row: int
    day_y: int
    line_to: int
    text_x: float
    anchor: str


@dataclass(frozen=True)
class TimeStrip:
    """A licence's days on a horizontal line, today marked; ``validity`` is the span in force."""

    days: list[DayMark]
    today_x: float
    today_anchor: str
    validity: tuple[float, float]
    height: int

    @property
    def validity_width(self) -> float:
        return round(max(1.0, self.validity[1] - self.validity[0]), 1)


TIME_LEFT, TIME_RIGHT, TIME_ROWS = 16.0, 704.0, 6


def time_strip(
    days: Sequence[tuple[str, dt.date | None]], start: dt.date, end: dt.date | None, today: dt.date
) -> TimeStrip:
    """Place named days between the first and the last of them (and today) on the strip.

    ``start`` and ``end`` are the first and last day of validity; without an end the bar runs on.
    """
    known = sorted((day, label) for label, day in days if day is not None)
    everything = [day for day, _ in known] + [start, today, end or today + dt.timedelta(days=365)]
    first, last = min(everything), max(everything)
    span = max((last - first).days, 1)

    def x_of(day: dt.date) -> float:
        return round(TIME_LEFT + (day - first).days / span * (TIME_RIGHT - TIME_LEFT), 1)

    marks: list[DayMark] = []
    rows: list[list[tuple[float, float]]] = [[] for _ in range(TIME_ROWS)]  # spans of words already written
    for day, label in reversed(known):
        x = x_of(day)
        width = max(5.9 * len(label), 68.0) + 8
        ends = x + width > TIME_RIGHT
        left, right = (x - width, x) if ends else (x, x + width)
        tidy = (n for n in range(TIME_ROWS) if _free(rows[n], left, right) and not _crossed(rows[:n], x))
        apart = (n for n in range(TIME_ROWS) if _free(rows[n], left, right))
        row = next(tidy, next(apart, TIME_ROWS - 1))
        rows[row].append((left, right))
        y = 50 + row * 30
        marks.append(
            DayMark(x, day, label, y, y + 13, y + 14, x - 3 if ends else x + 3, "end" if ends else "start")
        )
    height = max((mark.day_y for mark in marks), default=44) + 8
    now = x_of(today)
    anchor = "end" if now > TIME_RIGHT - 40 else "start" if now < TIME_LEFT + 40 else "middle"
    return TimeStrip(marks, now, anchor, (x_of(start), x_of(end) if end else TIME_RIGHT), height)


def _free(row: list[tuple[float, float]], left: float, right: float) -> bool:
    """Whether words fit into a row beside those that are there."""
    return all(right <= low or left >= high for low, high in row)


def _crossed(rows: list[list[tuple[float, float]]], x: float) -> bool:
    """Whether a line down through these rows cuts words."""
    return any(low < x < high for row in rows for low, high in row)


@dataclass(frozen=True)
class Curve:
    name: str
    points: str
    second: bool


@dataclass(frozen=True)
class Chart:
    """Level (vertical, dB) over offset or angle (horizontal)."""

    curves: list[Curve]
    x_ticks: list[tuple[float, str]]
    y_ticks: list[tuple[float, float, str]]  # of the line, of its words


CHART_LEFT, CHART_RIGHT, CHART_TOP, CHART_BOTTOM = 44.0, 464.0, 10.0, 170.0


def chart(curves: Sequence[tuple[str, Sequence[tuple[float, float]]]]) -> Chart | None:
    """Polylines of ``(name, points)`` with common axes and round ticks."""
    everything = [point for _, points in curves for point in points]
    if not everything:
        return None
    x_low, x_high = min(x for x, _ in everything), max(x for x, _ in everything)
    y_low, y_high = min(y for _, y in everything), max(y for _, y in everything)
    y_low, y_high = math.floor(y_low / 10) * 10, math.ceil(y_high / 10) * 10
    x_span, y_span = (x_high - x_low) or 1.0, (y_high - y_low) or 10.0

    def place(x: float, y: float) -> tuple[float, float]:
        return (
            round(CHART_LEFT + (x - x_low) / x_span * (CHART_RIGHT - CHART_LEFT), 1),
            round(CHART_TOP + (y_high - y) / y_span * (CHART_BOTTOM - CHART_TOP), 1),
        )

    drawn = [
        Curve(name, " ".join(f"{px},{py}" for px, py in (place(x, y) for x, y in points)), bool(number))
        for number, (name, points) in enumerate(curves)
    ]
    return Chart(
        drawn,
        [(place(x, y_low)[0], f"{x:g}".replace("-", "−")) for x in _round_ticks(x_low, x_low + x_span)],
        [
            (place(x_low, y)[1], place(x_low, y)[1] + 4, f"{y:g}".replace("-", "−"))
            for y in _round_ticks(y_low, y_low + y_span)
        ],
    )


def _round_ticks(low: float, high: float, wanted: int = 5) -> list[float]:
    rough = (high - low) / wanted
    size = 10 ** math.floor(math.log10(rough))
    step = next(size * m for m in (1, 2, 2.5, 5, 10) if size * m >= rough)
    first = math.ceil(low / step - 1e-9)
    return [round(n * step, 10) for n in range(first, math.floor(high / step + 1e-9) + 1)]


def mask_drawing(masks: Iterable[Any]) -> Chart | None:
    """The emission mask and the receiver selectivity of one channel width, both halves drawn."""
    curves = []
    for mask in masks:
        points = [(float(offset), float(level)) for offset, level in mask.points]
        if points and points[0][0] >= 0:
            points = [(-offset, level) for offset, level in reversed(points) if offset > 0] + points
        curves.append((mask.get_kind_display(), points))
    return chart(curves)
