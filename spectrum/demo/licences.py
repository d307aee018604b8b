"""Licences for the links of the demo, made from what the stations do, so that nothing is off its licence."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from licences.limits import DIPOLE_GAIN_DBI
from licences.models import Licence, LicensedChannel
from sites.geodesy import inverse
from spectrum.models import Link, Station

from .parties import AUTHORITY_OF_REGION, KLSO, TMRB
from .world import Drafted, Network, World

POWER_KINDS = (
    LicensedChannel.PowerKind.ERP,
    LicensedChannel.PowerKind.EIRP,
    LicensedChannel.PowerKind.TX_OUTPUT,
)
#: So many of our links share one licence of the office that grants them for networks.
LINKS_PER_NETWORK_LICENCE = 3
AREA_MARGIN_DEG = 0.03


@dataclass
class Papers:
    """Licences and licensed channels, not saved, in the order made."""

    licences: dict[str, Licence] = field(default_factory=dict)
    channels: list[LicensedChannel] = field(default_factory=list)

    def add(self, licence: Licence) -> Licence:
        """Take in a licence; its number must be new."""
        if licence.number in self.licences:
            raise ValueError(f"The demo has two licences with the number {licence.number}.")
        self.licences[licence.number] = licence
        return licence

    def channel(self, number: str, label: str) -> LicensedChannel:
        """The licensed channel with a label."""
        return next(c for c in self.channels if c.licence.number == number and c.label == label)


def license_all(world: World, network: Network) -> Papers:
    """A licence for every link that is to have one: one per link at one authority, for up to three at the other."""
    papers = Papers()
    open_network: dict[str, tuple[Licence, int]] = {}
    for number, drafted in enumerate(network.links.values()):
        if not drafted.licensed:
            continue
        authority = AUTHORITY_OF_REGION.get(drafted.stations[0].site.region, TMRB)
        holder = drafted.link.holder
        shared = (
            authority == KLSO
            and holder.own
            and drafted.link.status == Link.Status.ON_AIR
            and not drafted.beside
        )
        licence, used = open_network.get(holder.name, (None, 0))
        if not shared or licence is None or used == LINKS_PER_NETWORK_LICENCE:
            licence, used = papers.add(_licence(world, authority, drafted, number)), 0
        if shared:
            open_network[holder.name] = (licence, used + 1)
        _channels_of(papers, licence, drafted, number)
    return papers


def licence(world: World, authority: str, number: str, holder: str, **changes: Any) -> Licence:
    """A licence with usual dates: in force for years, and far from its renewal."""
    return Licence(
        **{
            "authority": world.authorities[authority],
            "number": number,
            "holder": world.holders[holder],
            "granted_on": world.day(-1500),
            "in_force_from": world.day(-1480),
            "expires_on": world.day(1800),
            **changes,
        }
    )


def _licence(world: World, authority: str, drafted: Drafted, number: int) -> Licence:
    link = drafted.link
    spread = number * 37
    granted = -1500 - spread % 400
    on_air = link.status == Link.Status.ON_AIR
    values: dict[str, Any] = {
        "responsible": world.people["registrar"] if link.holder.own else None,
        "service": "fixed, microwave" if link.code.startswith("M7") else "fixed, land",
        "granted_on": world.day(granted),
        "in_force_from": world.day(granted + 20),
        "bring_into_use_by": world.day(granted + 385),
        "brought_into_use_on": world.day(granted + 200) if on_air else None,
        # Beyond both authorities' renewal windows.
        "expires_on": world.day(400 + spread % 2200) if number % 8 else None,
        "yearly_fee": Decimal(120 + 15 * (number % 9)),
        "fee_currency": "EUR",
        "fee_due_on": world.day(60 + spread % 290) if link.holder.own else None,
    }
    if not on_air:
        values |= {
            "granted_on": world.day(-60),
            "in_force_from": world.day(-30),
            "bring_into_use_by": world.day(300),
        }
    numbered = f"K{1000 + number}" if authority == KLSO else f"TM-{number:04d}"
    return licence(world, authority, numbered, link.holder.name, **values)


def _channels_of(papers: Papers, of: Licence, drafted: Drafted, number: int) -> None:
    """The return channel first, since the go channel names it as its pair."""
    code = drafted.link.code
    if drafted.link.kind == Link.Kind.POINT_TO_MULTIPOINT:
        hub = drafted.station("hub")
        back = _channel(of, f"{code} hub", hub, None, number)
        remotes = [s for s in drafted.stations if s.role == Station.Role.REMOTE]
        go = _channel(of, f"{code} remotes", remotes[0], None, number)
        go.site, go.tolerance_m, go.area = None, None, area_around(remotes)
        go.azimuth_deg = go.azimuth_tolerance_deg = None
        go.paired_with = back
        papers.channels += [back, go]
        hub.licensed_channel = back
        for remote in remotes:
            remote.licensed_channel = go
        return
    channels: dict[str, LicensedChannel] = {}
    for station in reversed(drafted.stations):
        if station.tx_power_dbm is None:
            continue
        other = next((s for s in drafted.stations if s is not station), None)
        channel = _channel(of, f"{code} {station.label}", station, other, number)
        channel.paired_with = channels.get("B")
        channels[station.label] = channel
        papers.channels.append(channel)
        station.licensed_channel = channel


def _channel(
    of: Licence, label: str, station: Station, other: Station | None, number: int
) -> LicensedChannel:
    """What the station does, rounded up to what an authority would write."""
    mode, kind = station.mode, POWER_KINDS[number % 3]
    azimuth = station.azimuth_deg
    if azimuth is None and other is not None:
        here, there = station.site, other.site
        azimuth = float(
            inverse(here.latitude_deg, here.longitude_deg, there.latitude_deg, there.longitude_deg)[1]
        )
    return LicensedChannel(
        licence=of,
        label=label,
        site=station.site,
        tolerance_m=100.0,
        frequency_hz=_sent_hz(station),
        channel_width_hz=mode.channel_width_hz,
        occupied_bandwidth_hz=mode.channel_width_hz if number % 2 else None,
        emission_designators=[mode.emission_designator],
        modulations=[mode.modulation] if number % 3 == 1 else [],
        power_limit_dbm=math.ceil(power_dbm(station, kind) + 0.5),
        power_kind=kind,
        antenna_height_max_m=station.antenna_height_agl_m + 2.0,
        azimuth_deg=None if azimuth is None else round(azimuth % 360.0, 1) % 360.0,
        azimuth_tolerance_deg=None if azimuth is None else 5.0,
        polarisation=station.polarisation,
    )


def _sent_hz(station: Station) -> int:
    if station.tx_frequency_hz is None:
        raise ValueError(f"Station {station.label} does not transmit and needs no licensed channel.")
    return station.tx_frequency_hz


def power_dbm(station: Station, kind: str) -> float:
    """The station's power in the licence's own kind."""
    output = station.tx_power_dbm or 0.0
    if kind == LicensedChannel.PowerKind.TX_OUTPUT:
        return output
    radiated = output - station.feeder_loss_db - station.duplexer_loss_db + station.antenna_type.gain_dbi
    return radiated - DIPOLE_GAIN_DBI if kind == LicensedChannel.PowerKind.ERP else radiated


def area_around(stations: Sequence[Station]) -> dict[str, Any]:
    """A GeoJSON rectangle around some stations, with a few kilometres to spare."""
    latitudes, longitudes = [s.site.latitude_deg for s in stations], [s.site.longitude_deg for s in stations]
    south, north = round(min(latitudes) - AREA_MARGIN_DEG, 3), round(max(latitudes) + AREA_MARGIN_DEG, 3)
    west, east = round(min(longitudes) - AREA_MARGIN_DEG, 3), round(max(longitudes) + AREA_MARGIN_DEG, 3)
    ring = [[west, south], [east, south], [east, north], [west, north], [west, south]]
    return {"type": "Polygon", "coordinates": [ring]}
