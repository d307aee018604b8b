"""Pictures over frequency: masks and what gets through, levels against a limit, products on a channel."""

from __future__ import annotations

import re
from itertools import pairwise

import numpy as np
import pytest

from spectrum.conflicts.nominal import nominal_emission, nominal_selectivity
from spectrum.pictures.level_ladder import AXIS as LADDER_AXIS
from spectrum.pictures.level_ladder import BAR, Arrival, ladder
from spectrum.pictures.mask_overlap import AXIS, BOTTOM, LEFT, RIGHT, TOP, MaskPicture, mask_picture
from spectrum.pictures.products_on_channel import Falls, product_picture
from spectrum.radio.masks import Mask
from spectrum.radio.rejection import frequency_dependent_rejection


def points(path: str) -> list[tuple[float, float]]:
    values = [float(n) for n in re.findall(r"-?\d+\.?\d*", path)]
    return list(zip(values[::2], values[1::2], strict=True))


def power(path: str, picture: MaskPicture, low_khz: float, high_khz: float) -> float:
    """The area under a curve of the picture in linear measure, kHz, by the trapezoid rule."""
    corners = points(path)[1:-1]
    khz = [low_khz + (x - LEFT) / (RIGHT - LEFT) * (high_khz - low_khz) for x, _ in corners]
    db = [(AXIS - y) / (AXIS - TOP) * -picture.deepest_db + picture.deepest_db for _, y in corners]
    fine = np.linspace(khz[0], khz[-1], 40_001)
    at = np.interp(fine, np.array(khz) + 1e-9 * np.arange(len(khz)), db)
    return float(np.trapezoid(10.0 ** (at / 10.0), fine))


def test_two_rectangles_share_what_they_share() -> None:
    """25 kHz sent 12.5 kHz above a receiver of 12.5 kHz: from 0 to 6.25 kHz of it, FDR 6.02 dB."""
    picture = mask_picture(Mask.rectangle(25), Mask.rectangle(12.5), 12_500, 25_000, 12_500)

    assert picture.shared_khz == (0.0, 6.25)
    assert (picture.sent.low_khz, picture.sent.high_khz) == (0.0, 25.0)
    assert (picture.heard.low_khz, picture.heard.high_khz) == (-6.25, 6.25)
    # from −6.25 to 25 kHz: the victim's centre a fifth of the way
    assert picture.heard.centre == pytest.approx(LEFT + (RIGHT - LEFT) / 5, abs=0.1)
    assert picture.sent.left == picture.heard.centre and picture.sent.right == RIGHT
    assert picture.shared == pytest.approx((picture.heard.centre, (RIGHT - LEFT) / 5), abs=0.11)


def test_transmit_stands_above_the_line_and_receive_below() -> None:
    picture = mask_picture(nominal_emission(25.0), nominal_selectivity(25.0), 25_000, 25_000, 25_000)

    assert all(TOP <= y <= AXIS for _, y in points(picture.emission))
    assert all(AXIS <= y <= BOTTOM for _, y in points(picture.selectivity))
    assert all(TOP <= y <= AXIS for _, y in points(picture.through))
    assert picture.sent.centre > picture.heard.centre


@pytest.mark.parametrize("offset_khz", [0.0, 12.5, -25.0, 31.25])
def test_the_hatched_area_is_the_rejection_that_is_stated(offset_khz: float) -> None:
    emission, selectivity = nominal_emission(25.0), nominal_selectivity(12.5)
    picture = mask_picture(emission, selectivity, int(offset_khz * 1e3), 25_000, 12_500)
    low, high = min(-62.5 + offset_khz, -31.25), max(62.5 + offset_khz, 31.25)
    through, sent = (power(path, picture, low, high) for path in (picture.through, picture.emission))
    stated = frequency_dependent_rejection(emission, selectivity, offset_khz).fdr_db

    assert 10.0 * np.log10(sent / through) == pytest.approx(
        float(stated), abs=0.4
    )  # paper has a tenth of a unit


def test_masks_that_share_nothing_have_nothing_hatched() -> None:
    picture = mask_picture(Mask.rectangle(10), Mask.rectangle(10), 25_000, 10_000, 10_000)
    assert picture.shared is None and picture.through == ""


def test_levels_stand_on_one_scale_with_their_limit() -> None:
    drawn = ladder([Arrival("L-1/A", 420.0, 37.0, 7.0)], "L-2/B", 410.0, 25.0, -20.0, "blocks at")
    (bar,) = drawn.bars
    per_db = bar.between / 30.0

    assert bar.top + bar.between + bar.filled == pytest.approx(LADDER_AXIS)
    assert drawn.limit_y == pytest.approx(bar.top + 57.0 * per_db, abs=0.2)
    assert bar.x + BAR / 2 > drawn.channel[0]  # 420 MHz to the right of 410 MHz
    said = [text for word in drawn.words for _, _, text in word.rows]
    assert said == ["L-1/A", "30.0 dB less", "L-2/B"]


def test_several_levels_on_one_frequency_stand_side_by_side() -> None:
    drawn = ladder(
        [Arrival(f"L-{n}/A", 410.0, -70.0, -130.0 - n) for n in range(5)],
        "L-9/B",
        410.0,
        25.0,
        -132.0,
        "permitted",
    )
    edges = [(bar.x, bar.x + BAR) for bar in drawn.bars]

    assert all(right <= left for (_, right), (left, _) in pairwise(edges))
    boxes = [word.box for word in drawn.words]
    assert not any(a.overlaps(b) for i, a in enumerate(boxes) for b in boxes[:i])


def test_products_lie_where_their_offset_says() -> None:
    drawn = product_picture([Falls("1", -12.5, 25.0), Falls("2", 0.0, 50.0)], 25.0)
    first, second = drawn.bars
    left, width = drawn.channel

    assert first.centre == pytest.approx(left, abs=0.1)  # 12.5 kHz below the centre: the channel's lower edge
    assert second.centre == pytest.approx(left + width / 2, abs=0.1)
    assert second.width == pytest.approx(2 * width, abs=0.2)
    assert second.y > first.y and drawn.axis > second.y
