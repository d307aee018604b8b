"""Multipath fading against the P.530-18 rows and the (corrected) P.530-17 rows."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectrum.radio.propagation.p530 import (
    OutOfRange,
    deep_fade_exceedance_percent,
    deep_fade_limit_db,
    fade_depth_for_outage_db,
    fade_exceedance_percent,
    multipath_occurrence,
)
from spectrum.radio.ranges import RadioRangeError
from tests.reference_tables import project_table
from tests.spectrum.radio.propagation.columns import column


def test_p530_18_single_frequency_table():
    """Formula read in an open implementation that its author calls untested; values computed from it."""
    rows = project_table("p530_18_single_frequency.csv")
    p0 = multipath_occurrence(
        1e3 * column(rows, "f_GHz"),
        column(rows, "d_km"),
        column(rows, "he_m"),
        column(rows, "hr_m"),
        column(rows, "ht_m"),
        column(rows, "logK"),
        column(rows, "dN75"),
    )
    assert (p0.reason == OutOfRange.NO).all()
    pw = deep_fade_exceedance_percent(p0.occurrence_percent, column(rows, "A_dB"))
    assert np.allclose(pw, column(rows, "pw_percent"), rtol=1e-6, atol=0.0)


def test_p530_17_itur_table_all_depths():
    """Deep and shallow fades; where itur 0.4.0 is wrong, the column corrected from memory of the formula."""
    rows = project_table("p530_17_itur.csv")
    p0, depth = column(rows, "p0_percent"), column(rows, "A_dB")
    assert np.allclose(deep_fade_limit_db(p0), column(rows, "At_dB"), atol=6e-5)
    assert np.allclose(
        fade_exceedance_percent(p0, depth), column(rows, "pw_2.3.2_corrected_percent"), rtol=2e-6
    )
    assert np.allclose(deep_fade_exceedance_percent(p0, depth), column(rows, "pw_2.3.1_percent"), rtol=2e-6)


def test_the_public_library_is_wrong_where_the_table_says_so():
    rows = [row for row in project_table("p530_17_itur.csv") if row["itur_2.3.2_wrong"] == "yes"]
    mine = fade_exceedance_percent(column(rows, "p0_percent"), column(rows, "A_dB"))
    assert (column(rows, "pw_2.3.2_percent") > 10.0 * mine).all()


occurrences = st.floats(0.001, 1500.0)


@settings(derandomize=True, max_examples=100, deadline=None)
@given(occurrences)
def test_no_step_where_the_two_formulas_meet(p0):
    limit = float(deep_fade_limit_db(p0))
    below, above = fade_exceedance_percent(p0, [limit - 1e-7, limit + 1e-7])
    assert below == pytest.approx(above, rel=1e-4)


@settings(derandomize=True, max_examples=100, deadline=None)
@given(occurrences, st.floats(-6.0, 1.0))
def test_the_margin_for_an_outage_gives_that_outage(p0, exponent):
    outage = 10.0**exponent
    depth = fade_depth_for_outage_db(p0, outage)
    assert fade_exceedance_percent(p0, depth) == pytest.approx(outage, rel=1e-6)


@pytest.mark.parametrize(
    ("frequency", "distance", "reason"),
    [
        (7500.0, 4.9, OutOfRange.PATH_SHORT),
        (7500.0, 241.0, OutOfRange.PATH_LONG),
        (420.0, 60.0, OutOfRange.FREQUENCY_LOW),
        (900.0, 15.0, OutOfRange.FREQUENCY_LOW),
        (46_000.0, 15.0, OutOfRange.FREQUENCY_HIGH),
        (7500.0, 120.0, OutOfRange.BELOW_TERRAIN),
        (1400.0, 25.0, OutOfRange.NO),
    ],
)
def test_outside_its_range_it_says_why_and_gives_no_number(frequency, distance, reason):
    p0 = multipath_occurrence(frequency, distance, 150.0, 150.0, 50.0, -3.0, 50.0)
    assert p0.reason == reason
    assert np.isnan(p0.occurrence_percent) == (reason != OutOfRange.NO)
    assert reason.sentence.endswith(".")


def test_unknown_in_unknown_out():
    assert np.isnan(multipath_occurrence(7500.0, 40.0, np.nan, 200.0, 100.0, -3.0, 50.0).occurrence_percent)
    assert np.isnan(fade_exceedance_percent([np.nan, 1.0], 20.0)).tolist() == [True, False]
    assert np.isnan(fade_depth_for_outage_db([np.nan, 1.0], 0.01)).tolist() == [True, False]


def test_a_negative_fade_is_refused_by_name():
    with pytest.raises(RadioRangeError, match="fade_depth_db is -1"):
        fade_exceedance_percent(1.0, -1.0)
