"""Nothing may be lost: the pruned search finds exactly what computing every pair finds."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from spectrum.conflicts import compiled
from spectrum.conflicts.brute_force import Found, brute_force, differences, random_network, searched
from spectrum.conflicts.compiled.loss import level_ground_losses
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.interference import Prepared, interference_findings
from spectrum.conflicts.neighbours import LinkSearch, emitters_by_frequency, frequency_neighbours
from spectrum.conflicts.network import Network
from spectrum.radio.propagation.p452 import smooth_earth_loss
from spectrum.radio.propagation.smooth_earth import effective_radius_km

CRITERIA = Criteria()
# Channels at this frequency have windows that would reach below zero.
VERY_LOW_HZ = 60_000


def expected_of(network: Network) -> Found:
    return brute_force(network, CRITERIA)[0]


@settings(max_examples=60, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 2**32 - 1), links=st.integers(0, 25), low=st.booleans())
def test_pruned_search_finds_exactly_what_brute_force_finds(seed: int, links: int, low: bool) -> None:
    network = random_network(seed, links, lowest_hz=VERY_LOW_HZ if low else 410_000_000)
    assert differences(expected_of(network), searched(network, CRITERIA)) == []


@settings(max_examples=6, deadline=None, derandomize=True, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 2**32 - 1))
def test_the_check_of_one_link_is_its_part_of_the_whole(seed: int) -> None:
    network = random_network(seed, 15)
    expected = expected_of(network)
    for number in range(1, 16):
        code = f"L-{number:03d}/"
        own_part = {key for key in expected if key[1].startswith(code) or key[2].startswith(code)}
        found = searched(network, CRITERIA, link_id=number)
        # The check of one link also sums anew at the victims it reaches.
        assert own_part <= found.keys()
        assert all(key[0] == "sum" for key in found.keys() - own_part)
        assert found.keys() <= expected.keys()
        for key, margin in found.items():
            assert margin == pytest.approx(expected[key], abs=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_the_pairs_of_one_link_are_those_of_the_whole_search(seed: int) -> None:
    network = random_network(900 + seed, 20)
    ready = Prepared(network, CRITERIA)
    wanted, filter_ = ready.wanted_dbm(ready.receivers), ready.filter()
    search = LinkSearch(network, filter_)
    met = filter_.meeting(*frequency_neighbours(network, emitters_by_frequency(network), ready.receivers))
    b = filter_.that_matter(met, wanted)
    whole = {(int(t), int(r)) for t, r in zip(b.tx, b.rx, strict=True)}
    for number in range(1, 21):
        found = filter_.that_matter(search.meeting(number), wanted)
        pairs = list(zip(found.tx.tolist(), found.rx.tolist(), strict=True))
        assert len(set(pairs)) == len(pairs)
        assert set(pairs) == {p for p in whole if number in (network.link_id[p[0]], network.link_id[p[1]])}


def test_the_random_networks_do_hold_conflicts_and_clear_pairs() -> None:
    """The property above says something only if both happen."""
    results = [brute_force(random_network(seed, 20), CRITERIA) for seed in range(8)]
    found, pairs = sum(len(f) for f, _ in results), sum(count for _, count in results)
    assert 200 < found < pairs / 2


@pytest.mark.parametrize("seed", range(12))
def test_the_compiled_search_changes_no_finding(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The definition decides: with the compiled search and without it the findings are the same to the last bit."""
    network = random_network(7000 + seed, 60)
    monkeypatch.setattr(compiled, "AVAILABLE", False)
    by_definition = interference_findings(network, CRITERIA).drafts
    monkeypatch.setattr(compiled, "AVAILABLE", True)
    ready = Prepared(network, CRITERIA, compiled_from_receivers=0)
    assert sorted(map(repr, interference_findings(network, CRITERIA, prepared=ready).drafts)) == sorted(
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
        level_ground_losses(*one, radius, 325.0)[0]  # type: ignore[call-arg]  # numba has no signature for mypy
        for one in zip(f, d, h_t, h_r, p, np.full(paths, 0.1), latitude, vertical, strict=True)
    ])  # fmt: skip
    assert (found <= expected + 1e-6).all()
    assert np.median(expected - found) < 0.05
