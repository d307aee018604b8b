"""What the parts of the demo hand to each other while it is built: stored things by name, and links not saved yet."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from licences.models import Authority, Holder
from sites.models import AntennaType, Person, Site
from spectrum.models import ChannelPlan, Link, RadioMode, Station


@dataclass
class World:
    """The stored parts that links and licences are made of. ``today`` is the day that all dates count from."""

    today: dt.date
    people: dict[str, Person]
    authorities: dict[str, Authority]
    holders: dict[str, Holder]
    sites: dict[str, Site]
    antennas: dict[str, AntennaType]
    modes: dict[tuple[str, str], RadioMode]
    plans: dict[str, ChannelPlan]

    def day(self, days: int) -> dt.date:
        """The day so many days from today."""
        return self.today + dt.timedelta(days=days)


@dataclass
class Drafted:
    """A link with its stations, not saved, and how it gets its channel.

    With ``beside`` it is put ``away`` channels from that link, and nothing between the two is avoided:
    that is how interference is planted. ``licensed`` is False where no licence is to be made.
    """

    link: Link
    stations: list[Station]
    beside: str = ""
    away: int = 0
    licensed: bool = True
    channel: int = 0

    def station(self, label: str) -> Station:
        """The station with a label."""
        return next(s for s in self.stations if s.label == label)

    def set_channel(self, number: int) -> None:
        """Put all stations on a channel of the link's plan: ends B and hubs transmit the return frequency."""
        plan = self.link.channel_plan
        if plan is None:
            raise ValueError(f"{self.link.code} has no channel plan to take channel {number} from.")
        self.channel = number
        go, back = plan.pair_hz(number)
        for station in self.stations:
            high = station.role in (Station.Role.B, Station.Role.HUB)
            sent, heard = (back, go) if high else (go, back)
            if station.tx_power_dbm is not None:
                station.tx_frequency_hz = sent
                station.rx_frequency_hz = heard if self.hears else None
            else:
                station.rx_frequency_hz = heard

    @property
    def hears(self) -> bool:
        """Whether the transmitting stations also receive; a link of one station is a beacon and does not."""
        return len(self.stations) > 1


@dataclass
class Network:
    """All links of the demo by code, in the order in which they were drafted."""

    links: dict[str, Drafted] = field(default_factory=dict)

    def add(self, drafted: Drafted) -> Drafted:
        """Take in a link; its code must be new."""
        if drafted.link.code in self.links:
            raise ValueError(f"The demo has two links with the code {drafted.link.code}.")
        self.links[drafted.link.code] = drafted
        return drafted
