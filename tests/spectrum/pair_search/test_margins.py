"""The search agrees with the full check, pair by pair, and with itself however the pairs are put to it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from spectrum.conflicts.brute_force import random_network
from spectrum.conflicts.criteria import BandCriterion, Criteria
from spectrum.conflicts.drafts import Draft
from spectrum.conflicts.interference import interference_findings
from spectrum.conflicts.network import Network, PlanRecord, StationRecord
from spectrum.conflicts.pair_search.margins import COMPLETE_WITHIN_DB, Margins, margins_of
from spectrum.conflicts.pair_search.pairs import Offer, Pairs, pairs_of, stage_of
from tests.spectrum.conflicts.made import DISH, TODAY, WHIP, YAGI, link, mode, station

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
    away = float(rng.choice([0.0, 1.5, 4.0, 9.0]))
    return tuple(
        station(
            record, label, antenna=antenna, mode=width,
            latitude_deg=47.0 + away + rng.normal(0, 0.3), longitude_deg=14.0 + rng.normal(0, 0.3),
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


@settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 100_000), links=st.integers(0, 25))
def test_every_margin_is_that_of_the_full_check(seed: int, links: int) -> None:
    network = random_network(seed, links)
    offer = Offer(PLAN, 12_500, own_stations(seed), ("V", "H"), first_sends_go=bool(seed % 2))
    pairs, margins, _ = searched(network, [offer])
    rng = np.random.default_rng(seed)
    for number in rng.choice(len(pairs), 5, replace=False):
        drafts = checked(network, offer, pairs, int(number))
        for worst, kinds, sending in (
            (margins.disturbs_noise, NOISE, True),
            (margins.disturbs_wanted, WANTED, True),
            (margins.noise_disturbed, NOISE, False),
            (margins.wanted_disturbed, WANTED, False),
        ):
            assert worst.margin_db[number] == pytest.approx(least(drafts, kinds, sending=sending), abs=1e-6)
        sums = [
            d.margin
            for d in drafts
            if d.kind == "aggregate" and d.parties.link_id == 9_999 and d.margin is not None
        ]
        assert margins.aggregate.margin_db[number] == pytest.approx(min(sums, default=np.inf), abs=1e-6)


def test_the_networks_of_the_property_hold_margins_of_every_kind() -> None:
    """Some pairs over the limit, some inside it, some out of reach: else the property says little."""
    over, inside, beyond = np.zeros((3, 5), dtype=int)
    for seed in range(40):
        offer = Offer(PLAN, 12_500, own_stations(seed), ("V",))
        _, margins, _ = searched(random_network(seed, 6), [offer])
        for at, worst in enumerate(
            (
                margins.disturbs_noise,
                margins.disturbs_wanted,
                margins.noise_disturbed,
                margins.wanted_disturbed,
                margins.aggregate,
            )
        ):
            over[at] += (worst.margin_db < 0).sum()
            inside[at] += ((worst.margin_db >= 0) & np.isfinite(worst.margin_db)).sum()
            beyond[at] += np.isinf(worst.margin_db).sum()
    assert (over > 30).all() and (inside > 30).all() and (beyond > 30).all(), (over, inside, beyond)


def test_more_plans_and_polarisations_at_once_change_no_margin() -> None:
    network = random_network(5, 20)
    ends = own_stations(5)
    other = PlanRecord("Q", 410_000_000, 25_000, 11, 50_000)
    offers = [
        Offer(PLAN, 12_500, ends, ("V", "H")),
        Offer(other, 25_000, ends, ("H",), first_sends_go=False),
    ]
    pairs, together, _ = searched(network, offers)
    apart = [searched(network, [Offer(o.plan, o.channel_width_hz, ends, (p,), o.first_sends_go)])[1]
             for o in offers for p in o.polarisations]  # fmt: skip
    for name in ("disturbs_noise", "disturbs_wanted", "noise_disturbed", "wanted_disturbed", "aggregate"):
        joined = np.concatenate([getattr(m, name).margin_db for m in apart])
        assert getattr(together, name).margin_db == pytest.approx(joined, abs=1e-9)
    assert len(pairs) == 91


def test_nobody_around_leaves_every_margin_open() -> None:
    offer = Offer(PLAN, 12_500, own_stations(1), ("V",))
    _, margins, _ = searched(Network(as_of=TODAY, stations=[]), [offer])
    assert np.isinf(margins.disturbs_noise.margin_db).all()
    assert np.isinf(margins.noise_disturbed.margin_db).all()


def test_the_link_does_not_disturb_itself() -> None:
    ends = own_stations(2)
    itself = [replace(s, tx_frequency_hz=410_000_000, rx_frequency_hz=410_050_000) for s in ends]
    _, margins, _ = searched(Network(as_of=TODAY, stations=itself), [Offer(PLAN, 12_500, ends, ("V",))])
    assert np.isinf(margins.disturbs_noise.margin_db).all()


def test_periods_that_do_not_meet_are_no_conflict() -> None:
    network = random_network(3, 15)
    ends = tuple(
        replace(s, link=replace(s.link, starts_on=TODAY.replace(year=2030))) for s in own_stations(3)
    )
    past = Network(
        as_of=TODAY,
        stations=[
            replace(s, link=replace(s.link, ends_on=TODAY.replace(year=2029))) for s in network.stations
        ],
    )
    _, margins, _ = searched(past, [Offer(PLAN, 12_500, ends, ("V",))])
    assert np.isinf(margins.disturbs_noise.margin_db).all()
    assert np.isinf(margins.noise_disturbed.margin_db).all()
