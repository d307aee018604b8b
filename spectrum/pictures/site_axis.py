"""What transmits and what listens at a site: one axis for each band, transmit above the line, receive below it.

Bands further apart than a twentieth of their frequency have axes of their own. Within a band an axis is cut where
nothing stands between the band halves; on both sides of a cut the scale is the same.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from sites.templatetags.figures import fixed
from sites.words import gettext, gettext_noop

from .labels import LETTER, LINE

Hertz = int | None
#: Name, transmit and receive frequency in Hz (None: it does not), channel width in Hz.
Stands = tuple[str, Hertz, Hertz, int]

WIDTH, LEFT, RIGHT, CUT = 560.0, 12.0, 456.0, 22.0
BLOCK: Final = 14.0
BAND_GAP_SHARE: Final = 0.05
#: Which band half a stretch holds; worded where it is shown.
BOTH, LOW, HIGH = gettext_noop("both halves"), gettext_noop("low half"), gettext_noop("high half")
#: A gap wider than this part of the least duplex spacing is cut out.
CUT_FROM: Final = 1 / 3
#: With more names than this on one side of the line none is written: the table has them.
NAMES: Final = 14
#: The narrowest stretch of an axis, as part of its widest.
LEAST_STRETCH: Final = 0.2


@dataclass(frozen=True)
class Mark:
    """One channel in use: its block, its name and the row that the name stands in, counted from the line."""

    x: float
    width: float
    middle: float
    name: str
    y: float
    text_y: float


@dataclass(frozen=True)
class Stretch:
    """A part of the axis without a cut; ``half`` says which band half it holds, as far as pairs tell."""

    x: float
    width: float
    half: str
    low_mhz: str
    high_mhz: str

    @property
    def centre_mhz(self) -> str:
        return f"{(float(self.low_mhz) + float(self.high_mhz)) / 2:.3f}"

    @property
    def end(self) -> float:
        return round(self.x + self.width, 1)

    @property
    def middle(self) -> float:
        return round(self.x + self.width / 2, 1)

    @property
    def narrow(self) -> bool:
        """Too narrow for a frequency at both ends."""
        return self.width < 2 * 8 * LETTER + 8


@dataclass(frozen=True)
class BandAxis:
    title: str
    stretches: list[Stretch]
    above: list[Mark]
    below: list[Mark]
    line: float
    height: float
    unnamed: bool

    @property
    def shade(self) -> float:
        return round(self.height - 40.0, 1)

    @property
    def text_y(self) -> float:
        return round(self.height - 6.0, 1)

    @property
    def block_y(self) -> float:
        return round(self.line - 13.0, 1)

    @property
    def transmit_y(self) -> float:
        return round(self.line - 3.0, 1)

    @property
    def receive_y(self) -> float:
        return round(self.line + 14.0, 1)


def site_axes(stations: Iterable[Stands]) -> list[BandAxis]:
    """The axes of a site, lowest band first."""
    stands = [s for s in stations if s[1] is not None or s[2] is not None]
    spans = sorted((min(_of(s)), max(_of(s))) for s in stands)
    bands: list[list[int]] = []
    for low, high in spans:
        if bands and low - bands[-1][1] <= BAND_GAP_SHARE * bands[-1][1]:
            bands[-1][1] = max(bands[-1][1], high)
        else:
            bands.append([low, high])
    return [_axis([s for s in stands if low <= min(_of(s)) <= high]) for low, high in bands]


def _of(station: Stands) -> list[int]:
    return [f for f in station[1:3] if f is not None]


def _axis(stations: Sequence[Stands]) -> BandAxis:
    widest = max(s[3] for s in stations)
    pieces = _cut(stations)
    spans = [(piece[0] - 1.5 * widest, piece[-1] + 1.5 * widest) for piece in pieces]
    least = LEAST_STRETCH * max(high - low for low, high in spans)
    spans = [
        (low - max(0.0, least - high + low) / 2, high + max(0.0, least - high + low) / 2)
        for low, high in spans
    ]
    per_hz = (RIGHT - LEFT - CUT * (len(spans) - 1)) / sum(high - low for low, high in spans)
    starts, x = [], LEFT
    for low, high in spans:
        starts.append(x)
        x += (high - low) * per_hz + CUT

    def place(hertz: float) -> float:
        n = next(n for n, (low, high) in enumerate(spans) if low <= hertz <= high)
        return starts[n] + (hertz - spans[n][0]) * per_hz

    above = _marks(stations, 1, place, per_hz)
    below = _marks(stations, 2, place, per_hz)
    unnamed = max(len(above), len(below)) > NAMES
    rows_above = [] if unnamed else _rows(above)
    rows_below = [] if unnamed else _rows(below)
    line = 34.0 + BLOCK + (max(rows_above, default=-1) + 1) * LINE
    down = BLOCK + (max(rows_below, default=-1) + 1) * LINE
    first, last = min(min(_of(s)) for s in stations), max(max(_of(s)) for s in stations)
    return BandAxis(
        title=f"{first / 1e6:.5f} MHz"
        if first == last
        else gettext("{first} to {last} MHz").format(first=fixed(first / 1e6, 3), last=fixed(last / 1e6, 3)),
        stretches=[
            Stretch(
                round(start, 1),
                round((high - low) * per_hz, 1),
                _half(piece, stations),
                f"{low / 1e6:.3f}",
                f"{high / 1e6:.3f}",
            )
            for start, (low, high), piece in zip(starts, spans, pieces, strict=True)
        ],
        above=_drawn(above, rows_above, line, up=True),
        below=_drawn(below, rows_below, line, up=False),
        line=line,
        height=line + down + 30.0,
        unnamed=unnamed,
    )


def _cut(stations: Sequence[Stands]) -> list[list[int]]:
    """The frequencies of a band in pieces with nothing much between them."""
    frequencies = sorted({f for s in stations for f in _of(s)})
    spacings = [abs(s[1] - s[2]) for s in stations if s[1] is not None and s[2] is not None and s[1] != s[2]]
    gap = min(spacings) * CUT_FROM if spacings else float("inf")
    pieces = [[frequencies[0]]]
    for f in frequencies[1:]:
        if f - pieces[-1][-1] > gap:
            pieces.append([f])
        else:
            pieces[-1].append(f)
    return pieces


def _half(piece: Sequence[int], stations: Sequence[Stands]) -> str:
    here = set(piece)
    pairs = [s for s in stations if s[1] is not None and s[2] is not None and s[1] != s[2]]
    low = any(min(_of(s)) in here for s in pairs)
    high = any(max(_of(s)) in here for s in pairs)
    if low and high:
        return BOTH
    return LOW if low else HIGH if high else ""


def _marks(
    stations: Sequence[Stands], side: int, place: Callable[[float], float], per_hz: float
) -> list[tuple[float, float, str]]:
    """Left edge, width and name of every channel in use on one side, from left to right."""
    names: dict[tuple[int, int], list[str]] = {}
    for station in stations:
        hertz = station[side]
        if isinstance(hertz, int):
            names.setdefault((hertz, station[3]), []).append(station[0])
    marks = []
    for (hertz, width), who in sorted(names.items()):
        drawn = max(4.0, width * per_hz)
        name = who[0] if len(who) == 1 else f"{who[0]} +{len(who) - 1}"
        marks.append((place(hertz) - drawn / 2, drawn, name))
    return marks


def _rows(marks: Sequence[tuple[float, float, str]]) -> list[int]:
    """A row for each name, so that it covers neither another name nor the line that leads to one.

    A name runs to the right of its mark, above all marks that it passes.
    """
    rows = [0] * len(marks)
    middle = [x + width / 2 for x, width, _ in marks]
    for i in reversed(range(len(marks))):
        end = middle[i] + len(marks[i][2]) * LETTER + 8.0
        passed = [rows[j] for j in range(i + 1, len(marks)) if middle[j] <= end]
        rows[i] = max(passed, default=-1) + 1
    return rows


def _drawn(
    marks: Sequence[tuple[float, float, str]], rows: Sequence[int], line: float, *, up: bool
) -> list[Mark]:
    result = []
    for n, (x, width, name) in enumerate(marks):
        away = BLOCK + 4.0 + rows[n] * LINE if rows else BLOCK
        tip = line - away - LINE + 6.0 if up else line + away + LINE - 6.0
        result.append(
            Mark(
                round(x, 1), round(width, 1), round(x + width / 2, 1), name if rows else "",
                round(tip, 1), round(tip + (3.0 if up else 6.0), 1),
            )
        )  # fmt: skip
    return result
