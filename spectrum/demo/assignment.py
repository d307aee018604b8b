"""Gives every link of the demo a channel that is clear, judged by the engine's own budget.

The coupling of every sender to every receiver of the same band half is computed once, without frequency
rejection; then link after link takes the first channel of its plan on which, with the rejection of the
masks, it neither disturbs what was placed before nor is disturbed, with some decibels to spare. What is
planted beside another link comes first, and nothing between those two is avoided.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spectrum.conflicts.budget import budget_of, noise_of, wanted_levels
from spectrum.conflicts.columns import FloatArray, IntArray
from spectrum.conflicts.criteria import limits_of
from spectrum.conflicts.gather import criteria_in_force, drafted_network
from spectrum.radio.rejection import rejection_table

from .world import Drafted, Network, World

#: The first channel must keep this far from the limits of a single interferer, of their sum, and of C/I.
SPARE_DB = 5.0
PAIRS_PER_BLOCK = 20_000
CHANNELS_AT_ONCE = 24


class NoClearChannelError(Exception):
    """A link of the demo cannot be placed; the network was changed so that a plan no longer suffices."""


def assign(world: World, network: Network) -> None:
    """Set the frequencies of all stations. Raises NoClearChannelError."""
    order = _in_order(list(network.links.values()))
    for link in order:
        plan = link.link.channel_plan
        if plan is None:
            raise ValueError(f"{link.link.code} has no channel plan.")
        link.set_channel((plan.channel_count + 1) // 2)
    placing = _Placing(world, order)
    for number, link in enumerate(order):
        partner = network.links.get(link.beside)
        channel = placing.place(number, partner)
        if channel is None:
            raise NoClearChannelError(
                f"No channel of {link.link.channel_plan} is clear for {link.link.code}."
            )
        link.set_channel(channel)


def _in_order(links: list[Drafted]) -> list[Drafted]:
    """What others are planted beside, each followed by what is planted there; then the rest."""
    hosts = list(dict.fromkeys(x.beside for x in links if x.beside))

    def rank(link: Drafted) -> tuple[int, bool]:
        host = link.beside or link.link.code
        return (hosts.index(host) if host in hosts else len(hosts), bool(link.beside))

    return sorted(links, key=rank)


class _Placing:
    """Coupling levels, and what was placed so far."""

    def __init__(self, world: World, links: Sequence[Drafted]) -> None:
        self.links = links
        rows = [station for link in links for station in link.stations]
        network = drafted_network([(x.link, x.stations) for x in links], world.today)
        self.owner = np.repeat(np.arange(len(links)), [len(x.stations) for x in links])
        self.high = np.array([s.role in ("b", "hub") for s in rows])
        bands = [str(x.link.channel_plan.code)[:3] if x.link.channel_plan else "" for x in links]
        self.band = np.unique(bands, return_inverse=True)[1][self.owner]
        self.modes, self.mode = network.modes, network.mode
        self.sends, self.hears = network.tx_hz > 0, network.rx_hz > 0
        # What is on the air now: nothing yet.
        self.sent_hz, self.heard_hz = np.zeros(len(rows), dtype=np.int64), np.zeros(len(rows), dtype=np.int64)
        self.received_mw = np.zeros(len(rows))

        criteria = criteria_in_force()
        limits = limits_of(network.rx_hz / 1e6, network.authority, criteria)
        noise = noise_of(network)
        wanted = wanted_levels(network, limits, criteria, None, np.flatnonzero(self.hears))
        single = noise.total_dbm + limits.i_over_n_db - SPARE_DB
        most_dbm = noise.total_dbm + limits.aggregate_db - SPARE_DB
        self.most_sum_mw = np.where(self.hears, 10.0 ** (most_dbm / 10.0), np.inf)
        short = np.nan_to_num(wanted - network.required_ci_db - SPARE_DB, nan=np.inf)
        self.level_dbm = np.full((len(rows), len(rows)), -np.inf)
        # Over the tighter of the two single limits: positive is too much, before any rejection.
        self.excess_db = np.full((len(rows), len(rows)), -np.inf)
        tx, rx = self._pairs()
        for start in range(0, len(tx), PAIRS_PER_BLOCK):
            t, r = tx[start : start + PAIRS_PER_BLOCK], rx[start : start + PAIRS_PER_BLOCK]
            budget = budget_of(
                network, t, r, np.zeros(len(t)), noise, limits, criteria, wanted_dbm=wanted
            )  # fmt: skip
            self.level_dbm[t, r] = budget.interference_dbm
            self.excess_db[t, r] = np.maximum(
                budget.interference_dbm - single[r], budget.short_term_dbm - short[r]
            )

    def _pairs(self) -> tuple[IntArray, IntArray]:
        """Every sender and receiver of two links that use the same half of the same band."""
        # An end that sends in the one half hears in the other.
        near = (self.band[:, None] == self.band) & (self.high[:, None] != self.high)
        near &= self.sends[:, None] & self.hears & (self.owner[:, None] != self.owner)
        tx, rx = np.nonzero(near)
        return tx, rx

    def place(self, number: int, partner: Drafted | None) -> int | None:
        """The first clear channel for a link, or the one it is planted on; None where none is clear."""
        link = self.links[number]
        plan = link.link.channel_plan
        assert plan is not None  # noqa: S101 - assign has looked
        if partner is not None:
            return self._first_clear(number, [partner.channel + link.away], self.links.index(partner))
        for first in range(1, plan.channel_count + 1, CHANNELS_AT_ONCE):
            last = min(first + CHANNELS_AT_ONCE, plan.channel_count + 1)
            channel = self._first_clear(number, range(first, last))
            if channel is not None:
                return channel
        return None

    def _first_clear(self, number: int, channels: Sequence[int], partner: int = -1) -> int | None:
        plan = self.links[number].link.channel_plan
        assert plan is not None  # noqa: S101 - assign has looked
        mine = np.flatnonzero(self.owner == number)
        placed = (self.sent_hz + self.heard_hz > 0) & (self.band == self.band[mine[0]])
        judged = np.flatnonzero(placed & (self.owner != partner))
        pairs = np.array([plan.pair_hz(n) for n in channels])
        # channels × stations of this link
        sent = np.where(self.high[mine], pairs[:, 1:], pairs[:, :1])
        heard = np.where(self.high[mine], pairs[:, :1], pairs[:, 1:])
        out = self._levels(mine, judged, sent, self.heard_hz[judged])
        into = self._levels(judged, mine, self.sent_hz[judged], heard)
        clear = (out.worst <= 0.0) & (into.worst <= 0.0)
        clear &= (self.received_mw[judged] + out.sum_mw <= self.most_sum_mw[judged]).all(axis=1)
        clear &= (into.sum_mw <= self.most_sum_mw[mine]).all(axis=1)
        if not clear.any():
            return None
        best = int(np.flatnonzero(clear)[0])
        self.received_mw[judged] += out.sum_mw[best]
        self.received_mw[mine] = into.sum_mw[best]
        self.sent_hz[mine] = np.where(self.sends[mine], sent[best], 0)
        self.heard_hz[mine] = np.where(self.hears[mine], heard[best], 0)
        return channels[best]

    def _levels(self, tx: IntArray, rx: IntArray, sent_hz: IntArray, heard_hz: IntArray) -> _Levels:
        """What senders do to receivers; one of the two frequencies has a row for each channel tried."""
        offset = np.atleast_2d(sent_hz)[:, :, None] - np.atleast_2d(heard_hz)[:, None, :]
        fdr = np.zeros(offset.shape)
        for sender in np.unique(self.mode[tx]):
            for listener in np.unique(self.mode[rx]):
                at = np.ix_(np.arange(len(offset)), self.mode[tx] == sender, self.mode[rx] == listener)
                masks = self.modes[sender].emission, self.modes[listener].selectivity
                fdr[at] = rejection_table(*masks, offset[at]).fdr_db
        pair = np.ix_(tx, rx)
        excess, level = self.excess_db[pair] - fdr, self.level_dbm[pair] - fdr
        return _Levels(
            worst=excess.max(axis=(1, 2), initial=-np.inf), sum_mw=(10.0 ** (level / 10.0)).sum(axis=1)
        )


class _Levels:
    """Per channel tried: the worst excess of any pair in dB, and the power summed at each receiver in mW."""

    def __init__(self, worst: FloatArray, sum_mw: FloatArray) -> None:
        self.worst, self.sum_mw = worst, sum_mw
