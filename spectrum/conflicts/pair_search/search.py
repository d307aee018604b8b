"""The whole search: margins, sites, equipment, own licences; a verdict on every pair, and their order.

A pair is *rejected* when the equipment cannot do it or a margin is below 0, *to be decided* when a margin is
less than the model's spread or something at a site needs a person's judgement, else *clear*.

Order: clear before to be decided before rejected; within these the greater worst margin first (margins above
the depth of the search count as equal). Where these are equal: own licences that are paid for and unused come
first, then fewer intermodulation products, the narrower channel, the plans and polarisations in the order
asked, and the lower channel number.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sites.terrain import TerrainStore
from spectrum.conflicts.columns import FloatArray, IntArray
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.licence_checks import compare_station
from spectrum.conflicts.network import ChannelRecord, LinkRecord, Network, StationRecord

from .at_sites import NO_EXCEPTIONS, Exceptions, HalfClash, Hits, half_clashes, intermodulation_hits, is_first
from .margins import NOBODY, Margins, Worst, margins_of
from .pairs import Offer, Pairs, pairs_of, stage_of

CLEAR, DECIDE, REJECTED = 0, 1, 2


@dataclass(frozen=True)
class Found:
    """What the search found, one entry a pair; ``order`` are the numbers of the pairs, best first.

    Counterparts in ``margins`` are numbers in ``stations``; ``worst_db`` is the least of all margins.
    ``reserved`` has the links that hold a pair, ``reusable`` the own licensed channels that would allow it,
    one for each transmitting end; ``equipment`` says why the equipment cannot use a pair; ``clashes`` belong
    to the offers.
    """

    offers: Sequence[Offer]
    pairs: Pairs
    stations: Sequence[StationRecord]
    margins: Margins
    worst_db: FloatArray
    hits: Hits
    clashes: list[list[HalfClash]]
    equipment: list[str]
    reserved: dict[int, list[LinkRecord]]
    reusable: dict[int, list[ChannelRecord]]
    verdict: IntArray
    order: IntArray


def search(
    others: Network,
    offers: Sequence[Offer],
    criteria: Criteria,
    *,
    terrain: TerrainStore | None = None,
    unused: Sequence[ChannelRecord] = (),
    reserving: Collection[str] = (),
    exceptions: Exceptions = NO_EXCEPTIONS,
) -> Found:
    """Try every pair of the offers for one link against all other links.

    ``others`` may hold the link itself, which is left out. ``unused`` are own licensed channels that no live
    link uses; ``reserving`` the statuses in which a link holds its pair by reservation; ``exceptions`` those
    from the band-half rule that are documented with sites.
    """
    link = offers[0].stations[0].link
    pairs = pairs_of(offers)
    stage = stage_of(others, offers, pairs, link.id)
    margins = _renumbered(margins_of(stage, criteria, terrain), stage.others)
    hits = intermodulation_hits(others, offers, pairs, link.id, criteria)
    clashes = [
        half_clashes(
            others, offer, link.id, criteria, first_sends_go=offer.first_sends_go, exceptions=exceptions
        )
        for offer in offers
    ]
    equipment = _equipment(offers, pairs)
    worst = np.minimum.reduce([w.margin_db for w in _all(margins)])
    reusable = _reusable(offers, pairs, unused)
    verdict = np.full(len(pairs), CLEAR)
    at_a_site = np.array([bool(clashes[n]) for n in pairs.offer], dtype=bool) | (hits.count > 0)
    verdict[(worst <= criteria.decide_within_db) | at_a_site] = DECIDE
    verdict[(worst < 0.0) | np.array([bool(words) for words in equipment], dtype=bool)] = REJECTED
    width = np.array([offers[n].channel_width_hz for n in pairs.offer])
    licensed = np.array([number in reusable for number in range(len(pairs))], dtype=bool)
    order = np.lexsort((np.arange(len(pairs)), width, hits.count, ~licensed, -worst, verdict))
    return Found(
        offers, pairs, others.stations, margins, worst, hits, clashes, equipment,
        _reserved(margins, others, reserving), reusable, verdict, order,
    )  # fmt: skip


def _all(margins: Margins) -> tuple[Worst, ...]:
    return (
        margins.disturbs_noise,
        margins.disturbs_wanted,
        margins.noise_disturbed,
        margins.wanted_disturbed,
        margins.aggregate,
    )


def _renumbered(margins: Margins, others: IntArray) -> Margins:
    """Counterparts as numbers of the network that was given."""

    def stations(rows: IntArray) -> IntArray:
        known = rows != NOBODY
        result = np.full(len(rows), NOBODY)
        result[known] = others[rows[known]]
        return result

    changed = {
        name: replace(getattr(margins, name), other=stations(getattr(margins, name).other))
        for name in (
            "disturbs_noise", "disturbs_wanted", "noise_disturbed", "wanted_disturbed", "aggregate", "below"
        )
    }  # fmt: skip
    return replace(margins, **changed)


def _reserved(margins: Margins, others: Network, reserving: Collection[str]) -> dict[int, list[LinkRecord]]:
    """The links that hold a pair: planned or filed, not expired, and below a limit with it."""
    below = margins.below
    holders: dict[int, LinkRecord] = {}
    for row in np.unique(below.other):
        link = others.stations[int(row)].link
        expired = link.reserved_until is not None and link.reserved_until < others.as_of
        if link.status in reserving and not expired:
            holders[int(row)] = link
    held: dict[int, dict[int, LinkRecord]] = {}
    rows = np.flatnonzero(np.isin(below.other, list(holders))) if holders else np.zeros(0, dtype=np.int64)
    for at in rows[np.argsort(below.margin_db[rows], kind="stable")]:
        link = holders[int(below.other[at])]
        held.setdefault(int(below.pair[at]), {}).setdefault(link.id, link)
    return {pair: list(links.values()) for pair, links in held.items()}


def _equipment(offers: Sequence[Offer], pairs: Pairs) -> list[str]:
    """Why the radios or antennas cannot use a pair, in a sentence; empty where they can."""
    words = [""] * len(pairs)
    for number, offer in enumerate(offers):
        of_offer = np.flatnonzero(pairs.offer == number)
        for station in offer.stations:
            if station.mode.channel_width_hz > offer.channel_width_hz:
                sentence = (
                    f"{station.label}: {station.mode.name} needs {station.mode.channel_width_hz / 1e3:g} kHz, "
                    f"a channel of {offer.plan.code} has {offer.channel_width_hz / 1e3:g} kHz."
                )
                for pair in of_offer.tolist():
                    words[pair] = sentence
            low = np.minimum(pairs.go_hz, pairs.return_hz)[of_offer] / 1e6
            high = np.maximum(pairs.go_hz, pairs.return_hz)[of_offer] / 1e6
            for name, least, most in (
                (station.mode.name, station.mode.tuning_min_mhz, station.mode.tuning_max_mhz),
                (station.antenna.name, station.antenna.frequency_min_mhz, station.antenna.frequency_max_mhz),
            ):
                for at in np.flatnonzero((low < least) | (high > most)):
                    pair = int(of_offer[at])
                    words[pair] = words[pair] or (
                        f"{station.label}: {name} is made for {least:g} to {most:g} MHz."
                    )
    return words


def _reusable(
    offers: Sequence[Offer], pairs: Pairs, unused: Sequence[ChannelRecord]
) -> dict[int, list[ChannelRecord]]:
    """Pairs for which own unused licensed channels cover every transmitting end: frequency, width and place."""
    by_frequency: dict[int, list[ChannelRecord]] = {}
    for channel in unused:
        by_frequency.setdefault(channel.allowance.frequency_hz, []).append(channel)
    wanted = np.array(sorted(by_frequency), dtype=np.int64)
    found: dict[int, list[ChannelRecord]] = {}
    possible = np.isin(pairs.first_tx_hz, wanted) | np.isin(pairs.second_tx_hz, wanted)
    for pair in np.flatnonzero(possible).tolist():
        channels = []
        for station in offers[pairs.offer[pair]].stations:
            if station.tx_power_dbm is None:
                continue
            set_to = as_set(station, pairs, pair)
            fits = [
                c for c in by_frequency.get(set_to.tx_frequency_hz or 0, [])
                if all(r.within for r in compare_station(set_to, c) if r.kind in ("channel_width", "position"))
            ]  # fmt: skip
            channels.append(fits[0] if fits else None)
        if channels and None not in channels:
            found[pair] = [c for c in channels if c is not None]
    return found


def as_set(station: StationRecord, pairs: Pairs, pair: int) -> StationRecord:
    """A station of the link as it would be set for a pair."""
    first, second = int(pairs.first_tx_hz[pair]), int(pairs.second_tx_hz[pair])
    tx, rx = (first, second) if is_first(station) else (second, first)
    return replace(
        station,
        polarisation="V" if pairs.vertical[pair] else "H",
        tx_frequency_hz=None if station.tx_power_dbm is None else tx,
        rx_frequency_hz=rx,
    )
