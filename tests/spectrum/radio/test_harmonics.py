"""Harmonics in receiver passbands against brute force."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectrum.radio.harmonics import harmonics_in_passbands

transmitters = st.lists(
    st.tuples(st.integers(1, 40).map(lambda n: n * 6250), st.sampled_from([0, 6250, 25_000])),
    min_size=1,
    max_size=6,
)


@settings(max_examples=60, derandomize=True)
@given(transmitters, transmitters, st.integers(2, 7))
def test_finds_exactly_what_brute_force_finds(sent, received, highest):
    wanted = {
        (r, t, n, n * f, n * w, n * f - centre)
        for r, (centre, band) in enumerate(received)
        for t, (f, w) in enumerate(sent)
        for n in range(2, highest + 1)
        if 2 * abs(n * f - centre) <= n * w + band
    }
    (tx, tx_width), (rx, rx_width) = zip(*sent, strict=True), zip(*received, strict=True)
    hits = harmonics_in_passbands(tx, tx_width, rx, rx_width, highest)
    assert sorted(map(tuple, hits.tolist())) == sorted(wanted)


def test_third_harmonic_of_vhf_in_uhf():
    """Arithmetic: 3 × 152 MHz = 456 MHz, three times as wide."""
    hits = harmonics_in_passbands([152_000_000], 12_500, [456_025_000, 456_025_001], 12_500)
    assert hits[["rx", "harmonic", "width_hz", "offset_hz"]].tolist() == [(0, 3, 37_500, -25_000)]


def test_wrong_arguments_are_named():
    with pytest.raises(ValueError, match="highest is 1"):
        harmonics_in_passbands([152_000_000], 0, [456_000_000], 0, highest=1)
    with pytest.raises(ValueError, match="tx_width_hz holds -1"):
        harmonics_in_passbands([152_000_000], -1, [456_000_000], 0)
    assert harmonics_in_passbands([], 0, [456_000_000], 0).size == 0
