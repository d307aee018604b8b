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
from .drafts import Draft
from .interference import Prepared
from .neighbours import LinkSearch, emitters_by_frequency, frequency_neighbours


@dataclass
class Entries:
    """Findings on the pairs of one link, and the links at whose receivers it is summed (itself among them)."""

    drafts: list[Draft] = field(default_factory=list)
    victims: set[int] = field(default_factory=set)


def entries_of(prepared: Prepared, link_id: int) -> Entries:
    """Single entries in which the link has a part, both ways."""
    network, criteria = prepared.network, prepared.criteria
    found = Entries(victims={link_id})
    filter_ = prepared.filter()
    meeting = LinkSearch(network, filter_).meeting(link_id)
    wanted = prepared.wanted_dbm(np.unique(meeting.rx))
    pairs = filter_.that_matter(meeting, wanted)
    if not len(pairs):
        return found
    budget = prepared.budget(pairs, wanted)
    found.drafts = prepared.explainer().drafts(budget)
    summed = budget.margin_db <= criteria.aggregate_depth_db
    found.victims |= set(network.link_id[budget.rx[summed]].tolist())
    return found


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
