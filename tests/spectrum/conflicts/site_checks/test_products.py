"""Intermodulation and harmonics at sites: equal to plain enumeration, ranked, levels by hand, fast enough."""

from __future__ import annotations

import time
from dataclasses import replace
from itertools import combinations, product

import numpy as np
import pytest

from spectrum.conflicts.budget import noise_of
from spectrum.conflicts.criteria import Criteria, limits_of
from spectrum.conflicts.drafts import Draft
from spectrum.conflicts.network import Network, StationRecord
from spectrum.conflicts.site_checks import AtSites, Equipment, site_findings
from spectrum.conflicts.site_checks.coupling import coupling_at
from spectrum.conflicts.site_checks.products import products_at
from spectrum.conflicts.site_checks.records import places
from spectrum.conflicts.site_checks.surroundings import Surroundings
from tests.spectrum.conflicts.made import TODAY
from tests.spectrum.conflicts.site_checks.made import (
    CRITERIA,
    WHOLE,
    at_one_site,
    judged,
    of_kind,
    random_site,
    value,
)

NO_INTERCEPT = replace(WHOLE, third_order_intercept_dbm=None)
Hit = tuple[int, int, int, frozenset[tuple[int, int]]]


def surroundings(stations: list[StationRecord], criteria: Criteria = CRITERIA) -> list[Surroundings]:
    network = Network(TODAY, stations)
    at = AtSites(network, {s.id: WHOLE for s in stations})
    limits = limits_of(network.rx_hz / 1e6, network.authority, criteria)
    return [
        Surroundings(at, p, coupling_at(at, p, criteria), noise_of(network), limits, criteria)
        for p in places(at, criteria)
    ]


def enumerated(stations: list[StationRecord], orders: tuple[int, ...]) -> set[Hit]:
    """Every choice of two and three transmitters with every coefficient vector, for one site, in plain loops."""
    senders = [s for s in stations if s.tx_frequency_hz]
    vectors = {
        count: [
            c
            for c in product(range(-6, 7), repeat=count)
            if all(c) and sum(map(abs, c)) in orders
        ]
        for count in (2, 3)
    }  # fmt: skip
    found: set[Hit] = set()
    for count in (2, 3):
        for chosen in combinations(senders, count):
            for c in vectors[count]:
                hertz = sum(a * (s.tx_frequency_hz or 0) for a, s in zip(c, chosen, strict=True))
                width = sum(abs(a) * s.mode.occupied_bandwidth_hz for a, s in zip(c, chosen, strict=True))
                for r in stations:
                    if r.rx_frequency_hz is None or hertz <= 0:
                        continue
                    if 2 * abs(hertz - r.rx_frequency_hz) > width + r.mode.channel_width_hz:
                        continue
                    parties = [*chosen, r]
                    starts = max(s.link.starts_on for s in parties)
                    ends = min(s.link.ends_on for s in parties)
                    if starts <= ends and any(s.link.own for s in parties):
                        members = frozenset((s.id, a) for a, s in zip(c, chosen, strict=True))
                        found.add((r.id, hertz, width, members))
    return found


def searched(around: Surroundings) -> set[Hit]:
    hits = products_at(around).hits
    number = [s.id for s in around.network.stations]
    found = {
        (
            number[around.coupling.rx[h["rx"]]],
            int(h["product_hz"]),
            int(h["width_hz"]),
            frozenset(
                (number[around.coupling.tx[t]], int(a))
                for t, a in zip(h["tx"], h["coefficients"], strict=True)
                if a
            ),
        )
        for h in hits
    }
    assert len(found) == len(hits)
    return found


@pytest.mark.parametrize("seed", range(10))
def test_the_search_finds_what_plain_enumeration_finds(seed: int) -> None:
    stations = random_site(seed, 7, own=0.7, span=20)
    late = replace(stations[0].link, starts_on=TODAY.replace(year=2035))
    stations[0] = replace(stations[0], link=late)
    stations[1] = replace(stations[1], link=replace(stations[1].link, ends_on=TODAY.replace(year=2034)))
    (around,) = surroundings(stations)
    expected = enumerated(stations, (3, 5, 7))
    assert searched(around) == expected
    assert expected


def test_mixed_bands_are_enumerated_too() -> None:
    """152.6 + 410.2 − 460.4 = 102.4 MHz, a product far from every signal."""
    stations = [
        at_one_site(1, 152.6, None),
        at_one_site(2, 410.2, None),
        at_one_site(3, 460.4, None),
        at_one_site(4, None, 102.4),
    ]
    (around,) = surroundings(stations)
    assert searched(around) == enumerated(stations, (3, 5, 7))
    (draft,) = of_kind(judged(stations), "intermodulation")
    assert "L-001/A + L-002/A − L-003/A = 102.40000 MHz" in draft.headline


def intermodulation(
    *stations: StationRecord, equipment: Equipment | dict[int, Equipment] = WHOLE
) -> list[Draft]:
    return of_kind(judged(stations, equipment), "intermodulation")


def test_a_third_order_product_of_unknown_level_is_to_be_decided() -> None:
    """2 × 410.1 − 420.1 = 400.1 MHz: a site that mixes low and high (worked table of site examples)."""
    (draft,) = intermodulation(
        at_one_site(1, 410.1, None), at_one_site(2, 420.1, None), at_one_site(3, None, 400.1), equipment=NO_INTERCEPT
    )  # fmt: skip
    assert (draft.severity, draft.margin) == ("decide", None)
    assert draft.headline.startswith(
        "3rd-order product 2 × L-001/A − L-002/A = 400.10000 MHz falls on L-003/A"
    )
    assert any("intercept point" in sentence for sentence in draft.not_judged)


def test_a_site_that_sends_low_and_hears_high_has_none() -> None:
    """No third-order product reaches the other half unless the span is half the duplex spacing (trade)."""
    low = [at_one_site(n, 410.0 + 0.1 * n, 420.0 + 0.1 * n) for n in range(1, 9)]
    assert intermodulation(*low) == []


def open_site(*stations: StationRecord, intercept: float) -> list[Draft]:
    known = Equipment(spacing_vertical_m=8.0, third_order_intercept_dbm=intercept)
    return intermodulation(*stations, equipment=known)


def test_the_level_of_two_and_of_three_signals_by_hand() -> None:
    """2·P1 + P2 − 2·IP3, and 6 dB more for three signals (intercept form, from memory; 6 dB read)."""
    a, b, c = at_one_site(1, 410.0, None), at_one_site(2, 410.5, None), at_one_site(3, 411.2, None)
    two = open_site(a, b, at_one_site(9, None, 409.5), intercept=60.0)[0]
    three = open_site(a, b, c, at_one_site(9, None, 409.3), intercept=60.0)[0]
    for draft, more in ((two, 0.0), (three, 20.0 * np.log10(2.0))):
        levels = [float(row.value) for row in draft.evidence if "× level of" in row.name]
        assert value(draft, "Product, estimate") == pytest.approx(sum(levels) - 120.0 + more)
        assert draft.margin == pytest.approx(-6.0 - (sum(levels) - 120.0 + more + 126.006), abs=0.001)
    assert "2 × L-001/A − L-002/A" in two.headline
    assert "L-001/A + L-002/A − L-003/A" in three.headline


def test_a_product_well_below_the_noise_is_no_finding() -> None:
    stations = at_one_site(1, 410.0, None), at_one_site(2, 410.5, None), at_one_site(9, None, 409.5)
    assert open_site(*stations, intercept=60.0)[0].margin is not None
    assert [d for d in open_site(*stations, intercept=120.0) if d.margin is not None] == []


def test_lower_orders_stand_first_and_higher_ones_alone_are_a_note() -> None:
    a, b = at_one_site(1, 410.0, None), at_one_site(2, 410.5, None)
    third, fifth = at_one_site(3, None, 409.5), at_one_site(4, None, 409.0)
    drafts = {d.parties.link_id: d for d in intermodulation(a, b, third, fifth, equipment=NO_INTERCEPT)}
    assert drafts[3].headline.startswith("3rd")
    assert (drafts[4].headline[:3], drafts[4].severity) == ("5th", "note")
    assert any("orders 5 and 7" in sentence for sentence in drafts[4].not_judged)


def test_a_product_on_a_signal_that_makes_it_is_counted_apart() -> None:
    """A + B = 2C: 410.0 + 410.5 − 410.25 = 410.25 MHz."""
    stations = [
        at_one_site(1, 410.0, None),
        at_one_site(2, 410.5, None),
        at_one_site(3, 410.25, None),
        at_one_site(4, None, 410.25),
    ]
    (around,) = surroundings(stations)
    products = products_at(around)
    own = [
        h for h, kept in zip(products.hits, products.judged, strict=True) if h["on_own_signal"] and not kept
    ]
    assert {(int(h["order"]), int(h["product_hz"])) for h in own} >= {(3, 410_250_000)}
    for draft in intermodulation(*stations):
        assert not draft.headline.startswith("3rd-order product L-001/A + L-002/A − L-003/A")
        assert value(draft, "Products on a signal that makes them") == len(own)


def test_the_rows_of_a_finding_count_every_product() -> None:
    stations = random_site(4, 14, span=30)
    (around,) = surroundings(stations)
    expected = products_at(around).hits["rx"]
    for draft in intermodulation(*stations, equipment=NO_INTERCEPT):
        listed = [row for row in draft.evidence if row.name.startswith("Products ")]
        receiver = next(
            i for i, r in enumerate(around.coupling.rx) if around.station(r).link.id == draft.parties.link_id
        )
        assert sum(float(row.value) for row in listed) == int((expected == receiver).sum())


def test_signals_of_a_near_site_mix_with_those_at_the_receiver() -> None:
    north = 47.0 + 300.0 / 111_180.0
    stations = (
        at_one_site(1, 410.1, None),
        at_one_site(2, 420.1, None, site_id=2, latitude_deg=north),
        at_one_site(3, None, 400.1),
    )
    (draft,) = intermodulation(*stations, equipment=NO_INTERCEPT)
    assert (draft.severity, draft.parties.site_id) == ("note", 1)


def test_only_products_that_concern_us_are_reported() -> None:
    theirs = {"link": {"own": False}}
    stations = [
        at_one_site(1, 410.1, None, **theirs),
        at_one_site(2, 420.1, None, **theirs),
        at_one_site(3, None, 400.1, **theirs),
    ]
    assert intermodulation(*stations) == []
    stations[0] = at_one_site(1, 410.1, None)
    assert len(intermodulation(*stations, equipment=NO_INTERCEPT)) == 1


def test_harmonics_equal_plain_enumeration() -> None:
    rng = np.random.default_rng(3)
    senders = [at_one_site(n, float(rng.integers(1400, 1460)) / 10.0, None) for n in range(1, 25)]
    victims = [at_one_site(100 + n, None, float(rng.integers(2800, 4400)) / 10.0) for n in range(120)]
    victims += [at_one_site(200, None, senders[0].tx_frequency_hz * 3 / 1e6)]  # type: ignore[operator]
    expected = set()
    for s, v, n in product(senders, victims, range(2, 6)):
        assert s.tx_frequency_hz is not None
        assert v.rx_frequency_hz is not None
        width = n * s.mode.occupied_bandwidth_hz + v.mode.channel_width_hz
        if 2 * abs(n * s.tx_frequency_hz - v.rx_frequency_hz) <= width:
            expected.add((s.link.id, v.link.id))
    found = of_kind(judged([*senders, *victims], NO_INTERCEPT), "harmonic")
    assert {(d.parties.link_id, d.parties.other_link_id) for d in found} == expected
    assert len(expected) > 5
    assert {d.severity for d in found} == {"decide"}
    assert all("level of the harmonic" in d.not_judged[0] for d in found)


def test_a_harmonic_at_a_near_site_is_a_note() -> None:
    far = at_one_site(2, None, 455.4, site_id=2, latitude_deg=47.0 + 200.0 / 111_180.0)
    (draft,) = of_kind(judged([at_one_site(1, 151.8, None), far]), "harmonic")
    assert (draft.severity, draft.parties.site_id) == ("note", 2)
    assert draft.headline.startswith("The 3rd harmonic of L-001/A")


@pytest.mark.parametrize("seed", range(20))
def test_every_margin_of_random_sites_adds_up(seed: int) -> None:
    rng = np.random.default_rng(seed)
    stations = random_site(seed, 12, own=0.7, span=40)
    equipment = {
        s.id: Equipment(
            *(
                None if rng.random() < 0.3 else float(v)
                for v in (
                    rng.integers(20, 90),
                    rng.integers(5, 30),
                    rng.integers(1, 12),
                    -25.0,
                    -140.0,
                    -10.0,
                )
            )
        )
        for s in stations
    }
    assert any(draft.margin is not None for draft in judged(stations, equipment))


def busy(transmitters: int) -> AtSites:
    stations = random_site(1, transmitters, span=400)
    return AtSites(Network(TODAY, stations), {s.id: WHOLE for s in stations})


def seconds(at: AtSites) -> float:
    best = float("inf")
    for _ in range(3):
        began = time.perf_counter()
        assert site_findings(at, CRITERIA)
        best = min(best, time.perf_counter() - began)
    return best


def test_a_site_with_60_transmitters_takes_seconds_at_most() -> None:
    """Aim: under a second on two idle cores (about 0.5 s measured). Here: five, since others may be at work.

    Plain enumeration of three signals looks at (60 choose 3) × the patterns of order 7: it would grow with
    the cube at least; twice the transmitters may take this search no more than fifteen times as long.
    """
    thirty, sixty = seconds(busy(30)), seconds(busy(60))
    assert sixty < 5.0
    assert sixty < 15.0 * thirty
