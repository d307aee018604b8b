"""Emission designators against 47 CFR 2.201 and 2.202 (RR Appendix 1, ITU-R SM.1138)."""

from __future__ import annotations

import json
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from licences.emissions import (
    EmissionFormatError,
    bandwidth_code,
    bandwidth_hz,
    explain,
    parse,
    permits,
    width_in_words,
)
from licences.emissions.symbols import DETAIL, INFORMATION, MODULATION, MULTIPLEX, SIGNAL
from tests.reference_tables import PROJECT_TABLES, project_table


def test_bandwidth_codes_of_47_cfr_2_202_b_3():
    for row in project_table("emission_bandwidth_codes.csv"):
        assert bandwidth_code(float(row["bandwidth_Hz"])) == row["code"]
        assert bandwidth_hz(row["code"]) == pytest.approx(float(row["bandwidth_Hz"]), rel=0.005)


@pytest.mark.parametrize(
    ("width_hz", "code"),
    [
        (25.3, "25H3"),  # 47 CFR 2.202(b)(3)
        (1.25e6, "1M25"),  # 47 CFR 2.202(b)(3)
        (202e6, "202M"),  # 47 CFR 2.202(b)(3)
        # our own cases: the carry after rounding, and the binary residue of a computed width
        (999.6, "1K00"),
        (999_499, "999K"),
        (999_500, "1M00"),
        (0.9996, "1H00"),
        (9.996, "10H0"),
        (0.001, "H001"),
        (999e9, "999G"),
        (180_499.99999999997, "181K"),
    ],
)
def test_bandwidth_code_carries_and_rounds_half_up(width_hz, code):
    assert bandwidth_code(width_hz) == code


@pytest.mark.parametrize("width_hz", [0.0, -1.0, 0.0004, 999.6e9, float("nan"), float("inf")])
def test_bandwidth_outside_the_published_range_is_refused(width_hz):
    with pytest.raises(ValueError, match=r"bandwidth_hz is .* between 0\.001 Hz and 999 GHz"):
        bandwidth_code(width_hz)


def test_symbols_are_those_of_47_cfr_2_201_and_rr_appendix_1():
    """First to third and fifth symbol as read; the fourth from memory in both places."""
    published = json.loads((PROJECT_TABLES / "emission_symbols.json").read_text())
    assert set(MODULATION) == set(published["first"])
    assert set(SIGNAL) == set(published["second"])
    assert set(INFORMATION) == set(published["third"])
    assert set(DETAIL) == set(published["fourth_from_memory"])
    assert set(MULTIPLEX) == set(published["fifth"])


bandwidth_codes = st.floats(min_value=0.001, max_value=998e9).map(bandwidth_code)
classes = st.tuples(
    st.sampled_from(sorted(MODULATION)), st.sampled_from(sorted(SIGNAL)), st.sampled_from(sorted(INFORMATION))
).map("".join)
tails = st.one_of(
    st.just(""),
    st.sampled_from(sorted(DETAIL)),
    st.tuples(st.sampled_from([*sorted(DETAIL), "-"]), st.sampled_from(sorted(MULTIPLEX))).map("".join),
)


@settings(max_examples=200, derandomize=True)
@given(bandwidth_codes, classes, tails)
def test_what_is_read_is_written_again(code, symbols, tail):
    assert str(parse(code + symbols + tail)) == code + symbols + tail


@settings(max_examples=500, derandomize=True)
@given(st.text(alphabet="0123579HKMGADFEWXYZ-", max_size=10))
def test_accepts_exactly_what_the_published_expression_accepts(text):
    """The expression in emission_symbols.json has no dash for a missing symbol, which we read besides."""
    expression = json.loads((PROJECT_TABLES / "emission_symbols.json").read_text())["regex"]
    if "-" in text or text.startswith("H000"):
        return
    try:
        parse(text)
        accepted = True
    except EmissionFormatError:
        accepted = False
    assert accepted == bool(re.match(expression, text))


@pytest.mark.parametrize(
    ("text", "said", "position"),
    [
        ("", "it is empty", None),
        ("16K0", "the first class symbol (type of modulation) is missing", None),
        ("16K0F3", "the third class symbol (type of information) is missing", None),
        ("5M00K7", "the third class symbol (type of information) is missing", None),
        ("45M0W", "the second class symbol (nature of the modulating signal) is missing", None),
        ("K160F3E", "character 1 is 'K'", 0),
        ("0K50F3E", "character 1 is '0'", 0),
        ("1600F3E", "'1600' has no unit", None),
        ("1K6MF3E", "character 4 is 'M'", 3),
        ("16X0F3E", "character 3 is 'X'", 2),
        ("H000F3E", "zero", None),
        ("16K0E3E", "character 5 is 'E'", 4),
        ("16K0F4E", "character 6 is '4'", 5),
        ("16K0F3Q", "character 7 is 'Q'", 6),
        ("16K0F3EZ", "character 8 is 'Z'", 7),
        ("16K0F3EJZ", "character 9 is 'Z'", 8),
        ("16K0F3EJNN", "character 10 is 'N'", 9),
        ("16²0F3E", "character 3 is '²'", 2),
    ],
)
def test_errors_name_the_character_and_what_was_expected(text, said, position):
    with pytest.raises(EmissionFormatError) as caught:
        parse(text)
    assert said in str(caught.value)
    assert "for example 16K0F3E" in str(caught.value)
    assert caught.value.position == position


def test_small_letters_and_blanks_are_read():
    assert str(parse(" 16k0 f3e jn ")) == "16K0F3EJN"


def test_explains_every_stated_symbol():
    said = explain("25K0D7WET")
    for words in ("25 kHz", MODULATION["D"], SIGNAL["7"], INFORMATION["W"], DETAIL["E"], MULTIPLEX["T"]):
        assert words in said
    assert explain("16K0F3E--").startswith("16K0F3E:")


def test_width_in_words():
    assert [width_in_words(hz) for hz in (0.002, 400, 12_500, 2e6, 5.65e9)] == [
        "0.002 Hz",
        "400 Hz",
        "12.5 kHz",
        "2 MHz",
        "5.65 GHz",
    ]


class TestPermits:
    """That the class must be equal and the width not wider: common practice, no published source."""

    def test_same_class_and_narrower_is_covered(self):
        found = permits(["25K0D7W", "16K0F3E"], "12K5D7W")
        assert (found.within, found.permitted, found.bandwidth_margin_hz) == (True, "25K0D7W", 12_500)

    def test_wider_is_not_covered_and_the_excess_is_said(self):
        found = permits(["11K0F3E"], "16K0F3E")
        assert found.within is False
        assert found.bandwidth_margin_hz == -5000
        assert "16 kHz is 5 kHz wider than the permitted 11 kHz" in found.sentence

    def test_another_class_is_not_covered_and_the_symbol_is_named(self):
        found = permits(["16K0F3E"], "16K0G3E")
        assert found.within is False
        assert "first symbol (type of modulation) is G, phase modulation" in found.sentence

    def test_symbols_the_licence_leaves_out_do_not_bind(self):
        assert permits(["25K0D7W"], "25K0D7WET").within is True

    def test_symbols_the_emission_leaves_out_cannot_be_judged(self):
        found = permits(["25K0D7WET"], "25K0D7W")
        assert found.within is None
        assert "fourth symbol (details of the signal) is left out" in found.sentence
        assert permits(["25K0D7WET"], "26K0D7W").within is False

    def test_the_nearest_is_of_the_same_class(self):
        assert permits(["20K0G3E", "11K0F3E"], "16K0F3E").permitted == "11K0F3E"
        assert permits(["20K0G2E", "20K0G3E"], "16K0F3E").permitted == "20K0G3E"

    def test_an_empty_list_cannot_be_judged(self):
        assert permits([], "16K0F3E").within is None

    def test_an_entry_that_is_no_designator_is_an_error(self):
        with pytest.raises(EmissionFormatError, match="F3E"):
            permits(["F3E"], "16K0F3E")
