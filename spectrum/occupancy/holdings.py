"""Licensed channels and stations put together: one holding for each assignment, and for each use without one."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from enum import StrEnum

import numpy as np

from sites.words import gettext, gettext_noop


class State(StrEnum):
    """How a frequency stands at a place on a day; in the order in which somebody should look at it."""

    UNLICENSED = "unlicensed"
    UNUSED = "unused"
    USED = "used"
    RESERVED = "reserved"
    OTHER = "other"
    FREE = "free"

    @property
    def words(self) -> str:
        return gettext(_WORDS[self])

    @property
    def rank(self) -> int:
        """0 for what should be looked at first."""
        return list(State).index(self)


_WORDS = {
    State.UNLICENSED: gettext_noop("used without a licence"),
    State.UNUSED: gettext_noop("held, not used"),
    State.USED: gettext_noop("held and used"),
    State.RESERVED: gettext_noop("reserved"),
    State.OTHER: gettext_noop("of another party"),
    State.FREE: gettext_noop("free"),
}


@dataclass(frozen=True)
class Band:
    """A stretch of frequencies in Hz, both ends included; ``name`` says which band half it is, if it is one."""

    low_hz: int
    high_hz: int
    name: str = ""


@dataclass(frozen=True)
class Raster:
    """The channels of a plan as numbers; see ``spectrum.models.ChannelPlan``."""

    first_go_hz: int
    spacing_hz: int
    width_hz: int
    count: int
    duplex_hz: int

    @property
    def bands(self) -> list[Band]:
        """The band halves with the full width of their outer channels, the lower one first."""
        half, span = self.width_hz // 2, (self.count - 1) * self.spacing_hz
        go = Band(self.first_go_hz - half, self.first_go_hz + span + half, gettext("go"))
        if not self.duplex_hz:
            return [replace(go, name=gettext("go and return"))]
        back = Band(go.low_hz + self.duplex_hz, go.high_hz + self.duplex_hz, gettext("return"))
        return sorted((go, back), key=lambda band: band.low_hz)

    def place_of(self, frequency_hz: int) -> tuple[int, str] | None:
        """The number of the channel in which a frequency lies, and whether as go or return."""
        ways = [("go", 0), ("return", self.duplex_hz)] if self.duplex_hz else [("go", 0)]
        for way, offset in ways:
            number = round((frequency_hz - self.first_go_hz - offset) / self.spacing_hz) + 1
            away = frequency_hz - self.first_go_hz - offset - (number - 1) * self.spacing_hz
            if 1 <= number <= self.count and 2 * abs(away) <= self.width_hz:
                return number, way
        return None

    def pair_hz(self, number: int) -> tuple[int, int]:
        go = self.first_go_hz + (number - 1) * self.spacing_hz
        return go, go + self.duplex_hz


@dataclass(frozen=True)
class HeldChannel:
    """A licensed channel in force on the day. ``site_id`` None: it applies in an area, named by ``place``."""

    id: int
    label: str
    site_id: int | None
    place: str
    region: str
    frequency_hz: int
    width_hz: int
    receive_hz: int | None
    holder: str
    own: bool
    until: dt.date | None
    fee: Decimal | None
    currency: str
    licence_id: int
    used: bool
    position: tuple[float, float] | None = None


@dataclass(frozen=True)
class UsingStation:
    """A station of a link that is on the air on the day, or (``planned``) holds its frequencies until it is."""

    id: int
    name: str
    link_id: int
    link: str
    site_id: int
    place: str
    region: str
    transmit_hz: int | None
    receive_hz: int | None
    width_hz: int
    holder: str
    own: bool
    planned: bool
    until: dt.date | None
    channel_id: int | None
    position: tuple[float, float] | None = None


@dataclass(frozen=True)
class Use:
    """A station that uses a holding, or will."""

    station: str
    link_id: int
    link: str
    planned: bool


@dataclass(frozen=True)
class Holding:
    """One row of the picture and of the table. ``number`` and ``way`` where it lies in a channel of the plan."""

    pk: int
    state: State
    site_id: int | None
    place: str
    region: str
    transmit_hz: int | None
    receive_hz: int | None
    width_hz: int
    holder: str = ""
    licence: str = ""
    channel_id: int | None = None
    licence_id: int | None = None
    until: dt.date | None = None
    fee: Decimal | None = None
    currency: str = ""
    uses: tuple[Use, ...] = ()
    number: int | None = None
    way: str = ""
    position: tuple[float, float] | None = None

    @property
    def rank(self) -> int:
        return self.state.rank

    @property
    def links(self) -> str:
        """The codes of the links that use it, each once."""
        return ", ".join(dict.fromkeys(use.link for use in self.uses))


def holdings(
    channels: Iterable[HeldChannel], stations: Iterable[UsingStation], raster: Raster | None = None
) -> list[Holding]:
    """Put channels and stations together, by place and frequency.

    A station is under its licensed channel when that is in force and its transmit frequency lies within the
    channel's width; else it is a holding of its own: used without a licence, reserved, or another party's.
    """
    held = {channel.id: channel for channel in channels}
    uses: dict[int, list[UsingStation]] = defaultdict(list)
    alone: list[UsingStation] = []
    for station in stations:
        channel = held.get(station.channel_id) if station.channel_id is not None else None
        if channel is not None and _inside(station, channel):
            uses[channel.id].append(station)
        else:
            alone.append(station)
    made = [*(_held(c, uses[c.id]) for c in held.values()), *map(_alone, alone)]
    made.sort(key=lambda h: (h.region, h.place, h.transmit_hz or 0, h.rank))
    return [replace(_placed(one, raster), pk=n) for n, one in enumerate(made, start=1)]


def _inside(station: UsingStation, channel: HeldChannel) -> bool:
    sends = station.transmit_hz
    return sends is not None and 2 * abs(sends - channel.frequency_hz) <= channel.width_hz


def _held(channel: HeldChannel, users: Sequence[UsingStation]) -> Holding:
    # What uses it may stand outside the places that were read: ``used`` knows.
    used = channel.used or any(not user.planned for user in users)
    state = State.OTHER if not channel.own else State.USED if used else State.UNUSED
    # A channel that is not paired in the register is heard as its stations hear.
    receive_hz = channel.receive_hz or next((s.receive_hz for s in users if s.receive_hz), None)
    return Holding(
        0, state, channel.site_id, channel.place, channel.region, channel.frequency_hz, receive_hz,
        channel.width_hz, channel.holder, channel.label, channel.id, channel.licence_id, channel.until,
        channel.fee, channel.currency, tuple(map(_use, users)), position=channel.position,
    )  # fmt: skip


def _alone(station: UsingStation) -> Holding:
    state = State.OTHER if not station.own else State.RESERVED if station.planned else State.UNLICENSED
    if station.transmit_hz is None and state is State.UNLICENSED:
        state = State.USED  # what only listens needs no licence to transmit
    return Holding(
        0, state, station.site_id, station.place, station.region, station.transmit_hz, station.receive_hz,
        station.width_hz, station.holder, until=station.until, uses=(_use(station),), position=station.position,
    )  # fmt: skip


def _use(station: UsingStation) -> Use:
    return Use(station.name, station.link_id, station.link, station.planned)


def _placed(holding: Holding, raster: Raster | None) -> Holding:
    if raster is None:
        return holding
    for frequency, sends in ((holding.transmit_hz, True), (holding.receive_hz, False)):
        found = raster.place_of(frequency) if frequency is not None else None
        if found is not None:
            number, way = found
            if not sends and raster.duplex_hz:
                way = "return" if way == "go" else "go"
            return replace(holding, number=number, way=way)
    return holding


def free_channels(raster: Raster, taken: Sequence[Holding], region: str = "") -> Iterator[Holding]:
    """The channels of a plan of which neither the go nor the return half is touched by any holding, by number.

    Both what is sent and what is heard at a place takes its channel's width. Numbers go on from ``taken``.
    """
    touched = np.zeros(raster.count + 1, dtype=bool)
    for holding in taken:
        for frequency in (holding.transmit_hz, holding.receive_hz):
            for offset in {0, raster.duplex_hz} if frequency is not None else ():
                reach = (holding.width_hz + raster.width_hz) / 2
                from_first = (frequency or 0) - raster.first_go_hz - offset
                first = int(np.floor((from_first - reach) / raster.spacing_hz)) + 2
                last = int(np.ceil((from_first + reach) / raster.spacing_hz))
                if last >= 1 and first <= raster.count:
                    touched[max(first, 1) : min(last, raster.count) + 1] = True
    for n, number in enumerate(np.flatnonzero(~touched[1:]).tolist(), start=len(taken) + 1):
        go, back = raster.pair_hz(number + 1)
        yield Holding(n, State.FREE, None, "", region, go, back, raster.width_hz, number=number + 1, way="go")
