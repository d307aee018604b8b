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
from .budget import budget_of, noise_of, wanted_levels
from .columns import FloatArray, IntArray
from .criteria import Criteria, limits_of
from .drafts import Draft
from .neighbours import Candidates, Tick, candidates, fdr_db, receivers_reached
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

    With ``link_id`` the single entries in which that link has a part, and the aggregates of the
    victims it reaches, of its own receivers, and of the links ``also_victims``. With ``receivers`` only
    what happens at these; ``prepared`` is of the same network, criteria and terrain.
    """
    found = Interference()
    prepared = prepared or Prepared(network, criteria, terrain)
    noise, limits = prepared.noise, prepared.limits
    receivers = prepared.receivers if receivers is None else receivers
    if link_id is not None:
        wanted_links = {
            link_id,
            *also_victims,
            *network.link_id[receivers_reached(network, link_id)].tolist(),
        }
        receivers = receivers[np.isin(network.link_id[receivers], list(wanted_links))]
    found.victims = set(network.link_id[receivers].tolist())
    if not len(receivers):
        return found
    wanted = prepared.wanted_dbm(receivers)
    explain = Explainer(network, noise, limits, criteria)
    received = Received(network)
    for block in prepared.pairs(receivers, wanted, tick):
        if not len(block.tx):
            continue
        budget = budget_of(
            network,
            block.tx,
            block.rx,
            block.fdr_db,
            noise,
            limits,
            criteria,
            wanted_dbm=wanted,
            terrain=terrain,
        )
        part = np.ones(len(block.tx), dtype=bool)
        if link_id is not None:
            part = (network.link_id[block.tx] == link_id) | (network.link_id[block.rx] == link_id)
        for i in np.flatnonzero(part & (budget.margin_db <= criteria.decide_within_db)):
            found.drafts.append(explain.noise_draft(budget, int(i)))
        for i in np.flatnonzero(part & (budget.ci_margin_db <= criteria.decide_within_db)):
            found.drafts.append(explain.wanted_draft(budget, int(i)))
        received.add(budget, limits, criteria)
    found.drafts += aggregate_drafts(network, received, noise, limits, criteria)
    return found
