"""One run of all checks over a network, or over one link of it."""

from __future__ import annotations

from .criteria import Criteria
from .drafts import Draft
from .interference import interference_findings
from .licence_checks import licence_findings
from .link_checks import link_findings
from .neighbours import Tick
from .network import Network
from .time_checks import time_findings


def run_checks(
    network: Network, criteria: Criteria, *, link_id: int | None = None, tick: Tick | None = None
) -> list[Draft]:
    """All findings, worst first; with ``link_id`` those in which that link has a part.

    ``tick(done, total)`` is called as the interference search advances and may raise to stop the run.
    """
    drafts = [
        *interference_findings(network, criteria, link_id=link_id, tick=tick),
        *link_findings(network, link_id=link_id),
        *licence_findings(network, criteria, link_id=link_id),
        *time_findings(network, criteria, link_id=link_id),
    ]
    return list({draft.identity: draft for draft in drafts}.values())
