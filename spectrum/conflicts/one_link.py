"""The check of one link: the pairs it has a part in, and the sums at the receivers it has a share in.

A sum changes with the link only where the link is summed, so the victims are its own receivers and those at
which its level is not too weak to be summed. The two steps are apart because the second needs more of
the register than the first: all interferers of the victims. See services/link_surroundings.py.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field

import numpy as np

from .aggregate import Received, aggregate_drafts
from .budget import PairBudget
from .drafts import Draft
from .interference import Prepared
from .neighbours import LinkSearch, emitters_by_frequency, frequency_neighbours


@dataclass
class Entries:
    """Findings on the pairs of one link, and the links at whose receivers it is summed (itself among them)."""

    drafts: list[Draft] = field(default_factory=list)
    victims: set[int] = field(default_factory=set)


def budget_with(prepared: Prepared, link_id: int) -> PairBudget | None:
    """The budget of every pair in which the link has a part and that could matter, both ways; None without any."""
    filter_ = prepared.filter()
    meeting = LinkSearch(prepared.network, filter_).meeting(link_id)
    wanted = prepared.wanted_dbm(np.unique(meeting.rx))
    pairs = filter_.that_matter(meeting, wanted)
    return prepared.budget(pairs, wanted) if len(pairs) else None


def entries_of(prepared: Prepared, link_id: int) -> Entries:
    """Single entries in which the link has a part, both ways."""
    budget = budget_with(prepared, link_id)
    if budget is None:
        return Entries(victims={link_id})
    summed = budget.rx[budget.margin_db <= prepared.criteria.aggregate_depth_db]
    victims = {link_id, *prepared.network.link_id[summed].tolist()}
    return Entries(prepared.explainer().drafts(budget), victims)


def sums_at(prepared: Prepared, victims: Collection[int]) -> list[Draft]:
    """The sums of all interferers at the receivers of the links named, where they come near their limit."""
    network = prepared.network
    receivers = prepared.receivers[np.isin(network.link_id[prepared.receivers], list(victims))]
    filter_, received = prepared.filter(), Received(network)
    unknown = np.full(len(network), np.nan)
    meeting = filter_.meeting(*frequency_neighbours(network, emitters_by_frequency(network), receivers))
    pairs = filter_.to_be_reported(filter_.that_matter(meeting, unknown), unknown)
    if len(pairs):
        received.add(prepared.budget(pairs, unknown), prepared.limits, prepared.criteria)
    return aggregate_drafts(network, received, prepared.noise, prepared.limits, prepared.criteria)
