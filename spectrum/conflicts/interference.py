"""Interference, whole: single entry against I/N and C/I, and the aggregate at each victim."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from sites.terrain import TerrainStore
from spectrum.radio.rejection import NO_OVERLAP_FDR_DB

from . import compiled
from .aggregate import Received, aggregate_drafts
from .budget import PairBudget, budget_of, noise_of, wanted_levels
from .columns import FloatArray, IntArray
from .criteria import Criteria, limits_of
from .drafts import Draft
from .neighbours import Candidates, Filter, Tick, candidates, fdr_db
from .network import Network
from .single_entry import Explainer


@dataclass
class Interference:
    """What was found, and which links were looked at as victims with all their interferers."""

    drafts: list[Draft] = field(default_factory=list)
    victims: set[int] = field(default_factory=set)


class Prepared:
    """What every search of one network needs, computed once: noise, criteria per station, the compiled search."""

    def __init__(
        self,
        network: Network,
        criteria: Criteria,
        terrain: TerrainStore | None = None,
        *,
        compiled_from_receivers: int = compiled.WORTH_IT_FROM_RECEIVERS,
    ) -> None:
        self.compiled_from_receivers = compiled_from_receivers
        self.network, self.criteria, self.terrain = network, criteria, terrain
        self.noise = noise_of(network)
        self.limits = limits_of(network.rx_hz / 1e6, network.authority, criteria)
        self.receivers = np.flatnonzero(network.rx_hz > 0)
        self._screen: Any = None

    def wanted_dbm(self, receivers: IntArray) -> FloatArray:
        """Median wanted level at the receivers named, dBm; NaN elsewhere."""
        return wanted_levels(self.network, self.limits, self.criteria, self.terrain, receivers)

    def pairs(self, receivers: IntArray, wanted: FloatArray, tick: Tick | None) -> Iterator[Candidates]:
        """Every pair with one of the receivers that could matter, searched by whichever way is faster."""
        if compiled.AVAILABLE and len(receivers) >= self.compiled_from_receivers:
            yield from self._by_compiled_search(receivers, wanted, tick)
            return
        yield from candidates(
            self.network, receivers, self.noise.total_dbm, wanted, self.limits, self.criteria,
            over_terrain=self.terrain is not None, tick=tick,
        )  # fmt: skip

    def budget(self, pairs: Candidates, wanted: FloatArray) -> PairBudget:
        """Every term of the budget of pairs."""
        return budget_of(
            self.network, pairs.tx, pairs.rx, pairs.fdr_db, self.noise, self.limits, self.criteria,
            wanted_dbm=wanted, terrain=self.terrain,
        )  # fmt: skip

    def filter(self) -> Filter:
        """What leaves out pairs that cannot matter."""
        return Filter(
            self.network, self.noise.total_dbm, self.limits, self.criteria,
            over_terrain=self.terrain is not None,
        )  # fmt: skip

    def explainer(self) -> Explainer:
        """What makes findings of budgets."""
        return Explainer(self.network, self.noise, self.limits, self.criteria)

    def _by_compiled_search(
        self, receivers: IntArray, wanted: FloatArray, tick: Tick | None
    ) -> Iterator[Candidates]:
        if self._screen is None:
            from .compiled.screen import Screen

            level = self.terrain is None
            self._screen = Screen(self.network, self.noise.total_dbm, self.limits, self.criteria, level=level)
        if tick is not None:
            tick(0, len(receivers))
        for tx, rx, done in self._screen.pairs(receivers, wanted):
            fdr = fdr_db(self.network, tx, rx)
            touching = fdr < NO_OVERLAP_FDR_DB
            yield Candidates(tx[touching], rx[touching], fdr[touching])
            if tick is not None:
                tick(done, len(receivers))


def interference_findings(
    network: Network,
    criteria: Criteria,
    *,
    link_id: int | None = None,
    also_victims: Collection[int] = (),
    terrain: TerrainStore | None = None,
    tick: Tick | None = None,
    receivers: IntArray | None = None,
    prepared: Prepared | None = None,
) -> Interference:
    """Every pair and every sum over its limit, or so close below that a person must decide.

    With ``link_id`` the single entries in which that link has a part, and the sums at its own receivers,
    at those it has a share in, and at those of the links ``also_victims`` (see :mod:`.one_link`). With
    ``receivers`` only what happens at these; ``prepared`` is of the same network, criteria and terrain.
    """
    prepared = prepared or Prepared(network, criteria, terrain)
    if link_id is not None:
        from .one_link import entries_of, sums_at

        entries = entries_of(prepared, link_id)
        victims = entries.victims | set(also_victims)
        return Interference([*entries.drafts, *sums_at(prepared, victims)], victims)
    receivers = prepared.receivers if receivers is None else receivers
    found = Interference(victims=set(network.link_id[receivers].tolist()))
    if not len(receivers):
        return found
    wanted = prepared.wanted_dbm(receivers)
    explain = prepared.explainer()
    received = Received(network)
    for block in prepared.pairs(receivers, wanted, tick):
        if not len(block.tx):
            continue
        budget = prepared.budget(block, wanted)
        found.drafts += explain.drafts(budget)
        received.add(budget, prepared.limits, criteria)
    found.drafts += aggregate_drafts(network, received, prepared.noise, prepared.limits, criteria)
    return found
