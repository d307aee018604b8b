"""Nothing may be lost: the pruned search finds exactly what computing every pair finds."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sites.geodesy import ecef
from spectrum.conflicts import compiled
from spectrum.conflicts.budget import budget_of, noise_of, wanted_levels
from spectrum.conflicts.compiled.loss import level_ground_losses
from spectrum.conflicts.criteria import Criteria, limits_of
from spectrum.conflicts.interference import interference_findings
from spectrum.conflicts.neighbours import fdr_db
from spectrum.conflicts.network import FAR_FUTURE, FAR_PAST, Network
from spectrum.radio.propagation.p452 import smooth_earth_loss
from spectrum.radio.propagation.smooth_earth import effective_radius_km
from spectrum.radio.rejection import NO_OVERLAP_FDR_DB
from tests.spectrum.conflicts.made import DISH, TODAY, WHIP, YAGI, link, mode, station

CRITERIA = Criteria()
ALL_PLACES = [
    (47.0, 14.0),
    (47.0, 14.0),
    (0.0, 179.99),
    (0.0, -179.99),
    (89.9, 10.0),
    (89.9, -170.0),
    (-90.0, 0.0),
]


Found = dict[tuple[str, str, str], float]


def brute_force(network: Network) -> Found:
    """Every transmitter against every receiver, nothing left out but what cannot be a conflict by definition."""
    noise = noise_of(network)
    limits = limits_of(network.rx_hz / 1e6, network.authority, CRITERIA)
    receivers = np.flatnonzero(network.rx_hz > 0)
    wanted = wanted_levels(network, limits, CRITERIA, None, receivers)
    pairs = [
        (t, r)
        for t, sender in enumerate(network.stations)
        for r, victim in enumerate(network.stations)
        if sender.tx_frequency_hz
        and victim.rx_frequency_hz
        and sender.link.id != victim.link.id
        and (sender.link.own or victim.link.own)
        and sender.link.starts_on <= victim.link.ends_on
        and victim.link.starts_on <= sender.link.ends_on
    ]
    if not pairs:
        return {}
    tx, rx = (np.array(column, dtype=np.int64) for column in zip(*pairs, strict=True))
    fdr = fdr_db(network, tx, rx)
    budget = budget_of(network, tx, rx, fdr, noise, limits, CRITERIA, wanted_dbm=wanted)
    # Where the masks share no frequency no power arrives at all; the budget holds a finite stand-in.
    position = ecef(network.latitude_deg, network.longitude_deg)
    chord_km = np.linalg.norm(position[tx] - position[rx], axis=-1) / 1e3
    near = (chord_km <= CRITERIA.policy_radius_km) & (fdr < NO_OVERLAP_FDR_DB)
    found: Found = {}
    summed: dict[int, list[float]] = {}
    for number, (t, r) in enumerate(pairs):
        if not near[number]:
            continue
        names = (network.stations[t].name, network.stations[r].name)
        if budget.margin_db[number] <= CRITERIA.decide_within_db:
            found["I/N", *names] = float(budget.margin_db[number])
        if budget.ci_margin_db[number] <= CRITERIA.decide_within_db:
            found["C/I", *names] = float(budget.ci_margin_db[number])
        if budget.i_over_n_db[number] >= limits.i_over_n_db[r] - CRITERIA.aggregate_depth_db:
            summed.setdefault(r, []).append(10.0 ** (float(budget.interference_dbm[number]) / 10.0))
    for r, milliwatts in summed.items():
        margin = float(limits.aggregate_db[r] - (10.0 * np.log10(sum(milliwatts)) - noise.total_dbm[r]))
        if len(milliwatts) > 1 and margin <= CRITERIA.decide_within_db:
            found["sum", "", network.stations[r].name] = margin
    return found


def pruned(network: Network, link_id: int | None = None) -> Found:
    codes = {s.link.id: s.link.code for s in network.stations}
    found: Found = {}
    for draft in interference_findings(network, CRITERIA, link_id=link_id).drafts:
        parties = draft.parties
        one = f"{codes[parties.link_id or 0]}/{parties.station_label}"
        assert draft.margin is not None
        if draft.kind == "aggregate":
            found["sum", "", one] = draft.margin
        else:
            other = f"{codes[parties.other_link_id or 0]}/{parties.other_station_label}"
            found["C/I" if draft.kind == "carrier_to_interference" else "I/N", one, other] = draft.margin
    return found


def random_network(seed: int, links: int) -> Network:
    """Clustered and far sites, equal and unequal frequencies, all widths and antennas, some periods apart."""
    rng = np.random.default_rng(seed)
    stations = []
    for number in range(1, links + 1):
        start = TODAY if rng.random() < 0.3 else FAR_PAST
        end = TODAY if rng.random() < 0.2 else FAR_FUTURE
        record = link(number, own=bool(rng.random() < 0.7), starts_on=start, ends_on=end)
        channel = int(rng.integers(0, 40)) * 12_500
        antenna = [YAGI, WHIP, DISH][rng.integers(3)]
        width = mode(int(rng.choice([12_500, 25_000, 200_000])))
        for label in "AB":
            if rng.random() < 0.2:
                lat, lon = ALL_PLACES[rng.integers(len(ALL_PLACES))]
            else:
                lat, lon = 47.0 + rng.normal(0, 0.5), 14.0 + rng.normal(0, 0.5)
            stations.append(
                station(
                    record, label, latitude_deg=lat, longitude_deg=lon, antenna=antenna, mode=width,
                    ground_height_m=None if rng.random() < 0.1 else float(rng.uniform(0, 1500)),
                    antenna_height_agl_m=float(rng.uniform(2, 60)),
                    azimuth_deg=float(rng.uniform(0, 360)) if antenna is not WHIP else None,
                    tilt_deg=float(rng.uniform(-3, 3)),
                    polarisation="V" if rng.random() < 0.7 else "H",
                    tx_power_dbm=float(rng.uniform(20, 43)),
                    tx_frequency_hz=None if rng.random() < 0.05 else (410_000_000 if label == "A" else 410_050_000) + channel,
                    rx_frequency_hz=(410_050_000 if label == "A" else 410_000_000) + channel,
                )
            )  # fmt: skip
    return Network(as_of=TODAY, stations=stations)


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 2**32 - 1), links=st.integers(0, 25))
def test_pruned_search_finds_exactly_what_brute_force_finds(seed: int, links: int) -> None:
    network = random_network(seed, links)
    expected = brute_force(network)
    found = pruned(network)
    assert found.keys() == expected.keys()
    for pair, margin in expected.items():
        assert found[pair] == pytest.approx(margin, abs=1e-9)


@settings(max_examples=6, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 2**32 - 1))
def test_the_check_of_one_link_is_its_part_of_the_whole(seed: int) -> None:
    network = random_network(seed, 15)
    expected = brute_force(network)
    for number in range(1, 16):
        code = f"L-{number:03d}/"
        own_part = {key for key in expected if key[1].startswith(code) or key[2].startswith(code)}
        found = pruned(network, number)
        # The check of one link also sums anew at the victims it reaches.
        assert own_part <= found.keys()
        assert all(key[0] == "sum" for key in found.keys() - own_part)
        assert found.keys() <= expected.keys()
        for key, margin in found.items():
            assert margin == pytest.approx(expected[key], abs=1e-9)


def test_the_random_networks_do_hold_conflicts_and_clear_pairs() -> None:
    """The property above says something only if both happen."""
    found = sum(len(brute_force(random_network(seed, 20))) for seed in range(8))
    pairs = sum(len(random_network(seed, 20)) ** 2 for seed in range(8))
    assert 200 < found < pairs / 2


@pytest.mark.parametrize("seed", range(12))
def test_the_compiled_search_changes_no_finding(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The definition decides: with the compiled search and without it the findings are the same to the last bit."""
    network = random_network(7000 + seed, 60)
    monkeypatch.setattr(compiled, "AVAILABLE", False)
    by_definition = interference_findings(network, CRITERIA).drafts
    monkeypatch.setattr(compiled, "AVAILABLE", True)
    monkeypatch.setattr(compiled, "WORTH_IT_FROM_RECEIVERS", 0)
    assert sorted(map(repr, interference_findings(network, CRITERIA).drafts)) == sorted(
        map(repr, by_definition)
    )
    assert by_definition


def test_the_compiled_loss_is_that_of_the_definition_or_a_little_less() -> None:
    rng = np.random.default_rng(18)
    paths = 4000
    f = np.exp(rng.uniform(np.log(0.1), np.log(1.0), paths))
    d = np.exp(rng.uniform(np.log(0.05), np.log(1000.0), paths))
    h_t, h_r = (np.exp(rng.uniform(0.0, np.log(3000.0), paths)) for _ in range(2))
    p, latitude = np.exp(rng.uniform(np.log(0.001), np.log(50.0), paths)), rng.uniform(0.0, 90.0, paths)
    vertical = rng.random(paths) < 0.5
    expected = smooth_earth_loss(f * 1e3, d, h_t, h_r, p, latitude_deg=latitude, vertical=vertical).lb_db
    radius = float(effective_radius_km(45.0))
    found = np.array([
        level_ground_losses(*path, 0.1, *rest, radius, 325.0)[0]
        for *path, rest in zip(f, d, h_t, h_r, p, zip(latitude, vertical, strict=True), strict=True)
    ])  # fmt: skip
    assert (found <= expected + 1e-6).all()
    assert np.median(expected - found) < 0.05
