"""Frequency-dependent rejection against closed forms, and against an independent quadrature."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectrum.radio.masks import Mask
from spectrum.radio.rejection import (
    NO_OVERLAP_FDR_DB,
    frequency_dependent_rejection,
    rejection_table,
)
from tests.reference_tables import project_table

STEPPED = {
    "A": (
        Mask((0, 5.625, 5.625, 12.5, 12.5, 50), (0, 0, -40, -40, -70, -70)),
        Mask((0, 4.25, 4.25, 8.25, 8.25, 60), (0, 0, -40, -40, -80, -80)),
    ),
    "B": (
        Mask((0, 8, 8, 25, 25, 125), (0, 0, -60, -60, -75, -75)),
        Mask((0, 6.25, 6.25, 12.5, 12.5, 200), (0, 0, -50, -50, -80, -80)),
    ),
}


def gaussian(sigma_khz: float) -> Mask:
    """A Gaussian drawn as 4001 straight pieces out to where it is 190 dB down."""
    offset = np.linspace(0, sigma_khz * math.sqrt(190 / 4.342944819 * 2), 4001)
    return Mask(tuple(offset), tuple(-4.342944819 * offset**2 / (2 * sigma_khz**2)))


def test_fdr_rect_rect_csv_itu_r_sm_337_6_annex_1_rectangles() -> None:
    for row in project_table("fdr_rect_rect.csv"):
        result = frequency_dependent_rejection(
            Mask.rectangle(float(row["Bt_kHz"])), Mask.rectangle(float(row["Br_kHz"])), float(row["df_kHz"])
        )
        assert float(result.otr_db) == pytest.approx(float(row["OTR_dB"]), abs=6e-5)
        if row["FDR_dB"] == "inf":
            assert not result.overlaps
            assert float(result.fdr_db) == NO_OVERLAP_FDR_DB
        else:
            assert result.overlaps
            assert float(result.fdr_db) == pytest.approx(float(row["FDR_dB"]), abs=6e-5)
            assert float(result.ofr_db) == pytest.approx(float(row["OFR_dB"]), abs=6e-5)


def test_fdr_stepped_csv_piecewise_constant_masks() -> None:
    for row in project_table("fdr_stepped.csv"):
        result = frequency_dependent_rejection(*STEPPED[row["case"]], float(row["df_kHz"]))
        assert float(result.otr_db) == pytest.approx(float(row["OTR_dB"]), abs=6e-6)
        assert float(result.fdr_db) == pytest.approx(float(row["FDR_dB"]), abs=6e-6)
        assert float(result.ofr_db) == pytest.approx(float(row["OFR_dB"]), abs=1.1e-5)


def test_fdr_gauss_csv_is_the_limit_of_many_pieces() -> None:
    for row in project_table("fdr_gauss.csv"):
        result = frequency_dependent_rejection(
            gaussian(float(row["sigma_t_kHz"])), gaussian(float(row["sigma_r_kHz"])), float(row["df_kHz"])
        )
        assert float(result.otr_db) == pytest.approx(float(row["OTR_dB"]), abs=0.001)
        assert float(result.fdr_db) == pytest.approx(float(row["FDR_dB"]), abs=0.001)


# An independent integrator: Gauss-Legendre with 24 nodes on each of 40 parts of every smooth stretch,
# the level read from the points by its own interpolation.
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)


def _points(mask: Mask) -> list[tuple[float, float]]:
    points = list(zip(mask.offset_khz, mask.level_db, strict=True))
    return points if points[0][0] < 0 else [(-x, y) for x, y in reversed(points)] + points


def _power_at(mask: Mask) -> Callable[[np.ndarray], np.ndarray]:
    points = _points(mask)

    def power(f: np.ndarray) -> np.ndarray:
        total = np.zeros_like(f)
        for (x0, y0), (x1, y1) in pairwise(points):
            if x1 > x0:
                inside = (f > x0) & (f < x1)
                level = y0 + (y1 - y0) * (f[inside] - x0) / (x1 - x0)
                total[inside] = 10 ** (level / 10)
        return total

    return power


def quadrature_fdr_db(emission: Mask, selectivity: Mask, offset_khz: float) -> float:
    p, h = _power_at(emission), _power_at(selectivity)
    edges = sorted({x for x, _ in _points(emission)} | {x - offset_khz for x, _ in _points(selectivity)})
    sent = coupled = 0.0
    for a, b in pairwise(edges):
        for low, high in pairwise(np.linspace(a, b, 41)):
            f = (high - low) / 2 * _NODES + (high + low) / 2
            sent += (high - low) / 2 * float(_WEIGHTS @ p(f))
            coupled += (high - low) / 2 * float(_WEIGHTS @ (p(f) * h(f + offset_khz)))
    return 10 * math.log10(sent / coupled) if coupled > 0 else math.inf


@st.composite
def masks(draw: st.DrawFn, *, monotone: bool = False) -> Mask:
    """Symmetric, asymmetric and one-sided masks of 2 to 6 points, with vertical steps."""
    steps = draw(st.lists(st.sampled_from([0.0, 0.5, 2.5, 6.25, 12.5]), min_size=1, max_size=5))
    levels = draw(
        st.lists(st.floats(-90, 0, allow_nan=False), min_size=len(steps) + 1, max_size=len(steps) + 1)
    )
    start = 0.0 if monotone else draw(st.sampled_from([0.0, 0.0, -1.0, -12.5, -30.0]))
    offsets = [start]
    for step in steps:
        twice = len(offsets) > 1 and offsets[-1] == offsets[-2]
        offsets.append(offsets[-1] + (1.0 if twice and step == 0 else step))
    if offsets[-1] == offsets[0]:
        offsets[-1] += 5.0
    if monotone:
        levels.sort(reverse=True)
    return Mask(tuple(offsets), tuple(levels))


@settings(max_examples=60, derandomize=True, deadline=None)
@given(masks(), masks(), st.floats(-40, 40, allow_nan=False))
def test_closed_form_equals_quadrature_on_random_masks(p: Mask, h: Mask, offset: float) -> None:
    result = frequency_dependent_rejection(p, h, offset)
    expected = quadrature_fdr_db(p, h, offset)
    if result.overlaps:
        assert float(result.fdr_db) == pytest.approx(min(expected, NO_OVERLAP_FDR_DB), abs=0.001)
    else:
        assert expected > 60


@settings(max_examples=80, derandomize=True, deadline=None)
@given(masks(monotone=True), masks(monotone=True))
def test_fdr_of_symmetric_falling_masks_is_symmetric_and_never_falls_with_offset(p: Mask, h: Mask) -> None:
    assert p.is_symmetric
    assert p.is_monotone
    offset = np.linspace(0, p.span_khz[1] + h.span_khz[1] + 5, 101)
    fdr = frequency_dependent_rejection(p, h, offset).fdr_db
    assert np.all(np.diff(fdr) >= -1e-9)
    assert np.all((fdr >= 0) & (fdr <= NO_OVERLAP_FDR_DB))
    assert fdr == pytest.approx(frequency_dependent_rejection(p, h, -offset).fdr_db, abs=1e-9)


@settings(max_examples=40, derandomize=True, deadline=None)
@given(masks(), masks(), st.lists(st.integers(-60_000, 60_000), min_size=1, max_size=20))
def test_the_kept_table_equals_the_direct_result(p: Mask, h: Mask, offsets_hz: list[int]) -> None:
    kept = rejection_table(p, h, np.array(offsets_hz))
    direct = frequency_dependent_rejection(p, h, np.array(offsets_hz) / 1000)
    assert kept.fdr_db == pytest.approx(direct.fdr_db, abs=1e-9)
    assert float(kept.otr_db) == pytest.approx(float(direct.otr_db), abs=1e-12)
    assert np.array_equal(kept.overlaps, direct.overlaps)


def test_offset_is_emission_frequency_minus_receiver_frequency() -> None:
    upper_side_only = Mask((-1, 10), (0, 0))
    narrow = Mask.rectangle(2)
    # It occupies f - 1 to f + 10 kHz: a receiver 9 kHz above f hears it, one 9 kHz below does not.
    assert frequency_dependent_rejection(upper_side_only, narrow, -9).overlaps
    assert not frequency_dependent_rejection(upper_side_only, narrow, 9).overlaps


@pytest.mark.parametrize("offset", [12.5, np.float64(12.5), np.array(12.5)])
def test_a_scalar_gives_scalars(offset: float) -> None:
    result = frequency_dependent_rejection(Mask.rectangle(25), Mask.rectangle(25), offset)
    assert np.shape(result.fdr_db) == np.shape(result.ofr_db) == np.shape(result.overlaps) == ()
    assert float(result.fdr_db) == pytest.approx(10 * math.log10(2))


def test_an_array_from_edge_to_edge_that_ends_in_nan() -> None:
    offset = np.array([[-25.0, -12.5, 0.0], [12.5, 1e9, np.nan]])
    result = frequency_dependent_rejection(Mask.rectangle(25), Mask.rectangle(25), offset)
    expected = [[NO_OVERLAP_FDR_DB, 3.0103, 0.0], [3.0103, NO_OVERLAP_FDR_DB, np.nan]]
    np.testing.assert_allclose(result.fdr_db, expected, atol=1e-4)
    assert result.overlaps.tolist() == [[False, True, True], [True, False, False]]


@pytest.mark.parametrize("fall_db", [0.0, 1e-9, 4e-5, 4.4e-5, 1e-4, 1e-2, 1.0, 60.0, 199.0])
def test_a_nearly_level_piece_and_a_steep_one_are_both_exact(fall_db: float) -> None:
    x = fall_db * math.log(10) / 10
    mean = -math.expm1(-x) / x if x else 1.0
    # A sloping receiver over a flat emission of the same width: FDR is the mean response.
    fdr = frequency_dependent_rejection(Mask.rectangle(20), Mask((0, 10), (0, -fall_db)), 0).fdr_db
    assert float(fdr) == pytest.approx(-10 * math.log10(mean), abs=1e-12)


def test_more_offsets_than_one_batch_holds() -> None:
    p, h = STEPPED["A"]
    offset = np.linspace(-120, 120, 50_001)
    fdr = frequency_dependent_rejection(p, h, offset).fdr_db
    assert fdr == pytest.approx(fdr[::-1], abs=1e-9)
    assert fdr[25_000] == pytest.approx(1.21773, abs=1e-5)


def test_the_table_refuses_offsets_that_are_not_whole_hertz() -> None:
    with pytest.raises(TypeError, match="integers, in Hz"):
        rejection_table(Mask.rectangle(25), Mask.rectangle(25), 12.5)
