"""One latitude or longitude, in every usual notation."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sites.positions import (
    Axis,
    Notation,
    PositionError,
    format_angle,
    format_dms,
    parse_angle,
    parse_position,
)
from tests.reference_tables import project_table


def test_dms_parsing_table():
    """Constructed cases; decimal = sign × (d + m/60 + s/3600). Empty decimal: must be refused."""
    rows = project_table("dms_parsing.csv")
    assert len(rows) == 14
    for row in rows:
        if row["decimal_deg"]:
            assert parse_angle(row["text"]).value_deg == pytest.approx(
                float(row["decimal_deg"]), abs=5e-13
            ), row
        else:
            with pytest.raises(PositionError):
                parse_angle(row["text"])


@pytest.mark.parametrize(
    ("text", "value", "notation"),
    [
        ("50.1234", 50.1234, Notation.DECIMAL_DEGREES),
        ("50,1234", 50.1234, Notation.DECIMAL_DEGREES),
        ("−50.5", -50.5, Notation.DECIMAL_DEGREES),
        ("50.1234° S", -50.1234, Notation.DECIMAL_DEGREES),
        ("S 50.1234", -50.1234, Notation.DECIMAL_DEGREES),
        ("50 07.5", 50.125, Notation.DEGREES_MINUTES),
        ("50°07.5'N", 50.125, Notation.DEGREES_MINUTES),
        ("5007.5N", 50.125, Notation.DEGREES_MINUTES),
        ("50 07 30 N", 50.125, Notation.DEGREES_MINUTES_SECONDS),
        ("N50:07:30", 50.125, Notation.DEGREES_MINUTES_SECONDS),
        ("50-07-30 N", 50.125, Notation.DEGREES_MINUTES_SECONDS),
        ("50N0730", 50.125, Notation.DEGREES_MINUTES_SECONDS),
        ("500730N", 50.125, Notation.DEGREES_MINUTES_SECONDS),
        ("50d07m30s N", 50.125, Notation.DEGREES_MINUTES_SECONDS),
        ("50d07m30sS", -50.125, Notation.DEGREES_MINUTES_SECONDS),
        ("50 deg 07 min 30 sec North", 50.125, Notation.DEGREES_MINUTES_SECONDS),
        ("50º 07’ 30,0” n", 50.125, Notation.DEGREES_MINUTES_SECONDS),
        ("50°07'30''", 50.125, Notation.DEGREES_MINUTES_SECONDS),
        ("-0 07 30", -0.125, Notation.DEGREES_MINUTES_SECONDS),
        ("0 07 30 S", -0.125, Notation.DEGREES_MINUTES_SECONDS),
        ("-0 07 30 S", -0.125, Notation.DEGREES_MINUTES_SECONDS),
        ("90 00 00 N", 90.0, Notation.DEGREES_MINUTES_SECONDS),
    ],
)
def test_a_latitude_is_read_in_every_usual_notation(text, value, notation):
    angle = parse_angle(text, Axis.LATITUDE)
    assert angle.value_deg == pytest.approx(value, abs=1e-12)
    assert angle.notation is notation
    assert angle.axis is Axis.LATITUDE


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("50 60 00 N", "the minutes are 60"),
        ("50 07 60", "the seconds are 60"),
        ("91", "beyond ±90"),
        ("90 00 01 N", "beyond ±90"),
        ("145", "the axes look swapped"),
        ("200", "beyond ±90 degrees. Expected"),
        ("-50 N", "sign - and the letter N disagree"),
        ("+50 S", "sign + and the letter S disagree"),
        ("-0 07 30 N", "disagree"),
        ("50 E", "belongs to a longitude; the axes look swapped"),
        ("50 N S", "more than one of the letters"),
        ("50.5 07 N", "have decimals although smaller units follow"),
        ("50 07.5 30", "have decimals although smaller units follow"),
        ("50 07 24 10", "holds 4 numbers"),
        ("50'07\"", "stands in the wrong place"),
        ("50,12.5", "which of them is the decimal sign"),
        ("fifty", "cannot be read"),
        ("50 N 07", "stands between the numbers"),
        ("50D07M24S", "seconds or south"),
        ("", "no number"),
        ("-", "no number"),
        ("--50", "cannot be read"),
        ("inf", "cannot be read"),
    ],
)
def test_a_latitude_that_cannot_be_meant_is_refused_with_a_sentence(text, sentence):
    with pytest.raises(PositionError, match=r"Expected .*for example ") as caught:
        parse_angle(text, Axis.LATITUDE)
    assert sentence in str(caught.value)
    assert caught.value.typed == text
    assert caught.value.field in {"latitude", "position"}
    assert caught.value.expected and caught.value.example


@pytest.mark.parametrize(
    ("latitude", "longitude", "decimals", "text"),
    [
        (50.0 + 59.96 / 3600.0, 0.0, 1, "50°01'00.0\"N 000°00'00.0\"E"),
        (50.0 + 59.94 / 3600.0, 0.0, 1, "50°00'59.9\"N 000°00'00.0\"E"),
        (49.0 + 3599.96 / 3600.0, -179.0 - 3599.96 / 3600.0, 1, "50°00'00.0\"N 180°00'00.0\"W"),
        (-0.0083333333, -0.0083333333, 0, "00°00'30\"S 000°00'30\"W"),
        (-1e-9, -1e-9, 1, "00°00'00.0\"N 000°00'00.0\"E"),
        (90.0, 180.0, 2, "90°00'00.00\"N 180°00'00.00\"E"),
    ],
)
def test_rounding_carries_and_60_is_never_written(latitude, longitude, decimals, text):
    assert format_dms(latitude, longitude, decimals) == text


@given(st.floats(-90.0, 90.0), st.floats(-180.0, 180.0), st.integers(0, 6))
@settings(max_examples=200, derandomize=True, deadline=None)
def test_what_is_written_is_read_back(latitude, longitude, decimals):
    text = format_dms(latitude, longitude, decimals)
    half_a_unit_deg = 0.5 * 10.0**-decimals / 3600.0 + 1e-12
    position = parse_position(text)
    assert abs(position.latitude_deg - latitude) <= half_a_unit_deg
    assert abs(position.longitude_deg - longitude) <= half_a_unit_deg
    assert format_dms(position.latitude_deg, position.longitude_deg, decimals) == text


@pytest.mark.parametrize(
    ("value", "axis", "decimals"),
    [
        (90.5, Axis.LATITUDE, 1),
        (float("nan"), Axis.LONGITUDE, 1),
        (181.0, Axis.LONGITUDE, 1),
        (1.0, Axis.LATITUDE, -1),
    ],
)
def test_what_cannot_be_written_is_an_error_with_its_range(value, axis, decimals):
    with pytest.raises(ValueError, match="must lie between"):
        format_angle(value, axis, decimals)
