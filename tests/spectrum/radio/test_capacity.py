"""Bit rate, delay and the choice of a mode."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectrum.radio.capacity import (
    Mode,
    gross_bit_rate_kbps,
    modulation_order,
    narrowest_mode,
    narrowest_mode_index,
    round_trip_delay_ms,
)
from spectrum.radio.ranges import RadioRangeError


class TestFactsOfTheTrade:
    """Common practice, no published source."""

    def test_256_qam_uncoded_in_300_khz_gives_about_3400_kbps_both_ways_together(self):
        """Roll-off 0.4 is assumed; the usual 0.35 to 0.45 stay within 4 %."""
        assert 2 * gross_bit_rate_kbps(300.0, 256, 0.4) == pytest.approx(3400, rel=0.01)
        assert 2 * gross_bit_rate_kbps(300.0, 256, [0.35, 0.45]) == pytest.approx(3400, rel=0.05)

    def test_wider_and_denser_is_faster_and_coding_is_slower(self):
        assert (np.diff(gross_bit_rate_kbps([12.5, 25.0, 50.0, 300.0], 16, 0.35)) > 0).all()
        assert (np.diff(gross_bit_rate_kbps(25.0, 2 ** np.arange(1, 9), 0.35)) > 0).all()
        assert (np.diff(gross_bit_rate_kbps(25.0, 16, 0.35, [0.5, 0.75, 1.0])) > 0).all()

    def test_the_round_trip_of_such_a_link_stays_under_20_ms(self):
        """1500 octets over 60 km, with an assumed 2 ms of radio delay one way."""
        rate_kbps = gross_bit_rate_kbps(300.0, 256, 0.4)
        assert round_trip_delay_ms(2.0, 60.0, 1500, rate_kbps) < 20.0


def test_gross_bit_rate_is_symbol_rate_times_bits_times_code_rate():
    """25 kHz, roll-off 0.25: 20 000 symbols per second; 16-QAM 4 bits; rate 3/4: 60 kbit/s."""
    assert gross_bit_rate_kbps(25.0, 16, 0.25, 0.75) == pytest.approx(60.0)


@pytest.mark.parametrize(
    ("name", "order"),
    [
        ("BPSK", 2),
        ("qpsk", 4),
        ("π/4-DQPSK", 4),
        ("pi/4 DQPSK", 4),
        ("8-PSK", 8),
        ("8-DPSK", 8),
        ("16QAM", 16),
        ("QAM-64", 64),
        ("256-QAM", 256),
        ("32-APSK", 32),
    ],
)
def test_modulation_order(name, order):
    assert modulation_order(name) == order


@pytest.mark.parametrize("name", ["4-FSK", "GMSK", "QAM", "12-QAM", "8192-QAM", "1-PSK", ""])
def test_modulations_whose_rate_does_not_follow_are_refused(name):
    with pytest.raises(ValueError, match="for example 16-QAM"):
        modulation_order(name)


def test_scalar_array_and_nan():
    assert np.ndim(gross_bit_rate_kbps(25.0, 16, 0.25)) == 0
    many = gross_bit_rate_kbps([25.0, np.nan], 16, 0.25)
    assert many[0] == 80.0
    assert np.isnan(many[1])
    assert np.isnan(round_trip_delay_ms([np.nan, 1.0])).tolist() == [True, False]


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        ((0.0, 16, 0.25), "channel_width_khz"),
        ((25.0, 1, 0.25), "modulation_order"),
        ((25.0, 16, 1.5), "roll_off"),
        ((25.0, 16, 0.25, 0.0), "code_rate"),
    ],
)
def test_out_of_range_is_named(arguments, named):
    with pytest.raises(RadioRangeError, match=named):
        gross_bit_rate_kbps(*arguments)


values = st.sampled_from([6.25, 12.5, 25.0, 50.0])
modes_of_a_radio = st.lists(
    st.tuples(values, st.integers(1, 6).map(float), st.integers(1, 6).map(float)), min_size=0, max_size=8
)


@settings(max_examples=150, derandomize=True)
@given(modes_of_a_radio, st.integers(1, 7).map(float), st.integers(1, 7).map(float))
def test_no_narrower_mode_serves(rows, rate, delay):
    modes = [Mode(str(i), *row) for i, row in enumerate(rows)]
    serving = [m for m in modes if m.bit_rate_kbps >= rate and m.one_way_delay_ms <= delay]
    choice = narrowest_mode(modes, rate, delay)
    if not serving:
        assert choice.mode is None
        assert choice.sentence.startswith("No mode serves")
        return
    assert choice.mode in serving
    assert choice.mode.channel_width_khz == min(m.channel_width_khz for m in serving)
    same_width = [m for m in serving if m.channel_width_khz == choice.mode.channel_width_khz]
    assert choice.mode.bit_rate_kbps == min(m.bit_rate_kbps for m in same_width)


def test_what_is_missing_is_said():
    modes = [Mode("A", 12.5, 9.6, 20.0), Mode("B", 25.0, 64.0, 8.0)]
    assert "the quickest takes 8 ms one way, 5 ms are allowed" in narrowest_mode(modes, 64.0, 5.0).sentence
    assert narrowest_mode([], 64.0, 5.0).sentence == "No mode serves: the radio has none."


def test_many_requirements_at_once_and_nan():
    found = narrowest_mode_index([25.0, 12.5], [64.0, 9.6], [8.0, 20.0], [[9.6, 64.0], [65.0, np.nan]], 30.0)
    assert found.tolist() == [[1, 0], [-1, -1]]
