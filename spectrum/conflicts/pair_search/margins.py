"""The worst margins of every pair, as disturber and as victim, each counterpart's path computed once.

As *victim* the path, the gains and the polarisation of an interferer do not depend on the pair: its level
before rejection is computed once, and each pair only looks up the frequency-dependent rejection of its
offset. The result is that of the definition (:func:`..budget.budget_of`), term by term.

As *disturber* the path is computed on our own frequency, which every pair moves by a little. Each victim is
computed at the lowest and the highest pair that reaches it; between these the level is read off a straight
line, with the difference of the two (and :data:`SLACK_DB`) as its uncertainty. That only decides which
victim can be the worst: whichever can is computed by the definition at the pair's own frequency. Loss and
pattern are taken to stay, between the two, within this uncertainty; a mask's reach is below a few per cent of
the frequency, and the property test against the full check watches over it.

Margins up to :data:`COMPLETE_WITHIN_DB` above the limits are complete: beyond, pairs are left out by the
same bound as in a check (see :mod:`..neighbours`) and the margin is given as infinite, "more than".
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from sites.geodesy import ecef
from sites.terrain import TerrainStore
from spectrum.conflicts.budget import Noise, PairBudget, budget_of, noise_of, wanted_levels
from spectrum.conflicts.columns import BoolArray, FloatArray, IntArray
from spectrum.conflicts.criteria import Criteria, Limits, limits_of
from spectrum.conflicts.least_loss import least_loss_db, line_of_sight_allowance_db
from spectrum.conflicts.neighbours import fdr_db
from spectrum.conflicts.network import expanded
from spectrum.conflicts.path_loss import LEAST_HEIGHT_M, heights_over_lower
from spectrum.radio.propagation.free_space import free_space_loss_db
from spectrum.radio.rejection import NO_OVERLAP_FDR_DB

from .pairs import Stage

COMPLETE_WITHIN_DB = 20.0
SLACK_DB = 0.1
NOBODY = -1


@dataclass(frozen=True)
class Worst:
    """The least margin of every pair in dB (inf: more than :data:`COMPLETE_WITHIN_DB`), and whose it is.

    ``other`` is the row of the counterpart, ``end`` which of the link's stations has a part in it.
    """

    margin_db: FloatArray
    other: IntArray
    end: IntArray

    @classmethod
    def none(cls, pairs: int) -> Worst:
        """Nobody in reach of any pair."""
        return cls(np.full(pairs, np.inf), np.full(pairs, NOBODY), np.full(pairs, NOBODY))


@dataclass(frozen=True)
class Contacts:
    """Every counterpart that is known to stand below its limit at a pair: pair, counterpart, margin."""

    pair: IntArray
    other: IntArray
    margin_db: FloatArray


@dataclass(frozen=True)
class Margins:
    """What every pair would do and suffer. ``aggregate`` is the sum of all at the link's own receivers."""

    disturbs_noise: Worst
    disturbs_wanted: Worst
    noise_disturbed: Worst
    wanted_disturbed: Worst
    aggregate: Worst
    below: Contacts


class _Basis:
    """What both directions need: noise, limits and wanted levels."""

    def __init__(self, stage: Stage, criteria: Criteria, terrain: TerrainStore | None) -> None:
        self.stage, self.network = stage, stage.network
        self.criteria, self.terrain = criteria, terrain
        self.noise: Noise = noise_of(self.network)
        self.limits: Limits = limits_of(self.network.rx_hz / 1e6, self.network.authority, criteria)
        self.wanted = np.full(len(self.network), np.nan)
        self.position = ecef(self.network.latitude_deg, self.network.longitude_deg)

    def learn_wanted(self, receivers: IntArray) -> None:
        """Compute the wanted level at receivers."""
        levels = wanted_levels(self.network, self.limits, self.criteria, self.terrain, receivers)
        self.wanted[receivers] = levels[receivers]

    def budget(self, tx: IntArray, rx: IntArray, fdr: FloatArray) -> PairBudget:
        return budget_of(
            self.network, tx, rx, fdr, self.noise, self.limits, self.criteria,
            wanted_dbm=self.wanted, terrain=self.terrain,
        )  # fmt: skip

    def possible(self, tx: IntArray, rx: IntArray) -> BoolArray:
        """Pairs of stations that a check would compare: ours among them, at the same time, within the radius."""
        n = self.network
        keep: BoolArray = (
            (n.own[tx] | n.own[rx]) & (n.starts[tx] <= n.ends[rx]) & (n.starts[rx] <= n.ends[tx])
        )
        chord_km = np.linalg.norm(self.position[tx] - self.position[rx], axis=-1) / 1e3
        return keep & (chord_km <= self.criteria.policy_radius_km)

    def may_matter(
        self, tx: IntArray, rx: IntArray, noise_dbm: FloatArray, wanted_dbm: FloatArray
    ) -> BoolArray:
        """Pairs that the bound of a check does not rule out, without any rejection by frequency."""
        n, limits, criteria = self.network, self.limits, self.criteria
        chord_km = np.linalg.norm(self.position[tx] - self.position[rx], axis=-1) / 1e3
        chord_km = np.maximum(chord_km, criteria.same_site_spacing_m / 1e3)
        strongest = (
            n.tx_power_dbm[tx] - n.line_losses_db[tx] + n.gain_dbi[tx] + n.gain_dbi[rx] - n.line_losses_db[rx]
        )  # fmt: skip
        by_noise = noise_dbm + limits.i_over_n_db[rx] - COMPLETE_WITHIN_DB - SLACK_DB
        by_wanted = wanted_dbm - n.required_ci_db[rx] - COMPLETE_WITHIN_DB - SLACK_DB
        free = free_space_loss_db(n.tx_hz[tx] / 1e6, chord_km)
        losses = [
            free - line_of_sight_allowance_db(percent[rx])
            for percent in (limits.long_percent, limits.short_percent)
        ]
        keep = _reaches(strongest, losses, by_noise, by_wanted)
        if self.terrain is None and keep.any():
            at = np.flatnonzero(keep)
            level = [
                self._least_loss(tx[at], rx[at], chord_km[at], percent[rx[at]])
                for percent in (limits.long_percent, limits.short_percent)
            ]
            keep[at] = _reaches(strongest[at], level, by_noise[at], by_wanted[at])
        return keep

    def _least_loss(
        self, tx: IntArray, rx: IntArray, chord_km: FloatArray, percent: FloatArray
    ) -> FloatArray:
        n = self.network
        height_tx, height_rx = heights_over_lower(n, tx, rx)
        north, other = n.latitude_deg[tx], n.latitude_deg[rx]
        # As in the check: half a degree covers the ellipsoid.
        nearest = np.where(north * other > 0.0, np.minimum(np.abs(north), np.abs(other)) - 0.5, 0.0)
        return least_loss_db(
            n.tx_hz[tx] / 1e6,
            chord_km,
            percent,
            np.maximum(height_tx, LEAST_HEIGHT_M),
            np.maximum(height_rx, LEAST_HEIGHT_M),
            np.maximum(nearest, 0.0),
            self.criteria.climate,
        )


def margins_of(stage: Stage, criteria: Criteria, terrain: TerrainStore | None = None) -> Margins:
    """The worst margins of every pair of a stage."""
    basis = _Basis(stage, criteria, terrain)
    suffered = _as_victim(basis)
    caused = _as_disturber(basis)
    return Margins(*caused[:2], *suffered[:3], _joined(caused[2], suffered[3]))


def _as_victim(basis: _Basis) -> tuple[Worst, Worst, Worst, Contacts]:
    """Others' transmitters at the link's receivers: I/N, C/I, the sum, and all that are below a limit."""
    stage, network = basis.stage, basis.network
    emitters = np.flatnonzero((network.tx_hz > 0) & (network.link_id >= 0))
    near_parts, at_parts, rx_parts, place_parts = [], [], [], []
    at_least = np.full(len(network), np.nan)
    count = 0
    groups = _groups(basis, receiving=True)
    basis.learn_wanted(np.unique(_all([group[[0, -1]] for group in groups])))
    for group in groups:
        met, first, last = _touching(basis, emitters, group, heard=True)
        at_least[group] = _least_wanted(basis, group)
        at = np.full(len(met), group[0])
        keep = basis.may_matter(
            met,
            at,
            np.full(len(met), basis.noise.total_dbm[group].min()),
            np.full(len(met), at_least[group].min()),
        )
        rx, place = expanded(group, first[keep], last[keep], count + np.arange(int(keep.sum())))
        count += int(keep.sum())
        near_parts.append(met[keep])
        at_parts.append(at[keep])
        rx_parts.append(rx)
        place_parts.append(place)
    near, rx, place = _all(near_parts), _all(rx_parts), _all(place_parts)
    base = basis.budget(near, _all(at_parts), np.zeros(count))
    tx, long, short = near[place], base.interference_dbm[place], base.short_term_dbm[place]
    fdr = fdr_db(network, tx, rx)
    keep = fdr < NO_OVERLAP_FDR_DB
    tx, rx, long, short = tx[keep], rx[keep], long[keep] - fdr[keep], short[keep] - fdr[keep]
    i_over_n = long - basis.noise.total_dbm[rx]
    noise_margin = basis.limits.i_over_n_db[rx] - i_over_n
    # The wanted signal is computed where it may come within reach; elsewhere it stays unknown, and beyond it.
    basis.learn_wanted(np.unique(rx[at_least[rx] - short - network.required_ci_db[rx] <= COMPLETE_WITHIN_DB]))
    ci_margin = basis.wanted[rx] - short - network.required_ci_db[rx]
    pair, end = _pair_and_end(stage, rx)
    strong = i_over_n >= basis.limits.i_over_n_db[rx] - basis.criteria.aggregate_depth_db
    aggregate = _aggregate(basis, rx[strong], tx[strong], long[strong])
    return (
        _worst(len(stage.pairs), pair, tx, end, noise_margin),
        _worst(len(stage.pairs), pair, tx, end, ci_margin),
        aggregate,
        _below(pair, tx, noise_margin),
    )


def _least_wanted(basis: _Basis, group: IntArray) -> FloatArray:
    """The least that the wanted level of each of a group can be, read off a straight line between its ends, dBm."""
    hertz = basis.network.rx_hz[group]
    low, high = basis.wanted[group[[0, -1]]]
    share = (hertz - hertz[0]) / max(int(hertz[-1] - hertz[0]), 1)
    return np.asarray(low + share * (high - low) - SLACK_DB - abs(high - low))


def _aggregate(basis: _Basis, rx: IntArray, tx: IntArray, level_dbm: FloatArray) -> Worst:
    """The sum of all interferers, two or more, at each of the link's receivers."""
    stage, size = basis.stage, len(basis.network)
    count = np.bincount(rx, minlength=size)
    milliwatts = np.bincount(rx, weights=10.0 ** (level_dbm / 10.0), minlength=size)
    several = np.flatnonzero(count >= 2)
    total = 10.0 * np.log10(milliwatts[several])
    margin = basis.limits.aggregate_db[several] - (total - basis.noise.total_dbm[several])
    pair, end = _pair_and_end(stage, several)
    order = np.argsort(-level_dbm, kind="stable")
    strongest = np.full(size, NOBODY)
    strongest[rx[order[::-1]]] = tx[order[::-1]]
    return _worst(len(stage.pairs), pair, strongest[several], end, margin)


def _as_disturber(basis: _Basis) -> tuple[Worst, Worst, Contacts]:
    """The link's transmitters at others' receivers: I/N, C/I, and all that are below their limit."""
    stage, network = basis.stage, basis.network
    victims = np.flatnonzero((network.rx_hz > 0) & (network.link_id >= 0))
    tx_parts, victim_parts, place_parts, at_low, at_high = [], [], [], [], []
    groups = _groups(basis, receiving=False)
    reached = [_touching(basis, victims, group, heard=False) for group in groups]
    basis.learn_wanted(np.unique(_all([near for near, _, _ in reached])))
    count = 0
    for group, (met, first_met, last_met) in zip(groups, reached, strict=True):
        lowest, highest = group[first_met], group[last_met - 1]
        noise, wanted = basis.noise.total_dbm[met], basis.wanted[met]
        keep = basis.may_matter(lowest, met, noise, wanted) | basis.may_matter(highest, met, noise, wanted)
        near, first, last = met[keep], first_met[keep], last_met[keep]
        tx, place = expanded(group, first, last, count + np.arange(len(near)))
        count += len(near)
        at_low.append(lowest[keep])
        at_high.append(highest[keep])
        victim_parts.append(near)
        tx_parts.append(tx)
        place_parts.append(place)
    tx, place, victim = _all(tx_parts), _all(place_parts), _all(victim_parts)
    low, high, rx = _all(at_low), _all(at_high), victim[place]
    at_both = basis.budget(np.concatenate((low, high)), np.concatenate((victim, victim)), np.zeros(2 * count))
    fdr = fdr_db(network, tx, rx)
    keep = fdr < NO_OVERLAP_FDR_DB
    tx, rx, place, fdr = tx[keep], rx[keep], place[keep], fdr[keep]
    span = (network.tx_hz[high] - network.tx_hz[low])[place]
    share = np.where(span > 0, (network.tx_hz[tx] - network.tx_hz[low[place]]) / np.maximum(span, 1), 0.0)

    def between(level: FloatArray) -> tuple[FloatArray, FloatArray]:
        at_lowest, at_highest = level[:count][place], level[count:][place]
        return (
            at_lowest + share * (at_highest - at_lowest) - fdr,
            SLACK_DB + np.abs(at_highest - at_lowest),
        )

    pair, end = _pair_and_end(stage, tx)
    long, long_slack = between(at_both.interference_dbm)
    short, short_slack = between(at_both.short_term_dbm)
    noise_margin = basis.limits.i_over_n_db[rx] - (long - basis.noise.total_dbm[rx])
    ci_margin = basis.wanted[rx] - short - network.required_ci_db[rx]
    pairs = len(stage.pairs)
    exact = np.zeros(len(tx), dtype=bool)
    for margin, slack in ((noise_margin, long_slack), (ci_margin, short_slack)):
        exact |= _could_be_worst(pairs, pair, margin, slack)
    exact |= noise_margin - long_slack < 0.0
    at = np.flatnonzero(exact)
    budget = basis.budget(tx[at], rx[at], fdr[at])
    return (
        _worst(pairs, pair[at], rx[at], end[at], budget.margin_db),
        _worst(pairs, pair[at], rx[at], end[at], budget.ci_margin_db),
        _below(pair[at], rx[at], budget.margin_db),
    )


def _could_be_worst(count: int, pair: IntArray, margin: FloatArray, slack: FloatArray) -> BoolArray:
    """Entries whose least possible margin is not above the greatest possible one of their pair's worst."""
    known = ~np.isnan(margin)
    best = np.full(count, COMPLETE_WITHIN_DB)
    np.minimum.at(best, pair[known], (margin + slack)[known])
    # NaN, no wanted level known, compares as False.
    return np.asarray(margin - slack <= best[pair])


def _groups(basis: _Basis, *, receiving: bool) -> list[IntArray]:
    """The link's rows that differ in nothing but frequency, each group in order of frequency."""
    stage, network, limits = basis.stage, basis.network, basis.limits
    hertz = network.rx_hz if receiving else network.tx_hz
    own = stage.own[hertz[stage.own] > 0]
    keys = [stage.end[own - stage.own[0]] if len(own) else own, network.mode[own], network.vertical[own]]
    if receiving:
        keys += [limits.long_percent[own], limits.short_percent[own]]
    if not len(own):
        return []
    _, number = np.unique(np.column_stack(keys), axis=0, return_inverse=True)
    number = number.ravel()
    ordered = np.lexsort((hertz[own], number))
    cuts = np.flatnonzero(np.diff(number[ordered])) + 1
    return list(np.split(own[ordered], cuts))


def _touching(
    basis: _Basis, others: IntArray, group: IntArray, *, heard: bool
) -> tuple[IntArray, IntArray, IntArray]:
    """Those of ``others`` that a check would compare, and the rows ``group[first:last]`` their masks meet.

    ``heard`` says that the group receives and the others transmit; otherwise it is the other way round.
    """
    network = basis.network
    own_mode = network.modes[network.mode[group[0]]]
    hertz = network.tx_hz[others] if heard else network.rx_hz[others]
    own_hz = network.rx_hz[group] if heard else network.tx_hz[group]
    first = np.zeros(len(others), dtype=np.int64)
    last = np.zeros(len(others), dtype=np.int64)
    for number in np.unique(network.mode[others]):
        at = network.mode[others] == number
        mode = network.modes[number]
        low_e, high_e = (mode if heard else own_mode).emission.span_khz
        low_s, high_s = (own_mode if heard else mode).selectivity.span_khz
        # Emission less reception lies between these where the masks overlap.
        low, high = int(np.floor((low_s - high_e) * 1e3)), int(np.ceil((high_s - low_e) * 1e3))
        if heard:
            low, high = -high, -low
        first[at] = np.searchsorted(own_hz, hertz[at] + low, side="left")
        last[at] = np.searchsorted(own_hz, hertz[at] + high, side="right")
    meets = np.flatnonzero(first < last)
    at = np.full(len(meets), group[0])
    tx, rx = (others[meets], at) if heard else (at, others[meets])
    meets = meets[basis.possible(tx, rx)]
    return others[meets], first[meets], last[meets]


def _pair_and_end(stage: Stage, row: IntArray) -> tuple[IntArray, IntArray]:
    at = row - (stage.own[0] if len(stage.own) else 0)
    return stage.pair[at], stage.end[at]


def _worst(count: int, pair: IntArray, other: IntArray, end: IntArray, margin: FloatArray) -> Worst:
    """The least margin of each pair; where two are equal the counterpart that stands first."""
    result = Worst.none(count)
    known = np.flatnonzero(margin <= COMPLETE_WITHIN_DB)
    known = known[np.lexsort((end[known], other[known], margin[known], pair[known]))]
    at, first = np.unique(pair[known], return_index=True)
    chosen = known[first]
    result.margin_db[at], result.other[at], result.end[at] = margin[chosen], other[chosen], end[chosen]
    return result


def _below(pair: IntArray, other: IntArray, margin: FloatArray) -> Contacts:
    below = margin < 0.0
    return Contacts(pair[below], other[below], margin[below])


def _joined(one: Contacts, other: Contacts) -> Contacts:
    return Contacts(
        np.concatenate((one.pair, other.pair)),
        np.concatenate((one.other, other.other)),
        np.concatenate((one.margin_db, other.margin_db)),
    )


def _reaches(
    strongest: FloatArray, losses: list[FloatArray], by_noise: FloatArray, by_wanted: FloatArray
) -> BoolArray:
    long, short = losses
    return np.asarray((strongest - long >= by_noise) | (strongest - short >= by_wanted))


def _all(parts: Sequence[npt.NDArray[Any]], kind: type = int) -> npt.NDArray[Any]:
    return np.concatenate(parts) if parts else np.zeros(0, dtype=kind)
