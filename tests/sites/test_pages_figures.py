"""Form fields read figures as engineers write them. Watts and dBm: 10·lg(P / 1 mW), by definition."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from sites.forms.figures import (
    AmountField,
    DaysField,
    FigureField,
    KilohertzField,
    MegahertzField,
    PairsField,
    PowerField,
    WholeField,
    WordsField,
)
from sites.models import Person
from sites.reading import as_read_by
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


GERMAN = Person(username="g", formats="de", power_unit="W")
COMMA = Person(username="c", formats="de")


@pytest.mark.parametrize("typed", ["12,5", "12.5", "+12,50", "12.5000"])
def test_both_decimal_signs_are_taken_whoever_types(typed: str) -> None:
    for person in (None, GERMAN):
        with as_read_by(person):
            assert FigureField().clean(typed) == 12.5


@pytest.mark.parametrize(
    ("person", "typed", "large", "small"),
    [
        (GERMAN, "1.500", "1500", "1,5"),
        (GERMAN, "-457.125", "-457125", "-457,125"),
        (GERMAN, "10.000", "10000", "10"),
        (None, "1,500", "1500", "1.5"),
        (None, "457,125", "457125", "457.125"),
    ],
)
def test_what_could_be_a_sign_between_thousands_is_asked_again_with_both_meanings(
    person: Person | None, typed: str, large: str, small: str
) -> None:
    for field in (FigureField(), MegahertzField(), AmountField()):
        with as_read_by(person), pytest.raises(ValidationError) as refused:
            field.clean(typed)
        assert refused.value.messages == [f"“{typed}” can mean {large} or {small}. Type one of these two."]
    with as_read_by(person):
        assert FigureField().clean(large) == float(large)
        assert FigureField().clean(small) == float(small.replace(",", "."))


@pytest.mark.parametrize(
    ("person", "typed", "value"),
    [
        (GERMAN, "1,500", 1.5),  # their own decimal sign
        (None, "1.500", 1.5),
        (GERMAN, "0.125", 0.125),  # no thousand begins with nought
        (GERMAN, "457.0125", 457.0125),  # nor has four figures
        (GERMAN, "1234.567", 1234.567),
    ],
)
def test_what_has_one_meaning_is_not_asked_again(person: Person | None, typed: str, value: float) -> None:
    with as_read_by(person):
        assert FigureField().clean(typed) == value


def test_a_whole_number_is_not_read_as_a_thousandth_of_itself() -> None:
    with as_read_by(GERMAN), pytest.raises(ValidationError, match="can mean 1000 or 1"):
        WholeField().clean("1.000")


@pytest.mark.parametrize("person", [None, GERMAN, COMMA])
@pytest.mark.parametrize(
    ("field", "stored"),
    [
        (FigureField(), -104.25),
        (FigureField(), 1.125),
        (MegahertzField(), 457_125_000),
        (MegahertzField(), 457_012_506),
        (KilohertzField(), 12_500),
        (AmountField(max_digits=12, decimal_places=2), Decimal("1490.00")),
        (PairsField(), [[0.0, 0.0], [12.125, -60.0]]),
        *((PowerField(), dbm) for dbm in (-30.0, 0.0, 23.01, 36.99, 37.0, 43.85, 60.0)),
    ],
)
def test_what_a_form_shows_is_read_back_as_it_was_stored(
    field: Any, stored: Any, person: Person | None
) -> None:
    """Saving a form without touching it changes nothing, however the person reads."""
    with as_read_by(person):
        assert field.clean(field.prepare_value(stored)) == stored


def test_forms_show_figures_and_powers_as_their_reader_writes_them() -> None:
    with as_read_by(GERMAN):
        assert FigureField().prepare_value(12.5) == "12,5"
        assert MegahertzField().prepare_value(457_012_500) == "457,01250"
        assert PowerField().prepare_value(37.0) == "5,0119 W"
        assert PowerField().prepare_value(-30.0) == "0,000001 W"
        assert PairsField().prepare_value([[12.5, -60.0]]) == "12,5 -60"
    assert PowerField().prepare_value(37.0) == "37.0"


def test_a_power_without_unit_is_dbm_but_not_from_somebody_who_reads_watts() -> None:
    with as_read_by(COMMA):
        assert PowerField().clean("37") == 37.0
    with as_read_by(GERMAN):
        assert PowerField().clean("37 dBm") == 37.0
        with pytest.raises(ValidationError, match=r"“5” has no unit\. Type 5 W or 5 dBm"):
            PowerField().clean(" 5 ")
