"""A link on trial: the pairs it has a part in and the sums at its own receivers, the worst of them explained.

What a sum at another link's receiver becomes with it needs all interferers of that receiver; that is left to the
check. See services/link_preview.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from .aggregate import Received, aggregate_drafts
from .drafts import Draft
from .interference import Prepared
from .kinds import DECIDE, MUST_FIX
from .one_link import budget_with


@dataclass(frozen=True)
class Trial:
    """Findings, and how many more there are of each severity than were explained."""

    drafts: list[Draft] = field(default_factory=list)
    more: dict[str, int] = field(default_factory=dict)


def trial_of(prepared: Prepared, link_id: int, *, most: int) -> Trial:
    """Interference in which the link has a part, both ways; at most ``most`` pairs are explained, the worst first."""
    network, criteria = prepared.network, prepared.criteria
    budget = budget_with(prepared, link_id)
    if budget is None:
        return Trial()
    explain = prepared.explainer()
    near = [
        (float(margins[i]), draft, int(i))
        for margins, draft in (
            (budget.margin_db, explain.noise_draft),
            (budget.ci_margin_db, explain.wanted_draft),
        )
        for i in np.flatnonzero(margins <= criteria.decide_within_db)
    ]
    near.sort(key=lambda one: one[0])
    rest = [MUST_FIX if margin < 0 else DECIDE for margin, _, _ in near[most:]]
    received = Received(network)
    received.add(budget, prepared.limits, criteria)
    sums = aggregate_drafts(network, received, prepared.noise, prepared.limits, criteria)
    return Trial(
        [draft(budget, i) for _, draft, i in near[:most]]
        + [draft for draft in sums if draft.parties.link_id == link_id],
        {severity: rest.count(severity) for severity in (MUST_FIX, DECIDE) if severity in rest},
    )
