"""Who holds and who uses a band: a strip for each place, transmit above the line, receive below it, one scale for all."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from sites.templatetags.figures import fixed
from sites.words import gettext, ngettext
from spectrum.occupancy import Band, Holding, State

WIDTH: Final = 560.0
CUT: Final = 22.0
LINE: Final = 16.0
HEIGHT: Final = 32.0
LEAST_WIDTH: Final = 3.0
#: A band half is not drawn narrower than this part of the wider one.
LEAST_SHARE: Final = 0.2
MOST_STRIPS: Final = 40


@dataclass(frozen=True)
class Mark:
    """One block; of several holdings at the same frequency the one that should be looked at first."""

    state: str
    x: float
    y: float
    width: float
    height: float
    title: str

    @property
    def end(self) -> float:
        return round(self.x + self.width, 1)

    @property
    def middle_y(self) -> float:
        return round(self.y + self.height / 2, 1)

    @property
    def foot(self) -> float:
        return round(self.y + self.height, 1)


@dataclass(frozen=True)
class Strip:
    """A place, what it counts in words, and its blocks. ``site_id`` None: a district, an area, or what is free."""

    place: str
    site_id: int | None
    counts: str
    marks: Sequence[Mark]


@dataclass(frozen=True)
class Stretch:
    """A part of the axis without a cut."""

    x: float
    width: float
    name: str
    low_mhz: str
    high_mhz: str

    @property
    def end(self) -> float:
        return round(self.x + self.width, 1)

    @property
    def middle(self) -> float:
        return round(self.x + self.width / 2, 1)


@dataclass(frozen=True)
class Picture:
    stretches: Sequence[Stretch]
    strips: Sequence[Strip]
    places: int  # how many there are; the strips may be fewer
    legend: Sequence[tuple[str, Mark]]


def picture(
    bands: Sequence[Band], held: Sequence[Holding], free: Sequence[Holding], *, by_site: bool
) -> Picture:
    """The strips by place: those first where something is used without a licence or held and not used."""
    axis = _Axis(bands)
    rows: dict[tuple[str, int | None], list[Holding]] = defaultdict(list)
    for holding in held:
        place = (
            holding.place if by_site or holding.site_id is None else holding.region or gettext("no district")
        )
        rows[place, holding.site_id if by_site else None].append(holding)
    in_order = sorted(rows.items(), key=lambda row: (min(2, *(h.rank for h in row[1])), row[0][0]))
    strips = [
        Strip(place, site, _counts(those), axis.marks(those))
        for (place, site), those in in_order[:MOST_STRIPS]
    ]
    if free:
        strips.append(
            Strip(
                gettext("free here"),
                None,
                ngettext("{count} channel", "{count} channels", len(free)).format(count=len(free)),
                axis.marks(free),
            )
        )
    states = {h.state for h in held} | ({State.FREE} if free else set())
    legend = [
        (s.words, Mark(s.value, 3.0, LINE - _tall(s), 20.0, _tall(s), ""))
        for s in sorted(states, key=lambda s: s.rank)
    ]
    return Picture(axis.stretches, strips, len(rows), legend)


def _tall(state: State) -> float:
    """How high a block is: what is ours and matters is the highest."""
    return {State.OTHER: 6.0, State.FREE: 3.0}.get(state, 12.0)


def _counts(those: Iterable[Holding]) -> str:
    counted: dict[State, int] = defaultdict(int)
    for holding in those:
        counted[holding.state] += 1
    return ", ".join(f"{counted[s]} {s.words}" for s in sorted(counted, key=lambda s: s.rank))


class _Axis:
    """Where a frequency lies: bands side by side with a cut between them, all on one scale where that can be."""

    def __init__(self, bands: Sequence[Band]) -> None:
        self.bands = _joined(bands)
        widest = max(b.high_hz - b.low_hz for b in self.bands)
        spans = [max(b.high_hz - b.low_hz, LEAST_SHARE * widest, 1.0) for b in self.bands]
        per_hz = (WIDTH - CUT * (len(spans) - 1)) / sum(spans)
        self.stretches: list[Stretch] = []
        x = 0.0
        for band, span in zip(self.bands, spans, strict=True):
            width = span * per_hz
            low, high = f"{band.low_hz / 1e6:.3f}", f"{band.high_hz / 1e6:.3f}"
            self.stretches.append(Stretch(round(x, 1), round(width, 1), band.name, low, high))
            x += width + CUT

    def marks(self, those: Iterable[Holding]) -> list[Mark]:
        found: dict[tuple[bool, float], Mark] = {}
        ranks: dict[tuple[bool, float], int] = {}
        for holding in those:
            for frequency, sends in ((holding.transmit_hz, True), (holding.receive_hz, False)):
                mark = self._mark(holding, frequency, sends) if frequency is not None else None
                if mark is None:
                    continue
                key = (sends, mark.x)
                if key not in found or holding.rank < ranks[key]:
                    found[key], ranks[key] = mark, holding.rank
        # What is to be looked at first is drawn last, over the rest.
        return [found[key] for key in sorted(found, key=lambda key: -ranks[key])]

    def _mark(self, holding: Holding, frequency_hz: int, sends: bool) -> Mark | None:
        for band, stretch in zip(self.bands, self.stretches, strict=True):
            if band.low_hz <= frequency_hz <= band.high_hz:
                per_hz = stretch.width / max(band.high_hz - band.low_hz, 1)
                width = max(LEAST_WIDTH, holding.width_hz * per_hz)
                middle = stretch.x + (frequency_hz - band.low_hz) * per_hz
                x = min(max(middle - width / 2, stretch.x), stretch.end - width)
                tall = _tall(holding.state)
                who = holding.links or holding.licence or holding.holder
                sentence = (
                    gettext("{state}: sends {frequency_mhz} MHz {who}")
                    if sends
                    else gettext("{state}: hears {frequency_mhz} MHz {who}")
                )
                title = sentence.format(
                    state=holding.state.words, frequency_mhz=fixed(frequency_hz / 1e6, 5), who=who
                ).strip()
                y = LINE - tall if sends else LINE
                return Mark(holding.state.value, round(x, 1), y, round(width, 1), tall, title)
        return None


def _both(one: str, other: str) -> str:
    if not one or not other or one == other:
        return one or other
    return gettext("{one} and {other}").format(one=one, other=other)


def _joined(bands: Sequence[Band]) -> list[Band]:
    """Bands in order, those that touch put together."""
    joined: list[Band] = []
    for band in sorted(bands, key=lambda b: b.low_hz):
        if joined and band.low_hz <= joined[-1].high_hz:
            last = joined[-1]
            names = _both(last.name, band.name)
            joined[-1] = Band(last.low_hz, max(last.high_hz, band.high_hz), names)
        else:
            joined.append(band)
    return joined
