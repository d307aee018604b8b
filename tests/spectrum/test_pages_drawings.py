"""The small drawings: frequency and time rise to the right, transmit above the line, the limit in the middle."""

from __future__ import annotations

import datetime as dt

import pytest

from spectrum.drawings import MARGIN_WIDTH, chart, frequency_strip, margin_mark, time_strip
from spectrum.models import Finding
from spectrum.templatetags.drawings import evidence_value, margin, margin_scale


@pytest.mark.parametrize(
    ("margin_db", "side"), [(-0.1, "over"), (0.0, "close"), (2.9, "close"), (3.0, "within")]
)
def test_the_margin_scale_has_the_limit_in_the_middle(margin_db: float, side: str) -> None:
    mark = margin_mark(margin_db)

    assert mark.side == side
    assert (mark.x > MARGIN_WIDTH / 2) == (margin_db > 0)
    assert mark.beyond == 0


def test_a_result_off_the_scale_is_held_at_its_end() -> None:
    low, high = margin_mark(-81.7), margin_mark(60.0)

    assert (low.beyond, high.beyond) == (-1, 1)
    assert 0 < low.x < high.x < MARGIN_WIDTH
    assert low.words == "81.7 dB over the limit"


def test_only_a_margin_in_db_is_drawn_on_the_scale() -> None:
    assert margin_scale(Finding(margin=-3.0, margin_unit="dB"))["mark"] is not None
    assert margin_scale(Finding(margin=20.0, margin_unit="days"))["mark"] is None
    assert margin(Finding(margin=20.0, margin_unit="days")) == "20 days"
    assert margin(Finding()) == ""
    assert evidence_value({"value": -96.274, "unit": "dB"}) == "−96.27"
    assert evidence_value({"value": "vertical", "unit": ""}) == "vertical"
    # free space over 11.18 m at 415.20625 MHz is 45.78 dB by ITU-R P.525; over 0.01 km it would be 44.81 dB
    assert evidence_value({"value": 0.0111803, "unit": "km"}) == "0.01118"
    assert evidence_value({"value": 20.516, "unit": "km"}) == "20.52"


def test_mirrored_ends_stand_mirrored_on_the_frequency_strip() -> None:
    strip = frequency_strip(
        [("A", 410_000_000, 420_000_000, 12_500), ("B", 420_000_000, 410_000_000, 12_500)]
    )

    assert strip is not None
    a, b = strip.lanes
    assert a.above[0].label_x == b.below[0].label_x < a.below[0].label_x == b.above[0].label_x
    assert a.above[0].y < a.y < a.below[0].y
    assert a.above[0].label == "410.00000"


def test_stations_that_are_set_alike_share_a_lane() -> None:
    remotes = [(str(n), 421_000_000, 411_000_000, 25_000) for n in range(1, 7)]

    strip = frequency_strip([("hub", 411_000_000, 421_000_000, 25_000), *remotes])

    assert strip is not None
    assert [lane.name for lane in strip.lanes] == ["hub", "1, 2 +4"]
    assert frequency_strip([]) is None
    assert frequency_strip([("A", None, 410_000_000, 25_000)]) is not None


def test_days_rise_to_the_right_and_their_words_keep_apart() -> None:
    today = dt.date(2026, 6, 1)
    day = dt.timedelta(days=1)
    named = [(f"day {n}", today + n * 20 * day) for n in range(-3, 4)]

    strip = time_strip(named, today - 60 * day, today + 60 * day, today)

    by_day = sorted(strip.days, key=lambda mark: mark.day)
    assert [mark.x for mark in by_day] == sorted(mark.x for mark in by_day)
    assert by_day[0].x < strip.today_x < by_day[-1].x
    spans = [
        (mark.row, mark.text_x, mark.text_x + 60)
        if mark.anchor == "start"
        else (mark.row, mark.text_x - 60, mark.text_x)
        for mark in strip.days
    ]
    for i, (row, low, high) in enumerate(spans):
        for other_row, other_low, other_high in spans[i + 1 :]:
            assert row != other_row or high <= other_low or other_high <= low


def test_a_licence_without_an_end_and_one_of_a_single_day_are_drawn() -> None:
    today = dt.date(2026, 6, 1)

    assert time_strip([], today, None, today).validity[1] > time_strip([], today, None, today).validity[0]
    assert time_strip([("granted", today)], today, today, today).validity_width >= 1.0


def test_a_chart_of_levels_puts_the_higher_level_higher() -> None:
    drawn = chart([("mask", [(-12.5, -60.0), (0.0, 0.0), (12.5, -60.0)])])

    assert drawn is not None
    (_, y_low), (_, y_top), _ = (
        tuple(map(float, point.split(","))) for point in drawn.curves[0].points.split()
    )
    assert y_top < y_low
    assert chart([]) is None
    assert chart([("flat", [(0.0, 0.0), (0.0, 0.0)])]) is not None
