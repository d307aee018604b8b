"""The search agrees with the full check, pair by pair, and with itself however the pairs are put to it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from spectrum.conflicts.criteria import BandCriterion, Criteria
from spectrum.conflicts.drafts import Draft
from spectrum.conflicts.interference import interference_findings
from spectrum.conflicts.network import Network, PlanRecord, StationRecord
from spectrum.conflicts.pair_search.margins import COMPLETE_WITHIN_DB, Margins, margins_of
from spectrum.conflicts.pair_search.pairs import Offer, Pairs, pairs_of, stage_of
from tests.spectrum.conflicts.made import DISH, TODAY, WHIP, YAGI, link, mode, station
from tests.spectrum.conflicts.test_completeness import random_network

PLAN = PlanRecord("P", 409_950_000, 12_500, 40, 50_000)
# A search shows every margin up to its own depth; so does a check with this setting.
BANDS = (
    BandCriterion(
        name="low", frequency_min_mhz=410.1, frequency_max_mhz=410.2, i_over_n_limit_db=-10.0,
        long_term_time_percent=5.0, short_term_time_percent=1.0,
    ),
)  # fmt: skip
DEEP = Criteria(decide_within_db=COMPLETE_WITHIN_DB, bands=BANDS)


def own_stations(seed: int) -> tuple[StationRecord, ...]:
    rng = np.random.default_rng(seed + 10_000)
    record = link(9_999)
    antenna = [YAGI, WHIP, DISH][rng.integers(3)]
    width = mode(int(rng.choice([12_500, 25_000])))
    return tuple(
        station(
            record, label, antenna=antenna, mode=width,
            latitude_deg=47.0 + rng.normal(0, 0.3), longitude_deg=14.0 + rng.normal(0, 0.3),
            azimuth_deg=None if antenna is WHIP else float(rng.uniform(0, 360)),
            tx_power_dbm=float(rng.uniform(20, 43)),
        )
        for label in "AB"
    )  # fmt: skip


def searched(network: Network, offers: list[Offer], link_id: int = 9_999) -> tuple[Pairs, Margins, Network]:
    pairs = pairs_of(offers)
    stage = stage_of(network, offers, pairs, link_id)
    return pairs, margins_of(stage, DEEP), stage.network


def checked(network: Network, offer: Offer, pairs: Pairs, number: int) -> list[Draft]:
    """The full check with the link set to a pair."""
    polarisation = "V" if pairs.vertical[number] else "H"
    first, second = int(pairs.first_tx_hz[number]), int(pairs.second_tx_hz[number])
    ends = [
        replace(s, polarisation=polarisation, tx_frequency_hz=tx, rx_frequency_hz=rx)
        for s, tx, rx in zip(offer.stations, (first, second), (second, first), strict=True)
    ]
    whole = Network(as_of=TODAY, stations=[*network.stations, *ends])
    return interference_findings(whole, DEEP, link_id=9_999).drafts


def least(drafts: list[Draft], kinds: tuple[str, ...], *, sending: bool) -> float:
    margins = [
        d.margin
        for d in drafts
        if d.kind in kinds and d.margin is not None and (d.parties.link_id == 9_999) is sending
    ]
    return min(margins, default=np.inf)


NOISE = ("co_channel", "adjacent_channel")
WANTED = ("carrier_to_interference",)


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 100_000))
def test_every_margin_is_that_of_the_full_check(seed: int) -> None:
    network = random_network(seed, 40)
    offer = Offer(PLAN, 12_500, own_stations(seed), ("V", "H"), first_sends_go=bool(seed % 2))
    pairs, margins, _ = searched(network, [offer])
    rng = np.random.default_rng(seed)
    for number in rng.choice(len(pairs), 6, replace=False):
        drafts = checked(network, offer, pairs, int(number))
        for worst, kinds, sending in (
            (margins.disturbs_noise, NOISE, True),
            (margins.disturbs_wanted, WANTED, True),
            (margins.noise_disturbed, NOISE, False),
            (margins.wanted_disturbed, WANTED, False),
        ):
            assert worst.margin_db[number] == pytest.approx(least(drafts, kinds, sending=sending), abs=1e-6)
        sums = [d.margin for d in drafts if d.kind == "aggregate" and d.parties.link_id == 9_999]
        assert margins.aggregate.margin_db[number] == pytest.approx(min(sums, default=np.inf), abs=1e-6)
