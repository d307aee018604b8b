"""Words on pictures: beside their point, on nothing else, in the frame."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectrum.pictures.labels import LETTER, LINE, Box, Words, along, place
from spectrum.pictures.steps import round_step, ticks

FRAME = Box(0, 0, 560, 400)
NOTHING = np.zeros((0, 2))


def test_a_word_alone_stands_to_the_right_of_its_point() -> None:
    (placed,) = place([Words(100, 100, ("U41-301",), gap=8)], FRAME, NOTHING)

    assert placed.box == Box(108, 100 - LINE / 2, 108 + 7 * LETTER, 100 + LINE / 2)
    assert placed.leader == ""


def test_a_word_goes_around_a_line_and_back_into_the_frame() -> None:
    line = along(100, 100, 300, 100)
    (beside,) = place([Words(100, 100, ("U41-301",), gap=8)], FRAME, line)
    (held,) = place([Words(556, 100, ("U41-301",), gap=8)], FRAME, NOTHING)

    assert beside.box.holds(line) == 0
    assert held.box.inside(FRAME)


def test_what_has_to_go_far_is_led_back() -> None:
    wall = [Box(60, 60, 140, 140)]
    (placed,) = place([Words(100, 100, ("A",), gap=4)], FRAME, NOTHING, wall)

    assert not any(placed.box.overlaps(box) for box in wall)
    assert placed.leader.startswith("M")


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.floats(60, 500), st.floats(60, 340)), min_size=2, max_size=7, unique=True))
def test_no_two_words_overlap_wherever_their_points_lie(points: list[tuple[float, float]]) -> None:
    placed = place([Words(x, y, ("X05", "O-021/A")) for x, y in points], FRAME, NOTHING)

    assert not any(a.box.overlaps(b.box) for a, b in combinations(placed, 2))
    assert all(one.box.inside(FRAME) for one in placed)


def test_lines_of_a_label_stand_under_each_other() -> None:
    (placed,) = place([Words(100, 100, ("X05", "O-021/A"))], FRAME, NOTHING)
    (x1, y1, first), (x2, y2, second) = placed.rows

    assert (first, second) == ("X05", "O-021/A")
    assert x1 == x2 and y2 - y1 == pytest.approx(LINE)


def test_steps_are_round() -> None:
    assert [round_step(v) for v in (0.011, 1.0, 3.0, 70.0)] == [0.02, 1.0, 5.0, 100.0]
    assert round_step(70.0, down=True) == 50.0
    assert ticks(415.0, 415.5, 5) == [415.0, 415.1, 415.2, 415.3, 415.4, 415.5]
