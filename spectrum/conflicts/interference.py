"""Interference, whole: single entry against I/N and C/I, and the aggregate at each victim."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field

import numpy as np

from sites.terrain import TerrainStore

from .aggregate import Received, aggregate_drafts
from .budget import budget_of, noise_of, wanted_levels
from .criteria import Criteria, limits_of
from .drafts import Draft
from .neighbours import Tick, candidates, receivers_reached
from .network import Network
from .single_entry import Explainer


@dataclass
class Interference:
    """What was found, and which links were looked at as victims with all their interferers."""

    drafts: list[Draft] = field(default_factory=list)
    victims: set[int] = field(default_factory=set)


def interference_findings(
    network: Network,
    criteria: Criteria,
    *,
    link_id: int | None = None,
    also_victims: Collection[int] = (),
    terrain: TerrainStore | None = None,
    tick: Tick | None = None,
) -> Interference:
    """Every pair and every sum over its limit, or so close below that a person must decide.

    With ``link_id`` the single entries in which that link has a part, and the aggregates of the
    victims it reaches, of its own receivers, and of the links ``also_victims``.
    """
    found = Interference()
    receivers = np.flatnonzero(network.rx_hz > 0)
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
    noise = noise_of(network)
    limits = limits_of(network.rx_hz / 1e6, network.authority, criteria)
    wanted = wanted_levels(network, limits, criteria, terrain, receivers)
    explain = Explainer(network, noise, limits, criteria)
    received = Received(network)
    blocks = candidates(
        network, receivers, noise.total_dbm, wanted, limits, criteria,
        over_terrain=terrain is not None, tick=tick,
    )  # fmt: skip
    for block in blocks:
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
