"""The picture of a pair search: margins over frequency, one picture for each plan and polarisation."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby

from sites.words import gettext
from spectrum.pair_rows import PairRow

LEFT, RIGHT = 112.0, 712.0
TOP, LIMIT, BOTTOM = 24, 94, 164
DEPTH_DB = 20.0
YES = "yes"  # a mark without words: the name of its line says it all
LANE = 20
LETTER = 11.0  # on a narrow screen the words are drawn larger


@dataclass(frozen=True)
class Bars:
    """The pairs of one verdict as one path: a bar from the limit up to the margin, or down."""

    side: str
    path: str
    width: float
    dash: str


@dataclass(frozen=True)
class LaneMark:
    """Neighbouring pairs with the same thing to say, and the words where there is room for them."""

    x: float
    width: float
    label: str
    label_x: float


@dataclass(frozen=True)
class PairLane:
    """One line under the bars: what else there is to say of pairs."""

    name: str
    y: int
    marks: list[LaneMark]

    @property
    def text_y(self) -> int:
        return self.y + 10


@dataclass(frozen=True)
class PairPicture:
    """Frequency rises to the right, margins stand on the limit: inside above it, over the limit below."""

    title: str
    bars: list[Bars]
    lanes: list[PairLane]
    ticks: list[tuple[float, str, str]]
    best: tuple[float, str] | None
    height: int


def pair_pictures(rows: Iterable[PairRow]) -> list[PairPicture]:
    """A picture for each plan and polarisation, in the order of the plans."""
    ordered = sorted(rows, key=lambda r: (r.plan, r.polarisation != "V", r.number))
    return [
        _picture(
            gettext("{plan}, polarisation {polarisation}").format(plan=plan, polarisation=polarisation),
            list(group),
        )
        for (plan, polarisation), group in groupby(ordered, key=lambda r: (r.plan, r.polarisation))
    ]


def _picture(title: str, rows: Sequence[PairRow]) -> PairPicture:
    low, high = min(r.go_hz for r in rows), max(r.go_hz for r in rows)
    step = (RIGHT - LEFT) / len(rows)
    scale = (RIGHT - LEFT - step) / max(high - low, 1)

    def x_of(row: PairRow) -> float:
        return LEFT + step / 2 + (row.go_hz - low) * scale

    bars = []
    for verdict, side, dash in (
        ("clear", "within", ""),
        ("decide", "close", "3 2"),
        ("rejected", "over", ""),
    ):
        parts = [
            f"M{x_of(r):.1f} {LIMIT}V{_y(r.worst_db):.1f}"
            for r in rows
            if r.verdict == verdict and not (verdict == "rejected" and r.worst_db is None)
        ]
        if parts:
            bars.append(Bars(side, "".join(parts), round(max(step * 0.75, 0.8), 2), dash))
    lanes: list[PairLane] = []
    for name, said in (
        (gettext("held by"), [r.held[0].link if r.held else "" for r in rows]),
        (gettext("licensed"), [gettext("unused") if r.licensed else "" for r in rows]),
        (gettext("products"), [YES if r.intermodulation else "" for r in rows]),
        (gettext("cannot"), [YES if r.verdict == "rejected" and r.worst_db is None else "" for r in rows]),
    ):
        if any(said):
            y = BOTTOM + 10 + LANE * len(lanes)
            lanes.append(
                PairLane(name, y, _marks([(x_of(r), text) for r, text in zip(rows, said, strict=True)], step))
            )
    first = min(rows, key=lambda r: r.rank)
    best = (
        (round(x_of(first), 1), gettext("channel {number}").format(number=first.number))
        if first.verdict != "rejected"
        else None
    )
    shown = sorted({0, len(rows) // 2, len(rows) - 1})
    ticks = [
        (round(x_of(rows[i]), 1), f"{rows[i].go_hz / 1e6:.5f}", f"{rows[i].return_hz / 1e6:.5f}")
        for i in shown
    ]
    return PairPicture(title, bars, lanes, ticks, best, BOTTOM + LANE * len(lanes) + 50)


def _y(margin_db: float | None) -> float:
    """The end of a bar; a margin beyond the scale ends at its edge, one of 0 is still seen."""
    held = DEPTH_DB if margin_db is None else max(-DEPTH_DB, min(DEPTH_DB, margin_db))
    if abs(held) < 0.5:
        held = 0.5 if held >= 0 else -0.5
    return LIMIT - held / DEPTH_DB * (LIMIT - TOP)


def _marks(said: Sequence[tuple[float, str]], step: float) -> list[LaneMark]:
    """Runs of equal words as marks; the words stand to the right of a mark where the next one leaves room."""
    runs: list[tuple[float, float, str]] = []
    for text, group in groupby(said, key=lambda pair: pair[1]):
        if text:
            xs = [x for x, _ in group]
            runs.append((xs[0] - max(step * 0.4, 0.6), xs[-1] + max(step * 0.4, 0.6), text))
    starts = [start for start, _, _ in runs[1:]] + [RIGHT]
    marks = []
    for (start, end, text), following in zip(runs, starts, strict=True):
        fits = text != YES and len(text) * LETTER + 8 <= following - end
        marks.append(
            LaneMark(round(start, 1), round(end - start, 1), text if fits else "", round(end + 4, 1))
        )
    return marks
