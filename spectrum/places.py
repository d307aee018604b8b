"""Where links and findings are on a map: straight lines between sites, or the one place concerned."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from licences.places import place_of_channel
from sites.models import Site
from sites.tables import Geometry, lines, place
from sites.tables.geometry import Position
from spectrum.models import Finding, Link, Station

#: Kinds in which a finding's first link sends what its other link is disturbed by.
PAIRS = ("co_channel", "adjacent_channel", "carrier_to_interference")
ROLE_ORDER = {Station.Role.A: 0, Station.Role.B: 1, Station.Role.HUB: 0, Station.Role.REMOTE: 1}


def stations_in_order(link: Link) -> list[Station]:
    """End A before end B, the hub before its remotes, and these by their labels."""
    return sorted(
        link.stations.all(), key=lambda s: (ROLE_ORDER[Station.Role(s.role)], len(s.label), s.label)
    )


def place_of_link(link: Link) -> Geometry | None:
    """From end A to end B, or from the hub to each remote; a point where all stand at one place."""
    return _star([_position(station.site) for station in stations_in_order(link)])


def place_of_finding(finding: Finding) -> Geometry | None:
    """From the one station to the other where a finding has two; else the station, site or link it is about."""
    one = _station(finding.link, finding.station_label)
    other = _station(finding.other_link, finding.other_station_label)
    found = place_of_parties(
        _position(one.site) if one else None,
        _position(other.site) if other else None,
        _position(finding.site) if finding.site else None,
        [_position(station.site) for station in stations_in_order(finding.link)] if finding.link else [],
    )
    if found is None and finding.licensed_channel:
        return place_of_channel(finding.licensed_channel)
    return found


def place_of_parties(
    one: Position | None, other: Position | None, site: Position | None, link: Sequence[Position]
) -> Geometry | None:
    """Where a finding is, by the positions of its stations and site, and of its link's stations in order."""
    if one and other:
        return _star([one, other])
    if site:
        return place(*site)
    return place(*one) if one else _star(link)


def sender_of(finding: Finding) -> str:
    """The station that disturbs, of a finding about two stations; empty for any other."""
    return _name(finding.link, finding.station_label) if finding.kind in PAIRS else ""


def victim_of(finding: Finding) -> str:
    """The station that is disturbed: by one other, or in the aggregate by many; empty for any other finding."""
    if finding.kind in PAIRS:
        return _name(finding.other_link, finding.other_station_label)
    return _name(finding.link, finding.station_label) if finding.kind == "aggregate" else ""


def _name(link: Link | None, label: str) -> str:
    return f"{link.code}/{label}" if link else ""


def _station(link: Link | None, label: str) -> Station | None:
    if link is None or not label:
        return None
    return next((station for station in link.stations.all() if station.label == label), None)


def _position(site: Site) -> Position:
    return site.longitude_deg, site.latitude_deg


def _star(positions: Iterable[Position]) -> Geometry | None:
    """Lines from the first position to each other one that lies elsewhere."""
    different = list(dict.fromkeys(positions))
    if not different:
        return None
    first, *others = different
    return lines([(first, other) for other in others]) or place(*first)
