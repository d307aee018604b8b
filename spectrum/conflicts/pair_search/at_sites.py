"""What a pair would do at the link's own sites: third-order intermodulation, and the half of the band.

The site is everything within the distance of the check's criteria. Products are those of the other
transmitters there with each other, and with the link's own. As in the check of sites a signal counts with its
occupied bandwidth, a product with the sum of |coefficient| × bandwidth, and one on the frequency of a signal
that makes it is not counted. A product *hits* when its centre lies inside the receiver's channel, and only
*touches* when its edge does. Its level is not computed here, so that a hit is for a person to decide.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sites.band_exceptions import BandException
from sites.geodesy import inverse
from spectrum.conflicts.columns import IntArray
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.network import Network, StationRecord, expanded
from spectrum.conflicts.site_checks.band_halves import documented, opposed
from spectrum.radio.intermodulation import coefficient_patterns, products_in_passbands

from .pairs import FIRST_ROLES, Offer, Pairs

Exceptions = Mapping[int, tuple[BandException, ...]]
NO_EXCEPTIONS: Exceptions = {}
ORDER = 3
OWN = -1
NONE = -2


@dataclass(frozen=True)
class Hits:
    """Intermodulation at the sites of the link, one entry a pair: how many products hit or touch, and the closest.

    The closest product is ``coefficients`` times the transmitters ``tx`` (numbers of stations, :data:`OWN` for
    the link's own at ``end``, :data:`NONE` unused), ``offset_hz`` from the receiver ``rx``.
    """

    count: IntArray
    touching: IntArray
    end: IntArray
    rx: IntArray
    tx: IntArray
    coefficients: IntArray
    offset_hz: IntArray

    @classmethod
    def none(cls, pairs: int) -> Hits:
        def filled(*shape: int) -> IntArray:
            return np.full(shape, NONE, dtype=np.int64)

        far = np.full(pairs, np.iinfo(np.int64).max)
        count, touching = np.zeros((2, pairs), dtype=np.int64)
        return cls(
            count,
            touching,
            filled(pairs),
            filled(pairs),
            filled(pairs, 3),
            filled(pairs, 3),
            far,
        )

    def add(
        self,
        pair: IntArray,
        end: int,
        rx: IntArray,
        tx: IntArray,
        coefficients: IntArray,
        offset_hz: IntArray,
        channel_hz: int,
    ) -> None:
        """Count products in a channel of a width, and keep the closest of each pair."""
        inside = 2 * np.abs(offset_hz) <= channel_hz
        np.add.at(self.count, pair[inside], 1)
        np.add.at(self.touching, pair[~inside], 1)
        order = np.lexsort((np.abs(offset_hz), pair))
        at, first = np.unique(pair[order], return_index=True)
        chosen = order[first]
        closer = np.abs(offset_hz[chosen]) < np.abs(self.offset_hz[at])
        at, chosen = at[closer], chosen[closer]
        self.end[at], self.rx[at] = end, rx[chosen]
        self.tx[at], self.coefficients[at] = tx[chosen], coefficients[chosen]
        self.offset_hz[at] = offset_hz[chosen]


def at_site(network: Network, station: StationRecord, link_id: int, criteria: Criteria) -> IntArray:
    """The stations of other links that stand within the site distance of a station, at the same time."""
    # A degree of latitude is at least 110 km; the exact distance is computed for the few that are left.
    north_deg = criteria.same_site_within_m / 110e3
    near = np.flatnonzero(
        (np.abs(network.latitude_deg - station.latitude_deg) <= north_deg)
        & (network.link_id != link_id)
        & (network.starts <= station.link.ends_on.toordinal())
        & (network.ends >= station.link.starts_on.toordinal())
    )
    length_m, _, _ = inverse(
        station.latitude_deg, station.longitude_deg, network.latitude_deg[near], network.longitude_deg[near]
    )
    return near[length_m < criteria.same_site_within_m]


def intermodulation_hits(
    network: Network, offers: Sequence[Offer], pairs: Pairs, link_id: int, criteria: Criteria
) -> Hits:
    """Third-order products at every end of the link, for every pair."""
    hits = Hits.none(len(pairs))
    channels = np.array([m.channel_width_hz for m in network.modes], dtype=np.int64)
    occupied = np.array([m.occupied_bandwidth_hz for m in network.modes], dtype=np.int64)
    for number, offer in enumerate(offers):
        of_offer = np.flatnonzero(pairs.offer == number)
        for end, station in enumerate(offer.stations):
            there = at_site(network, station, link_id, criteria)
            first = is_first(station)
            own_tx = (pairs.first_tx_hz if first else pairs.second_tx_hz)[of_offer]
            own_rx = (pairs.second_tx_hz if first else pairs.first_tx_hz)[of_offer]
            site = _Site(
                tx=there[network.tx_hz[there] > 0],
                rx=there[network.rx_hz[there] > 0],
                network=network,
                occupied=occupied[network.mode],
                channel=channels[network.mode],
            )
            _of_others(hits, site, end, of_offer, own_rx, station)
            if station.tx_power_dbm is not None:
                _with_own(hits, site, end, of_offer, own_tx, own_rx, station)
    return hits


def is_first(station: StationRecord) -> bool:
    """Whether a station is end A or the hub."""
    return station.role in FIRST_ROLES


@dataclass(frozen=True)
class _Site:
    tx: IntArray
    rx: IntArray
    network: Network
    occupied: IntArray
    channel: IntArray


def _of_others(
    hits: Hits, site: _Site, end: int, of_offer: IntArray, own_rx: IntArray, own: StationRecord
) -> None:
    """Products of the transmitters there, in the link's own receiver."""
    if len(site.tx) < 2 or not len(own_rx):
        return
    found = products_in_passbands(
        site.network.tx_hz[site.tx],
        site.occupied[site.tx],
        own_rx,
        own.mode.channel_width_hz,
        orders=(ORDER,),
    )
    found = found[~found["on_own_signal"]]
    senders = np.where(found["tx"] >= 0, site.tx[found["tx"]], NONE)
    hits.add(
        of_offer[found["rx"]],
        end,
        np.full(len(found), OWN),
        senders,
        found["coefficients"],
        found["offset_hz"],
        own.mode.channel_width_hz,
    )


def _with_own(
    hits: Hits,
    site: _Site,
    end: int,
    of_offer: IntArray,
    own_tx: IntArray,
    own_rx: IntArray,
    own: StationRecord,
) -> None:
    """Products in which the link's own transmitter has a part, in every receiver there and in its own.

    The product is c·f + P with f our frequency and P the part of the others. In a receiver on R it must lie
    within h of R: c·f between R − P ± h. In our own, on f + D: (c − 1)·f between D − P ± h.
    """
    order = np.argsort(own_tx, kind="stable")
    f, pair = own_tx[order], of_offer[order]
    sent = site.network.tx_hz[site.tx]
    targets = [
        (int(site.network.rx_hz[rx]), int(site.channel[rx]), int(rx), 0)
        for rx in site.rx[_one_of_each(site.network.rx_hz[site.rx], site.channel[site.rx])]
    ]
    targets.append((int(own_rx[0] - own_tx[0]), own.mode.channel_width_hz, OWN, 1))
    for pattern in coefficient_patterns((ORDER,), (2, 3)):
        for place in sorted({pattern.index(c) for c in pattern}):
            c = pattern[place]
            rest = pattern[:place] + pattern[place + 1 :]
            members = _choices(len(site.tx), rest)
            if not len(members):
                continue
            part = sent[members] @ np.array(rest)
            of_others_hz = site.occupied[site.tx][members] @ np.abs(rest)
            spread_hz = abs(c) * own.mode.occupied_bandwidth_hz + of_others_hz
            for centre, channel, rx, moving in targets:
                factor = c - moving
                rows, hit = _rows(f, factor, centre - part, spread_hz + channel)
                product = c * f[rows] + part[hit]
                on_a_signal = (product == f[rows]) | (product[:, None] == sent[members[hit]]).any(axis=1)
                rows, hit = rows[~on_a_signal], hit[~on_a_signal]
                if not len(rows):
                    continue
                tx = np.full((len(rows), 3), NONE, dtype=np.int64)
                coefficients = np.zeros((len(rows), 3), dtype=np.int64)
                tx[:, 0], coefficients[:, 0] = OWN, c
                tx[:, 1 : 1 + len(rest)] = site.tx[members[hit]]
                coefficients[:, 1 : 1 + len(rest)] = rest
                offset = factor * f[rows] + part[hit] - centre
                hits.add(pair[rows], end, np.full(len(rows), rx), tx, coefficients, offset, channel)


def _one_of_each(frequency_hz: IntArray, channel_hz: IntArray) -> IntArray:
    """The first of the receivers that are set alike: a product in them is one product."""
    _, first = np.unique(np.column_stack((frequency_hz, channel_hz)), axis=0, return_index=True)
    return np.sort(first)


def _choices(count: int, coefficients: tuple[int, ...]) -> IntArray:
    """All choices of different transmitters for one or two coefficients; once where these are equal."""
    if len(coefficients) == 1:
        return np.arange(count)[:, None]
    one, two = np.divmod(np.arange(count * count), max(count, 1))
    keep = one < two if coefficients[0] == coefficients[1] else one != two
    return np.column_stack((one[keep], two[keep]))


def _rows(f: IntArray, factor: int, middle: IntArray, double_half: IntArray) -> tuple[IntArray, IntArray]:
    """Rows of the rising ``f`` with ``2·|factor·f − middle| ≤ double_half``, and the entry of ``middle`` of each."""
    if factor == 0:
        near = np.flatnonzero(2 * np.abs(middle) <= double_half)
        first, last = np.zeros(len(near), dtype=np.int64), np.full(len(near), len(f))
        return expanded(np.arange(len(f)), first, last, near)
    sign = 1 if factor > 0 else -1
    # In doubled frequencies everything stays whole: 2·|factor|·f from low to high.
    low, high = sign * 2 * middle - double_half, sign * 2 * middle + double_half
    step = 2 * abs(factor)
    near = (
        np.flatnonzero((high >= step * f[0]) & (low <= step * f[-1]))
        if len(f)
        else np.zeros(0, dtype=np.int64)
    )
    first = np.searchsorted(step * f, low[near], side="left")
    last = np.searchsorted(step * f, high[near], side="right")
    return expanded(np.arange(len(f)), first, last, near)


@dataclass(frozen=True)
class HalfClash:
    """At one end a station of the site transmits in the half of the band in which the link would listen there."""

    end: int
    other: int


def half_clashes(
    network: Network,
    offer: Offer,
    link_id: int,
    criteria: Criteria,
    *,
    first_sends_go: bool,
    exceptions: Exceptions = NO_EXCEPTIONS,
) -> list[HalfClash]:
    """One entry for each end at whose site somebody transmits in the other half, by the rule of the site checks.

    The first and the last channel of the plan stand for all. ``exceptions`` are those documented with sites.
    """
    plan = offer.plan
    if plan.duplex_spacing_hz == 0:
        return []
    go = plan.first_go_hz + np.array([0, (plan.channel_count - 1) * plan.spacing_hz])
    back = go + plan.duplex_spacing_hz
    clashes = []
    for end, station in enumerate(offer.stations):
        tx, rx = (go, back) if is_first(station) == first_sends_go else (back, go)
        there = at_site(network, station, link_id, criteria)
        against = opposed(
            tx[:, None], rx[:, None], network.tx_hz[there][None, :], network.rx_hz[there][None, :]
        )
        for number in there[against.any(axis=0)].tolist():
            other = network.stations[number]
            tuned = [*go.tolist(), *back.tolist(), int(network.tx_hz[number]), int(network.rx_hz[number])]
            if documented(exceptions, (station.site_id, other.site_id), tuned) is None:
                clashes.append(HalfClash(end, number))
                break
    return clashes


def fitting_way(
    network: Network,
    offer: Offer,
    link_id: int,
    criteria: Criteria,
    *,
    now: bool,
    exceptions: Exceptions = NO_EXCEPTIONS,
) -> bool:
    """Which way round fits the halves at both sites: whether the first end sends go. ``now`` where both fit alike."""
    counts = {
        way: len(half_clashes(network, offer, link_id, criteria, first_sends_go=way, exceptions=exceptions))
        for way in (True, False)
    }
    return now if counts[True] == counts[False] else counts[True] < counts[False]
