"""Every finding's evidence adds up to its margin: ten thousand findings of a generated network."""

from __future__ import annotations

import datetime as dt
from collections import Counter

import numpy as np

from deploy.bench.registers import made_register
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.evidence import adds_up, rows_as_json
from spectrum.conflicts.interference import interference_findings
from spectrum.conflicts.network import Network
from spectrum.conflicts.run import link_by_link_findings
from spectrum.conflicts.site_checks import AtSites, Equipment, site_findings

LINKS = 2_000
DAY = dt.date(2026, 6, 1)
LEAST_FINDINGS = 10_000


def equipped(network: Network, site_id: np.ndarray) -> AtSites:
    """Every station with invented figures, some of them unknown, so that every kind of site finding is made."""
    rng = np.random.default_rng(7)

    def drawn(low: float, high: float, unknown: float) -> float | None:
        return None if rng.random() < unknown else float(rng.uniform(low, high))

    equipment = {
        key: Equipment(
            duplexer_isolation_db=drawn(20.0, 90.0, 0.3),
            spacing_m=drawn(1.0, 20.0, 0.6),
            spacing_vertical_m=drawn(1.0, 10.0, 0.7),
            blocking_level_dbm=drawn(-45.0, -10.0, 0.1),
            transmitter_noise_dbc_per_hz=drawn(-150.0, -120.0, 0.1),
            third_order_intercept_dbm=drawn(-15.0, 5.0, 0.1),
        )
        for key in network.station_id.tolist()
    }
    return AtSites(network, equipment, site_id=site_id)


def test_the_evidence_of_ten_thousand_findings_adds_up_to_their_margins() -> None:
    register = made_register(LINKS, seed=4)
    network, criteria = register.network(DAY), Criteria()
    at = equipped(network, register.site_ids())
    drafts = [
        *interference_findings(network, criteria).drafts,
        *link_by_link_findings(network, criteria),
        *site_findings(at, criteria),
    ]
    judged = [draft for draft in drafts if draft.margin is not None]
    wrong = [d.headline for d in judged if not adds_up(rows_as_json(d.evidence), round(d.margin or 0.0, 4))]
    assert wrong == []
    assert len(judged) >= LEAST_FINDINGS, Counter(d.kind for d in judged)
    assert {
        "duplex_isolation",
        "transmitter_noise",
        "receiver_blocking",
        "intermodulation",
        "co_channel",
    } <= {d.kind for d in judged}
