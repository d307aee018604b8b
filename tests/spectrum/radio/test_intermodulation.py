"""Intermodulation products against exhaustive enumeration and constructed tables."""

from __future__ import annotations

import time
from itertools import combinations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectrum.radio.intermodulation import (
    coefficient_patterns,
    product_level_dbm,
    products_in_passbands,
    transmitter_product_level_dbm,
)
from spectrum.radio.ranges import RadioRangeError
from tests.reference_tables import project_table


def mhz_to_hz(text):
    return [round(float(part) * 1e6) for part in text.split()]


def brute_force(tx, tx_width, rx, rx_width, orders=(3, 5, 7), signals=(2, 3)):
    """Every coefficient vector over every choice of signals; a product is kept with positive frequency."""
    found = set()
    highest = max(orders)
    for count in signals:
        for places in combinations(range(len(tx)), count):
            for coefficients in product([c for c in range(-highest, highest + 1) if c], repeat=count):
                if sum(map(abs, coefficients)) not in orders:
                    continue
                hz = sum(c * tx[i] for c, i in zip(coefficients, places, strict=True))
                width = sum(abs(c) * tx_width[i] for c, i in zip(coefficients, places, strict=True))
                if hz <= 0:
                    continue
                for r, centre in enumerate(rx):
                    if 2 * abs(hz - centre) <= width + rx_width[r]:
                        found.add((r, hz, width, frozenset(zip(places, coefficients, strict=True))))
    return found


def as_set(hits):
    rows = [
        (
            int(hit["rx"]),
            int(hit["product_hz"]),
            int(hit["width_hz"]),
            frozenset((int(i), int(c)) for i, c in zip(hit["tx"], hit["coefficients"], strict=True) if c),
        )
        for hit in hits
    ]
    assert len(rows) == len(set(rows)), "a product is reported twice"
    return set(rows)


raster = st.integers(1, 60).map(lambda n: 6250 * n)
widths = st.sampled_from([0, 6250, 12_500, 25_000])


@settings(max_examples=60, derandomize=True, deadline=None)
@given(
    st.lists(st.tuples(raster, widths), min_size=1, max_size=5),
    st.lists(st.tuples(raster, widths), min_size=1, max_size=4),
    st.sampled_from([0, 400_000, 150_000_000]),
    st.sampled_from([(3,), (3, 5), (2, 4), (7,)]),
)
def test_finds_exactly_what_brute_force_finds(transmitters, receivers, base, orders):
    """Bases of 0 and 400 kHz bring in products of every coefficient sum and mirrored ones below 0 Hz."""
    tx, tx_width = ([base + f for f, _ in transmitters], [w for _, w in transmitters])
    rx, rx_width = ([base + f for f, _ in receivers], [w for _, w in receivers])
    hits = products_in_passbands(tx, tx_width, rx, rx_width, orders=orders)
    assert as_set(hits) == brute_force(tx, tx_width, rx, rx_width, orders)


@settings(max_examples=20, derandomize=True, deadline=None)
@given(
    st.lists(st.integers(1, 500_000_000), min_size=3, max_size=4),
    st.lists(st.integers(1, 900_000_000), min_size=9, max_size=14),
)
def test_receivers_scattered_over_more_windows_than_are_kept_apart(tx, rx):
    hits = products_in_passbands(tx, 1_000_000, rx, 2_000_000, orders=(3, 5))
    assert as_set(hits) == brute_force(tx, [1_000_000] * len(tx), rx, [2_000_000] * len(rx), (3, 5))


def test_im_product_counts():
    """Distinct in-band combinations of n carriers; types of four and five signals are outside our scope."""
    types = {
        "2A-B": (2, -1), "A+B-C": (1, 1, -1), "3A-2B": (3, -2), "3A-B-C": (3, -1, -1), "2A+B-2C": (2, 1, -2),
    }  # fmt: skip
    for row in project_table("im_product_counts.csv"):
        n = int(row["n"])
        tx = 400_000_000 + 1000 * 7 ** np.arange(n, dtype=np.int64) % 1_000_003  # distinct, not on a raster
        assert len(set(tx.tolist())) == n
        hits = products_in_passbands(tx, 0, [410_000_000], 400_000_000, orders=(3, 5), coefficient_sums=(1,))
        for name, pattern in types.items():
            padded = [*pattern, 0][:3]
            count = int((hits["coefficients"] == padded).all(axis=1).sum())
            assert count == int(row["n_" + name if name in ("2A-B", "A+B-C") else name]), (n, name)
        assert int((hits["order"] == 3).sum()) == int(row["n_3rd_total"])


def test_im_free_sets():
    """Golomb rulers have no third-order product on their own channels; bad sets have as many as listed."""
    for row in project_table("im_free_sets.csv"):
        tx = [400_000_000 + 12_500 * int(channel) for channel in row["channels"].split()]
        hits = products_in_passbands(tx, 0, tx, 0, orders=(3,), coefficient_sums=(1,))
        two = hits[(hits["coefficients"] == [2, -1, 0]).all(axis=1)]
        three = hits[(hits["coefficients"] == [1, 1, -1]).all(axis=1)]
        assert two.size == int(row["hits_2A-B"]), row["channels"]
        assert three.size == int(row["hits_A+B-C"]), row["channels"]
        # A+B = 2C: the product lies on C, is reported and marked
        assert int((~three["on_own_signal"]).sum()) == int(row["hits_A+B-C_excl_on_C"]), row["channels"]


def test_im_site_examples():
    """Receiver bandwidth 12.5 kHz, orders 3 and, of the fifth, 3A−2B only, as the table has them."""
    rows = project_table("im_site_examples.csv")
    listed: dict[str, set] = {}
    for row in rows:
        wanted = listed.setdefault(row["site"], set())
        if row["type"] != "none":
            signals = [round(float(row[name]) * 1e6) for name in "ABC" if row[name]]
            wanted.add((row["type"], frozenset(signals[:1]) if len(signals) == 2 else frozenset(signals[:2]),
                        signals[-1], round(float(row["rx_hit_MHz"]) * 1e6)))  # fmt: skip
    names: dict[tuple[int, ...], str] = {(2, -1, 0): "2A-B", (1, 1, -1): "A+B-C", (3, -2, 0): "3A-2B"}
    for row in rows:
        tx, rx = mhz_to_hz(row["tx_MHz"]), mhz_to_hz(row["rx_MHz"])
        hits = products_in_passbands(tx, 0, rx, 12_500, orders=(3, 5))
        found = set()
        for hit in hits:
            name = names.get(tuple(hit["coefficients"].tolist()))
            if name is None:
                continue
            positive = [tx[i] for i, c in zip(hit["tx"], hit["coefficients"], strict=True) if c > 0]
            negative = [tx[i] for i, c in zip(hit["tx"], hit["coefficients"], strict=True) if c < 0]
            found.add((name, frozenset(positive), negative[0], rx[hit["rx"]]))
        if row["site"].startswith("S3"):
            # A+B = 2C (410 + 415 = 2 × 412.5): the table leaves out products on the signal that makes them
            found = {hit for hit in found if hit[3] != hit[2]}
        # 152.6 + 410.2 − 460.4 = 102.4 is a hit that our copy of the table does not list
        beyond = {("A+B-C", frozenset({152_600_000, 410_200_000}), 460_400_000, 102_400_000)}
        assert found - listed[row["site"]] == (beyond if row["site"].startswith("S4") else set()), row["site"]
        assert listed[row["site"]] <= found, row["site"]


def test_product_width_is_the_sum_of_coefficient_times_width():
    hits = products_in_passbands([410_000_000, 412_000_000], [12_500, 25_000], [408_000_000], 12_500, (3,))
    assert hits["width_hz"].tolist() == [2 * 12_500 + 25_000]
    edge = 408_000_000 - (50_000 + 12_500) // 2
    assert products_in_passbands([410_000_000, 412_000_000], [12_500, 25_000], [edge], 12_500, (3,)).size == 1
    assert (
        products_in_passbands([410_000_000, 412_000_000], [12_500, 25_000], [edge - 1], 12_500, (3,)).size
        == 0
    )


def test_a_low_transmitting_site_needs_a_span_of_half_the_duplex_spacing_to_reach_its_receivers():
    """Transmit low (410), receive high (+10 MHz): common arithmetic of duplex sites."""
    near = 410_000_000 + 12_500 * np.arange(0, 390, 13)
    assert products_in_passbands(near, 0, near + 10_000_000, 12_500, orders=(3,), signals=(2, 3)).size == 0
    mixed = products_in_passbands([410_100_000, 420_100_000], 0, [400_100_000], 12_500, orders=(3,))
    assert mixed["product_hz"].tolist() == [400_100_000]


@pytest.mark.parametrize("band_hz", [410_000_000, 420_000_000])
def test_sixty_transmitters_and_sixty_receivers_take_well_under_a_second(band_hz):
    generator = np.random.default_rng(1)
    tx = 410_000_000 + 12_500 * generator.permutation(400)[:60]
    rx = band_hz + 12_500 * generator.permutation(400)[:60]
    began = time.process_time()
    hits = products_in_passbands(tx, 12_500, rx, 12_500)
    assert time.process_time() - began < 1.0
    assert hits.size > 1000


def test_wrong_arguments_are_named():
    with pytest.raises(ValueError, match=r"tx_frequency_hz holds 410012500\.5; whole Hz of 1 or more"):
        products_in_passbands([410_012_500.5], 0, [420_000_000], 0)
    with pytest.raises(ValueError, match="rx_width_hz has 2 values; one, or 1"):
        products_in_passbands([410_012_500], 0, [420_000_000], [0, 0])
    with pytest.raises(ValueError, match="orders holds 8; whole numbers from 2 to 7"):
        products_in_passbands([410_012_500], 0, [420_000_000], 0, orders=(8,))
    with pytest.raises(ValueError, match="signals holds 4"):
        coefficient_patterns([3], [4])
    assert products_in_passbands([], 0, [420_000_000], 0).size == 0
    assert products_in_passbands([410_012_500, 420_000_000], 0, [], 0).size == 0


def test_levels_by_intercept_point():
    """From memory, not verified: three signals 6 dB above the equal two-signal product (also read)."""
    two = product_level_dbm([-30.0, -40.0, 0.0], [2, -1, 0], 10.0)
    assert two == pytest.approx(2 * -30 - 40 - 2 * 10)
    three = product_level_dbm([-30.0] * 3, [1, 1, -1], 10.0) - product_level_dbm([-30.0] * 2, [2, -1], 10.0)
    assert three == pytest.approx(20 * np.log10(2))
    many = product_level_dbm([[-30.0, -30.0], [-30.0, np.nan]], [[2, -1], [3, -2]], 10.0)
    assert many[0] == pytest.approx(-110.0)
    assert np.isnan(many[1])
    with pytest.raises(RadioRangeError, match="level_dbm"):
        product_level_dbm([400.0, 0.0], [2, -1], 10.0)


def test_transmitter_product_level():
    """From memory, not verified."""
    assert transmitter_product_level_dbm(44.0, 60.0, 10.0) == -26.0
    assert np.isnan(transmitter_product_level_dbm(np.nan, 60.0, 10.0))
    with pytest.raises(RadioRangeError, match="coupling_loss_db"):
        transmitter_product_level_dbm(44.0, -1.0, 10.0)
