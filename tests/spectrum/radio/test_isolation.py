"""Isolation between antennas and duplex isolation, against computed tables and facts of the trade."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectrum.radio.isolation import (
    FIELD_DERATING_DB,
    VERTICAL_LIMIT_DB,
    antenna_isolation,
    duplex_isolation_found_db,
    horizontal_isolation_db,
    required_duplex_isolation,
    required_horizontal_separation_m,
    required_separation,
    required_vertical_separation_m,
    slant_isolation_db,
    vertical_isolation_db,
)
from spectrum.radio.propagation.free_space import free_space_loss_db
from spectrum.radio.ranges import RadioRangeError
from tests.reference_tables import project_table

PRINTED = 0.0006  # three decimals


def columns(name, *wanted):
    rows = project_table(name)
    return [np.array([float(row[column]) for row in rows]) for column in wanted]


def test_antenna_isolation_table():
    f, d, h0, h2, h8, v, free = columns(
        "antenna_isolation.csv", "f_MHz", "d_m", "H_0dBi", "H_2x2.15dBi", "H_2x8dBi", "V", "free_space"
    )
    assert horizontal_isolation_db(f, d) == pytest.approx(h0, abs=PRINTED)
    assert horizontal_isolation_db(f, d, 2.15, 2.15) == pytest.approx(h2, abs=PRINTED)
    assert horizontal_isolation_db(f, d, 8.0, 8.0) == pytest.approx(h8, abs=PRINTED)
    assert vertical_isolation_db(f, d) == pytest.approx(v, abs=PRINTED)
    assert free_space_loss_db(f, d / 1e3) == pytest.approx(free, abs=PRINTED)


def test_antenna_isolation_slant_table():
    f, across, up, s = columns("antenna_isolation_slant.csv", "f_MHz", "dh_m", "dv_m", "S_dB")
    assert slant_isolation_db(f, across, up) == pytest.approx(s, abs=PRINTED)
    assert antenna_isolation(f, across, up).formula_db == pytest.approx(s, abs=PRINTED)


def test_antenna_isolation_required_distance_table():
    f, i, h0, h2, v = columns(
        "antenna_isolation_required_distance.csv",
        "f_MHz", "I_dB", "d_horizontal_0dBi_m", "d_horizontal_2x2.15dBi_m", "d_vertical_m",
    )  # fmt: skip
    assert required_horizontal_separation_m(f, i) == pytest.approx(h0, abs=0.006)
    assert required_horizontal_separation_m(f, i, 2.15, 2.15) == pytest.approx(h2, abs=0.006)
    assert required_vertical_separation_m(f, i) == pytest.approx(v, abs=0.006)
    outside = [bool(row["note"]) for row in project_table("antenna_isolation_required_distance.csv")]
    assert (~required_separation(f, i).vertical_within_range).tolist() == outside


def test_duplex_isolation_budget_table():
    """Arithmetic high, inputs assumed: the table names its equipment numbers so."""
    names = (
        "P_dBm", "bw_kHz", "NF_dB", "tx_noise_dBc_Hz", "I_over_N_dB", "blocking_level_dBm",
        "N_dBm", "tx_noise_in_bw_dBm", "need_noise_dB", "need_carrier_dB", "required_dB",
    )  # fmt: skip
    p, bw, nf, sideband, share, blocking, n, tx_noise, noise, carrier, required = columns(
        "duplex_isolation_budget.csv", *names
    )
    found = required_duplex_isolation(p, bw, nf, sideband, share, blocking)
    assert found.receiver_noise_dbm == pytest.approx(n, abs=PRINTED)
    assert found.transmitter_noise_dbm == pytest.approx(tx_noise, abs=0.0011)  # power printed to 0.001
    assert found.for_noise_db == pytest.approx(noise, abs=0.0011)
    assert found.for_blocking_db == pytest.approx(carrier, abs=0.0011)
    assert found.required_db == pytest.approx(required, abs=0.0011)


class TestFactsOfTheTrade:
    """Common practice, no published source."""

    def test_simultaneous_operation_near_410_mhz_takes_at_least_80_db(self):
        """10 MHz between transmit and receive; 25 W, equipment values assumed as in the budget table."""
        need = required_duplex_isolation(43.979, 12.5, 7.0, -140.0, -10.0, -23.0)
        assert 80.0 <= need.required_db <= 82.0

    def test_thirty_metres_of_horizontal_spacing_are_far_from_enough(self):
        """Practice says more than 30 m without a duplexer; the formula gives 54 dB there, 26 dB short."""
        found = antenna_isolation(np.array([410.0, 420.0]), 30.0, 0.0)
        assert (found.isolation_db < 80.0 - 25.0).all()
        need = required_separation(410.0, 80.0)
        assert need.horizontal_m > 500.0
        assert required_horizontal_separation_m(410.0, 80.0, 2.15, 2.15) > 900.0

    def test_the_vertical_formula_cannot_vouch_for_80_db(self):
        assert antenna_isolation(410.0, 0.0, 30.0).isolation_db == VERTICAL_LIMIT_DB
        assert not required_separation(410.0, 80.0).vertical_within_range

    def test_field_note_of_16_db_less_at_five_wavelengths(self):
        """Read in a field note: about 40 dB where the formula gives 56."""
        five = 5 * 299.792458 / 410.0
        assert vertical_isolation_db(410.0, five) - FIELD_DERATING_DB == pytest.approx(40.0, abs=0.1)


class TestJudgedIsolation:
    def test_measured_takes_the_place_of_the_formula(self):
        found = antenna_isolation(410.0, 0.0, [3.0, 30.0], measured_db=[np.nan, 85.0])
        assert found.isolation_db.tolist() == pytest.approx([52.523, 85.0], abs=PRINTED)
        assert found.estimate.tolist() == [True, False]
        assert found.within_range.tolist() == [True, True]
        assert any("Measured" in note for note in found.notes)

    def test_limit_derating_and_estimate_are_stated_on_the_result(self):
        notes = " ".join(antenna_isolation(410.0, 20.0, 10.0).notes)
        for words in ("70 dB", "16 dB less", "from 15 m", "estimate", "interpolated"):
            assert words in notes
        assert "vertical" not in " ".join(antenna_isolation(410.0, 20.0, 0.0).notes)
        assert "horizontal" not in " ".join(antenna_isolation(410.0, 0.0, 20.0).notes)

    def test_range_marks(self):
        mark = lambda *a, **k: bool(antenna_isolation(*a, **k).within_range)  # noqa: E731
        assert mark(410.0, 10.0, 0.0)
        assert not mark(410.0, 10.0, 0.0, 8.0, 8.0)  # gain antennas nearer than 15 m
        assert mark(410.0, 15.0, 0.0, 8.0, 8.0)
        assert not mark(410.0, 0.5, 0.0)  # nearer than a wavelength
        assert not mark(410.0, 0.0, 10.0)  # 73 dB by the formula

    def test_one_direction_only_is_that_formula(self):
        assert antenna_isolation(410.0, 30.0, 0.0).formula_db == horizontal_isolation_db(410.0, 30.0)
        assert antenna_isolation(410.0, 0.0, 3.0).formula_db == vertical_isolation_db(410.0, 3.0)

    @settings(max_examples=100, derandomize=True)
    @given(st.floats(1.0, 1e3), st.floats(1.0, 1e3), st.floats(100.0, 3000.0))
    def test_never_above_the_formula(self, across, up, frequency):
        found = antenna_isolation(frequency, across, up)
        assert found.isolation_db <= found.formula_db + 1e-9


def test_duplex_isolation_found_adds_filters_and_spacing():
    assert duplex_isolation_found_db(75.0) == 75.0
    assert duplex_isolation_found_db(30.0, 54.3) == pytest.approx(84.3)
    assert np.isnan(duplex_isolation_found_db(np.nan, 54.3))


@settings(max_examples=100, derandomize=True)
@given(st.floats(30.0, 3000.0), st.floats(0.5, 2000.0))
def test_separation_inverts_isolation(frequency, distance):
    assert required_horizontal_separation_m(
        frequency, horizontal_isolation_db(frequency, distance, 3.0, 5.0), 3.0, 5.0
    ) == pytest.approx(distance)
    assert required_vertical_separation_m(
        frequency, vertical_isolation_db(frequency, distance)
    ) == pytest.approx(distance)


@pytest.mark.parametrize(
    ("function", "arguments"),
    [
        (horizontal_isolation_db, (410.0, 30.0)),
        (vertical_isolation_db, (410.0, 30.0)),
        (slant_isolation_db, (410.0, 30.0, 5.0)),
        (required_horizontal_separation_m, (410.0, 60.0)),
        (required_vertical_separation_m, (410.0, 60.0)),
        (lambda *a: antenna_isolation(*a).isolation_db, (410.0, 30.0, 5.0)),
        (lambda *a: required_separation(*a).vertical_m, (410.0, 60.0)),
        (lambda p, w: required_duplex_isolation(p, w, 7.0, -140.0, -6.0, -23.0).required_db, (40.0, 12.5)),
    ],
)
def test_scalar_array_and_nan(function, arguments):
    alone = function(*arguments)
    assert np.ndim(alone) == 0
    *rest, last = arguments
    many = function(*rest, np.array([last, np.nan]))
    assert many[0] == pytest.approx(alone)
    assert np.isnan(many[1])


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: horizontal_isolation_db(410.0, 0.0), "distance_m"),
        (lambda: vertical_isolation_db(-1.0, 3.0), "frequency_mhz"),
        (lambda: antenna_isolation(410.0, 0.0, 0.0), "together"),
        (lambda: required_duplex_isolation(40.0, 12.5, 7.0, 3.0, -6.0, -23.0), "tx_noise_dbc_per_hz"),
        (lambda: duplex_isolation_found_db(-1.0), "duplexer_isolation_db"),
    ],
)
def test_out_of_range_is_named(call, argument):
    with pytest.raises(RadioRangeError, match=argument):
        call()
