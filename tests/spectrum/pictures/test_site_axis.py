"""The frequencies of a site: bands, cuts, halves, and names that cover neither each other nor a line."""

from __future__ import annotations

from itertools import combinations

import pytest

from spectrum.pictures.labels import LETTER
from spectrum.pictures.site_axis import LEFT, RIGHT, WIDTH, BandAxis, Stands, site_axes

KHZ, MHZ = 1_000, 1_000_000


def duplex(name: str, low_mhz: float, *, high: bool = False, spacing_mhz: float = 10.0) -> Stands:
    low, up = round(low_mhz * MHZ), round((low_mhz + spacing_mhz) * MHZ)
    return (name, up, low, 25 * KHZ) if high else (name, low, up, 25 * KHZ)


def one(stations: list[Stands]) -> BandAxis:
    (axis,) = site_axes(stations)
    return axis


def test_bands_far_apart_have_axes_of_their_own() -> None:
    axes = site_axes(
        [duplex("A", 410.0), duplex("B", 158.0, spacing_mhz=4.6), ("C", 7_200 * MHZ, None, 7 * MHZ)]
    )
    assert [axis.title for axis in axes] == [
        "158.000 to 162.600 MHz",
        "410.000 to 420.000 MHz",
        "7200.00000 MHz",
    ]


def test_halves_are_named_after_the_pairs_and_cut_apart() -> None:
    axis = one([duplex("A", 410.0), duplex("B", 410.5)])

    assert [s.half for s in axis.stretches] == ["low half", "high half"]
    # Half a MHz between two channels, and the same scale on both sides of the cut.
    (a, b), (c, d) = [m.middle for m in axis.above], [m.middle for m in axis.below]
    assert b - a == pytest.approx(d - c, abs=0.2)
    assert axis.stretches[0].end < axis.stretches[1].x


def test_a_station_the_other_way_round_transmits_in_the_high_half() -> None:
    axis = one([duplex("A", 410.0), duplex("B", 410.1, high=True)])
    low, high = axis.stretches

    assert [m.name for m in axis.above] == ["A", "B"] and [m.name for m in axis.below] == ["B", "A"]
    assert axis.above[0].middle < low.end and axis.above[1].middle > high.x


def test_frequency_rises_to_the_right_to_scale() -> None:
    axis = one(
        [("A", 410 * MHZ, None, 25 * KHZ), ("B", 411 * MHZ, None, 25 * KHZ), ("C", 414 * MHZ, None, 25 * KHZ)]
    )
    a, b, c = (m.middle for m in axis.above)

    assert (c - b) == pytest.approx(3 * (b - a), abs=0.3)
    assert LEFT <= a < c <= RIGHT and [s.half for s in axis.stretches] == [""]


@pytest.mark.parametrize("step_khz", [12.5, 100.0, 1000.0])
def test_names_cover_neither_each_other_nor_the_lines_that_lead_to_them(step_khz: float) -> None:
    axis = one([(f"U41-{n:03d}/B", round(410 * MHZ + n * step_khz * KHZ), None, 12_500) for n in range(12)])
    boxes = [
        (m.middle + 4, m.middle + 4 + len(m.name) * LETTER, m.text_y - 11, m.text_y + 2) for m in axis.above
    ]

    for (l1, r1, t1, b1), (l2, r2, t2, b2) in combinations(boxes, 2):
        assert r1 <= l2 or r2 <= l1 or b1 <= t2 or b2 <= t1
    for left, right, top, bottom in boxes:
        assert right <= WIDTH and top > 0
        for mark in axis.above:
            crosses = left < mark.middle < right and mark.y < bottom and top < axis.line
            assert not crosses


def test_stations_on_one_channel_share_a_block() -> None:
    axis = one([(f"H-{n}/1", 410 * MHZ, 420 * MHZ, 25 * KHZ) for n in range(3)])
    assert [m.name for m in axis.above] == ["H-0/1 +2"]


def test_too_many_to_name_are_drawn_without_names() -> None:
    axis = one([(f"L-{n}/A", 410 * MHZ + n * 25 * KHZ, None, 25 * KHZ) for n in range(60)])
    assert axis.unnamed and len(axis.above) == 60 and not any(m.name for m in axis.above)
    assert axis.height < 120


def test_a_site_without_frequencies_has_no_axis() -> None:
    assert site_axes([]) == []
