"""What is searched: channel pairs of one or several plans, for the stations of one link."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from spectrum.conflicts.columns import ROLES, BoolArray, IntArray
from spectrum.conflicts.network import (
    Network,
    PlanRecord,
    StationRecord,
    columns_of,
)
from spectrum.radio.channel_rasters import channel_frequencies_hz

# The first side of a link is end A or the hub, the second end B or the remotes.
FIRST_ROLES = ("a", "hub")
_FIRST_SIDE = tuple(ROLES.index(role) for role in FIRST_ROLES)


@dataclass(frozen=True)
class Offer:
    """One channel plan, the stations of the link as they would be set in it, and which way round.

    The frequencies and the polarisation of the ``stations`` do not matter; they are those of each pair.
    ``first_sends_go`` says that end A (or the hub) transmits the plan's go frequency.
    """

    plan: PlanRecord
    channel_width_hz: int
    stations: tuple[StationRecord, ...]
    polarisations: tuple[str, ...]
    first_sends_go: bool = True


@dataclass(frozen=True)
class Pairs:
    """The pairs searched, one entry each, in the order of the offers, polarisations and channel numbers."""

    offer: IntArray
    number: IntArray
    go_hz: IntArray
    return_hz: IntArray
    vertical: BoolArray
    first_tx_hz: IntArray
    second_tx_hz: IntArray

    def __len__(self) -> int:
        return len(self.offer)


@dataclass(frozen=True)
class Stage:
    """The neighbours together with the link's stations, once for each pair.

    ``own`` are the rows of the link's stations in the network, ``pair`` the pair each belongs to, ``end``
    which of the link's stations it is. Every pair has a link number of its own, below 0.
    """

    network: Network
    pairs: Pairs
    others: IntArray
    own: IntArray
    pair: IntArray
    end: IntArray


def pairs_of(offers: Sequence[Offer]) -> Pairs:
    """All pairs of all offers."""
    parts = []
    for number, offer in enumerate(offers):
        plan = offer.plan
        raster = channel_frequencies_hz(
            plan.first_go_hz, plan.spacing_hz, plan.channel_count, plan.duplex_spacing_hz
        )
        first, second = raster if offer.first_sends_go else raster[::-1]
        for polarisation in offer.polarisations:
            parts.append(
                (
                    np.full(plan.channel_count, number),
                    np.arange(1, plan.channel_count + 1),
                    raster.go_hz,
                    raster.return_hz,
                    np.full(plan.channel_count, polarisation == "V"),
                    first,
                    second,
                )
            )
    if not parts:
        none = np.zeros(0, dtype=np.int64)
        return Pairs(none, none, none, none, none.astype(bool), none, none)
    return Pairs(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def stage_of(others: Network, offers: Sequence[Offer], pairs: Pairs, link_id: int) -> Stage:
    """Put the link's stations, set for every pair, beside the stations of all other links."""
    chosen = np.flatnonzero(others.link_id != link_id)
    columns = (others.columns or columns_of(others.stations)[0]).part(chosen)
    antennas, modes = list(others.antennas), list(others.modes)
    authority, environment = [others.authority[chosen]], [others.environment[chosen]]
    pair_rows, end_rows = [], []
    for number, offer in enumerate(offers):
        of_offer = np.flatnonzero(pairs.offer == number)
        template, more_antennas, more_modes = columns_of(offer.stations)
        count, ends = len(of_offer), len(offer.stations)
        rows = template.part(np.tile(np.arange(ends), count))
        at = np.repeat(of_offer, ends)
        first = np.isin(rows.role, _FIRST_SIDE)
        rows = replace(
            rows,
            link_id=-1 - at,
            own=np.full(len(at), offer.stations[0].link.own),
            vertical=pairs.vertical[at],
            antenna=rows.antenna + len(antennas),
            mode=rows.mode + len(modes),
            tx_hz=np.where(first, pairs.first_tx_hz[at], pairs.second_tx_hz[at]),
            rx_hz=np.where(first, pairs.second_tx_hz[at], pairs.first_tx_hz[at]),
        )
        rows = replace(
            rows,
            # An end without a power, or one that only listens, stays silent; one that only sends, deaf.
            tx_hz=np.where(np.isnan(rows.tx_power_dbm), 0, rows.tx_hz),
        )
        columns = columns.followed_by(rows)
        antennas += more_antennas
        modes += more_modes
        authority.append(np.tile([_authority(s) for s in offer.stations], count))
        environment.append(np.tile([s.environment for s in offer.stations], count))
        pair_rows.append(at)
        end_rows.append(np.tile(np.arange(ends), count))
    network = Network(
        as_of=others.as_of,
        stations=[],
        columns=columns,
        antennas=antennas,
        modes=modes,
        authority=np.concatenate(authority),
        environment=np.concatenate(environment),
    )
    own = np.arange(len(chosen), len(network))
    return Stage(network, pairs, chosen, own, np.concatenate(pair_rows), np.concatenate(end_rows))


def _authority(station: StationRecord) -> str:
    return station.channel.licence.authority if station.channel else ""
