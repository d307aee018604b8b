"""Intermodulation and band halves at the link's own sites, against enumeration pair by pair."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sites.band_exceptions import BandException
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.network import Network, PlanRecord, StationRecord
from spectrum.conflicts.pair_search.at_sites import fitting_way, half_clashes, intermodulation_hits
from spectrum.conflicts.pair_search.pairs import Offer, pairs_of
from spectrum.radio.intermodulation import products_in_passbands
from tests.spectrum.conflicts.made import TODAY, link, mode, station

PLAN = PlanRecord("P", 410_000_000, 25_000, 30, 10_000_000)


def crowded(seed: int, links: int) -> Network:
    """Links whose ends A all stand at one site, ends B elsewhere; a few transmit high at the site."""
    rng = np.random.default_rng(seed)
    stations = []
    for number in range(1, links + 1):
        low = 410_000_000 + int(rng.integers(0, 60)) * 12_500
        high = low + 10_000_000
        width = mode(int(rng.choice([12_500, 25_000])))
        turned = rng.random() < 0.2
        for label in "AB":
            tx, rx = (low, high) if (label == "A") != turned else (high, low)
            place = {"latitude_deg": 47.0 if label == "A" else 47.0 + number / 10.0}
            stations.append(
                station(link(number), label, mode=width, tx_frequency_hz=tx, rx_frequency_hz=rx, **place)
            )
    return Network(as_of=TODAY, stations=stations)


def own_ends(**changes: object) -> tuple[StationRecord, ...]:
    record = link(99)
    return (
        station(record, "A", latitude_deg=47.0, **changes),
        station(record, "B", latitude_deg=47.5, **changes),
    )


def enumerated(network: Network, tx_hz: int, rx_hz: int, own: StationRecord) -> tuple[int, int]:
    """Hits and touches of one pair at the site of one end, all products looked at."""
    there = [s for s in network.stations if s.latitude_deg == own.latitude_deg]
    receivers = sorted({(s.rx_frequency_hz or 0, s.mode.channel_width_hz) for s in there})
    senders = [(s.tx_frequency_hz or 0, s.mode.occupied_bandwidth_hz) for s in there]
    senders.append((tx_hz, own.mode.occupied_bandwidth_hz))
    receivers.append((rx_hz, own.mode.channel_width_hz))
    found = products_in_passbands(
        [f for f, _ in senders],
        [w for _, w in senders],
        [f for f, _ in receivers],
        [w for _, w in receivers],
        (3,),
    )
    with_own = (found["tx"] == len(senders) - 1).any(axis=1)
    at_own = found["rx"] == len(receivers) - 1
    found = found[(with_own | at_own) & ~found["on_own_signal"]]
    channel = np.array([w for _, w in receivers])[found["rx"]]
    inside = 2 * np.abs(found["offset_hz"]) <= channel
    return int(inside.sum()), int((~inside).sum())


@pytest.mark.parametrize("seed", range(6))
def test_products_are_those_that_enumeration_finds(seed: int) -> None:
    network = crowded(seed, 7 + seed)
    ends = own_ends(mode=mode(12_500 if seed % 2 else 25_000))
    offer = Offer(PLAN, 25_000, ends, ("V",), first_sends_go=bool(seed % 3))
    pairs = pairs_of([offer])
    hits = intermodulation_hits(network, [offer], pairs, 99, Criteria())
    for number in range(len(pairs)):
        first, second = int(pairs.first_tx_hz[number]), int(pairs.second_tx_hz[number])
        expected = np.add(
            enumerated(network, first, second, ends[0]), enumerated(network, second, first, ends[1])
        )
        assert (hits.count[number], hits.touching[number]) == tuple(expected)
    assert hits.count.any()


def test_the_closest_product_adds_up() -> None:
    network = crowded(3, 10)
    ends = own_ends()
    offer = Offer(PLAN, 25_000, ends, ("V",))
    pairs = pairs_of([offer])
    hits = intermodulation_hits(network, [offer], pairs, 99, Criteria())
    for number in np.flatnonzero(hits.count):
        tx, rx = int(pairs.first_tx_hz[number]), int(pairs.second_tx_hz[number])
        if hits.end[number] == 1:
            tx, rx = rx, tx
        product = sum(
            int(c) * (tx if t == -1 else network.stations[t].tx_frequency_hz or 0)
            for c, t in zip(hits.coefficients[number], hits.tx[number], strict=True)
            if c
        )
        heard = rx if hits.rx[number] == -1 else network.stations[hits.rx[number]].rx_frequency_hz or 0
        assert product - heard == hits.offset_hz[number]


def test_the_half_is_the_one_in_which_the_site_transmits() -> None:
    low = station(link(1), "A", tx_frequency_hz=410_100_000, rx_frequency_hz=420_100_000)
    far = station(link(1), "B", latitude_deg=48.0, tx_frequency_hz=420_100_000, rx_frequency_hz=410_100_000)
    network = Network(as_of=TODAY, stations=[low, far])
    offer = Offer(PLAN, 25_000, own_ends(), ("V",))
    assert half_clashes(network, offer, 99, Criteria(), first_sends_go=True) == []
    (clash,) = half_clashes(network, offer, 99, Criteria(), first_sends_go=False)
    assert (clash.end, network.stations[clash.other].name) == (0, "L-001/A")
    assert fitting_way(network, offer, 99, Criteria(), now=False) is True
    nobody = Network(as_of=TODAY, stations=[far])
    assert fitting_way(nobody, offer, 99, Criteria(), now=False) is False
    one_frequency = replace(offer, plan=replace(PLAN, duplex_spacing_hz=0))
    assert half_clashes(network, one_frequency, 99, Criteria(), first_sends_go=False) == []


def test_a_documented_exception_takes_the_clash_away_where_it_covers_both() -> None:
    low = station(link(1), "A", tx_frequency_hz=410_100_000, rx_frequency_hz=420_100_000)
    network = Network(as_of=TODAY, stations=[low])
    offer = Offer(PLAN, 25_000, own_ends(), ("V",))

    def clashes(exceptions: dict[int, tuple[BandException, ...]]) -> int:
        return len(half_clashes(network, offer, 99, Criteria(), first_sends_go=False, exceptions=exceptions))

    assert clashes({}) == 1
    assert clashes({low.site_id: (BandException(400.0, 430.0, "one hop turned round"),)}) == 0
    assert clashes({low.site_id: (BandException(400.0, 412.0, "only the lower half"),)}) == 1
    assert clashes({low.site_id + 1000: (BandException(400.0, 430.0, "elsewhere"),)}) == 1
