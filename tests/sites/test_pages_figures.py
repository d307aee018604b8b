"""Form fields read figures as engineers write them. Watts and dBm: 10·lg(P / 1 mW), by definition."""

from __future__ import annotations

import math
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from sites.forms.figures import (
    DaysField,
    FigureField,
    KilohertzField,
    MegahertzField,
    PairsField,
    PowerField,
    WordsField,
)
from sites.templatetags.figures import fixed, khz, mhz, watts


@pytest.mark.parametrize(
    ("typed", "dbm"),
    [
        ("40 dBm", 40.0),
        ("40", 40.0),
        ("40,5 dbm", 40.5),
        ("10 W", 40.0),
        ("10w", 40.0),
        ("500 mW", round(10 * math.log10(500), 2)),
        ("1 kW", 60.0),
        ("10 dBW", 40.0),
        ("−3 dBm", -3.0),
        ("", None),
    ],
)
def test_power_is_taken_in_dbm_and_in_watts(typed: str, dbm: float | None) -> None:
    assert PowerField(required=False).clean(typed) == dbm


@pytest.mark.parametrize("typed", ["ten", "10 V", "0 W", "-5 W", "1e99", "10 W W", "nan", "9" * 40])
def test_a_power_that_cannot_be_meant_is_refused_with_what_was_typed(typed: str) -> None:
    with pytest.raises(ValidationError, match="was typed"):
        PowerField().clean(typed)


@pytest.mark.parametrize(
    ("field", "typed", "hertz"),
    [
        (MegahertzField(), "457.0125", 457_012_500),
        (MegahertzField(), "457,0125 MHz", 457_012_500),
        (MegahertzField(), "-10", -10_000_000),
        (KilohertzField(), "12.5", 12_500),
        (KilohertzField(), "6.25 kHz", 6_250),
    ],
)
def test_frequencies_are_megahertz_and_widths_kilohertz(field: Any, typed: str, hertz: int) -> None:
    assert field.clean(typed) == hertz
    assert field.clean(field.prepare_value(hertz)) == hertz


@pytest.mark.parametrize("typed", ["457.01250001", "4570125000000", "457.0.1", "abc", "1e3", "nan"])
def test_a_frequency_that_cannot_be_meant_is_refused(typed: str) -> None:
    with pytest.raises(ValidationError):
        MegahertzField().clean(typed)


def test_a_figure_takes_a_comma_and_refuses_words_with_an_example() -> None:
    assert FigureField().clean("7,5") == 7.5
    assert FigureField(required=False).clean("  ") is None
    with pytest.raises(ValidationError, match=r"“tall” was typed; a number was expected, for example 12\.5"):
        FigureField().clean("tall")


def test_a_table_of_two_columns_is_read_line_by_line() -> None:
    field = PairsField()

    assert field.clean("0 0\n12.5\t-60\n\n25; -70") == [[0.0, 0.0], [12.5, -60.0], [25.0, -70.0]]
    assert field.clean(field.prepare_value([[0, 0], [6.25, -30.5]])) == [[0.0, 0.0], [6.25, -30.5]]
    with pytest.raises(ValidationError, match=r"Line 2 is “12\.5”; two figures were expected"):
        field.clean("0 0\n12.5")


def test_lists_are_separated_by_commas_spaces_or_lines() -> None:
    assert WordsField().clean("11K0F1D, 8K50F2D\n16K0F1D") == ["11K0F1D", "8K50F2D", "16K0F1D"]
    assert DaysField().clean("90, 30 14") == [90, 30, 14]
    with pytest.raises(ValidationError, match="“soon” was typed; whole days were expected"):
        DaysField().clean("90, soon")


def test_the_same_quantity_has_the_same_decimals_everywhere() -> None:
    assert mhz(457_012_500) == "457.01250"
    assert mhz(457_012_503) == "457.012503"
    assert khz(12_500) == "12.50"
    assert fixed(-0.04, 1) == "0.0"
    assert fixed(-3.25, 1) == "−3.2"
    assert fixed(None, 1) == "–"
    assert watts(40.0) == "10 W"
    assert watts(26.99) == "500 mW"
