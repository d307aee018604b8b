"""Masks: what a table of points must be, and how it is read."""

from __future__ import annotations

import numpy as np
import pytest

from spectrum.radio.masks import MASK_FLOOR_DB, Mask, MaskError


@pytest.mark.parametrize(
    ("offsets", "levels", "sentence"),
    [
        ((0,), (0,), "at least two"),
        ((0, 1), (0,), "one level for each offset"),
        ((0, 10, 5), (0, 0, 0), "ascending order"),
        ((0, 5), (0, 3), "between −200 and 0 dB"),
        ((0, 5), (0, -201), "between −200 and 0 dB"),
        ((0, 5), (0, float("nan")), "between −200 and 0 dB"),
        ((0, float("nan")), (0, 0), "finite one, in kHz"),
        ((0, float("inf")), (0, 0), "finite one, in kHz"),
        ((0, 5, 5, 5), (0, 0, -20, -40), "third point"),
        ((5, 10), (0, -20), "symmetric mask starts at 0"),
        ((0, 0), (0, -20), "no width"),
    ],
)
def test_a_table_that_is_no_mask_is_refused_with_a_sentence(
    offsets: tuple[float, ...], levels: tuple[float, ...], sentence: str
) -> None:
    with pytest.raises(MaskError, match=sentence):
        Mask(offsets, levels)


def test_a_width_that_is_not_positive_is_refused() -> None:
    for width in (0, -12.5, float("nan")):
        with pytest.raises(MaskError):
            Mask.rectangle(width)


def test_reading_a_mask_from_edge_to_edge_and_nan() -> None:
    mask = Mask((0, 5, 5, 10), (0, 0, -40, -60))
    read = mask.level_at_db(np.array([-11, -10, -7.5, -5, 0, 4.9, 5, 5.0001, 10, 10.0001, np.nan]))
    expected = [MASK_FLOOR_DB, -60, -50, 0, 0, 0, 0, -40.0004, -60, MASK_FLOOR_DB, np.nan]
    np.testing.assert_allclose(read, expected, atol=1e-9)
    assert np.ndim(mask.level_at_db(3)) == 0


def test_equal_masks_are_one_key() -> None:
    same = {Mask((0, 5), (0, -20)), Mask((0.0, 5.0), (0.0, -20.0)), Mask.from_points([(0, 0), (5, -20)])}
    assert len(same) == 1


def test_a_half_table_and_the_same_written_out_are_both_symmetric() -> None:
    half = Mask((0, 5, 5, 10), (0, 0, -40, -60))
    whole = Mask((-10, -5, -5, 5, 5, 10), (-60, -40, 0, 0, -40, -60))
    assert half.is_symmetric
    assert whole.is_symmetric
    assert not Mask((-10, 0, 5), (-60, 0, 0)).is_symmetric
    assert half.span_khz == whole.span_khz == (-10, 10)


@pytest.mark.parametrize(
    ("mask", "monotone"),
    [
        (Mask((0, 5, 10), (0, 0, -60)), True),
        (Mask((-10, -5, 5, 10), (-60, 0, 0, -60)), True),
        (Mask((-10, -5, -5, 5, 5, 10), (-60, -40, 0, 0, -40, -60)), True),
        (Mask((0, 5, 10), (-3, 0, -60)), False),
        (Mask((0, 5, 5, 10), (0, -20, -10, -60)), False),
        (Mask((-10, -5, 6, 10), (-60, 0, -1, -60)), False),
        (Mask((-10, -5, 5, 10), (0, -20, -20, -60)), False),
    ],
)
def test_monotone_means_never_rising_away_from_the_centre(mask: Mask, monotone: bool) -> None:
    assert mask.is_monotone is monotone


def test_the_cut_off_must_lie_beyond_the_mask() -> None:
    with pytest.raises(MaskError, match="beyond the mask"):
        Mask.rectangle(25).extended_to(12)
