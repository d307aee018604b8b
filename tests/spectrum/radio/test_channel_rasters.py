"""Channel rasters against 47 CFR 101.147(b), 90.35(b)(3), CEPT T/R 25-02 and ITU-R arrangements."""

from __future__ import annotations

from collections import defaultdict
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectrum.radio.channel_rasters import channel_frequencies_hz, nearest_channel, on_raster
from tests.reference_tables import project_table


def hz(mhz):
    whole = Decimal(mhz) * 1_000_000
    assert whole == int(whole)
    return int(whole)


def by_plan(rows, key="plan"):
    plans = defaultdict(list)
    for row in rows:
        plans[row[key]].append(row)
    return plans


def test_47_cfr_101_147_b_tables():
    """Every plan: first channel, step and duplex spacing of its first rows give all its rows."""
    plans = by_plan(project_table("channel_plan_cfr101_147.csv"))
    assert len(plans) == 13
    for plan, rows in plans.items():
        go = [hz(row["f_MHz"]) for row in rows]
        back = [hz(row["f_pair_MHz"]) for row in rows]
        pair = channel_frequencies_hz(go[0], go[1] - go[0], len(go), back[0] - go[0])
        assert pair.go_hz.tolist() == go, plan
        assert pair.return_hz.tolist() == back, plan
        assert on_raster(go, go[0], go[1] - go[0], len(go)).all()


def test_47_cfr_101_147_b_published_constants():
    """First channels, steps and counts as the rule's tables state them."""
    for first, step, count, duplex, last in [
        ("928.00625", 12_500, 28, 24_000_000, "928.34375"),
        ("928.0125", 25_000, 14, 24_000_000, "928.3375"),
        ("928.35625", 12_500, 40, 24_000_000, "928.84375"),
        ("928.85625", 12_500, 12, 31_000_000, "928.99375"),
        ("932.25625", 12_500, 20, 9_000_000, "932.49375"),
        ("956.6", 100_000, 32, -3_600_000, "959.7"),
        ("957.15", 400_000, 6, -3_600_000, "959.15"),
    ]:
        pair = channel_frequencies_hz(hz(first), step, count, duplex)
        assert pair.go_hz[-1] == hz(last)
        assert (pair.return_hz - pair.go_hz == duplex).all()
    # the copy that was read prints 928.36875 twice in row 2 of its Table 3; the raster has 952.36875
    assert channel_frequencies_hz(hz("928.35625"), 12_500, 40, 24_000_000).return_hz[1] == hz("952.36875")


def test_47_cfr_101_147_b_table_9_irregular_50_khz_list():
    rows = project_table("channel_plan_cfr101_147_table9_50k.csv")
    for row in rows:
        pair = channel_frequencies_hz(hz(row["tx_MHz"]), 50_000, 1, hz(row["duplex_MHz"]))
        assert pair.return_hz.tolist() == [hz(row["rx_MHz"])]
    listed = [hz(row["tx_MHz"]) for row in rows]
    assert on_raster(listed, hz("932.70"), 50_000, 540).all()
    assert not on_raster(np.add(listed, 25_000), hz("932.70"), 50_000, 540).any()


def test_47_cfr_90_35_b_3_raster():
    """6.25 kHz steps from 451.00625 MHz; the +5 MHz pair is from memory."""
    rows = project_table("channel_plan_cfr90_35_451.csv")
    pair = channel_frequencies_hz(hz("451.00625"), 6_250, len(rows), 5_000_000)
    assert pair.go_hz.tolist() == [hz(row["f_MHz"]) for row in rows]
    assert pair.return_hz.tolist() == [hz(row["pair_MHz"]) for row in rows]
    assert len(rows) == 130
    for spacing, grids in [(25_000, {"25k-grid"}), (12_500, {"25k-grid", "12.5k-grid"})]:
        inside = on_raster(pair.go_hz, 451_000_000, spacing, 40_000_000 // spacing)
        assert inside.tolist() == [row["grid"] in grids for row in rows]


def test_cept_t_r_25_02_nominal_raster():
    for base, rows in by_plan(project_table("cept_tr25_02_nominal_raster.csv"), "base_MHz").items():
        step = int(Decimal(rows[0]["step_kHz"]) * 1000)
        raster = channel_frequencies_hz(hz(base), step, 101).go_hz
        for row in rows:
            assert raster[int(row["n"])] == hz(row["f_MHz"])
            assert nearest_channel(hz(row["f_MHz"]), hz(base), step, 101).number == int(row["n"])


def test_itu_r_and_3gpp_arrangements():
    """Rows of F.637, F.595, F.387, F.746 (1997 editions) and TS 45.005: first row and step give the others."""
    spacing = {
        "F.637-2 23 GHz 112 MHz": 112_000_000,
        "F.637-2 23 GHz 28 MHz": 28_000_000,
        "F.595-4 18 GHz 110 MHz": 110_000_000,
        "F.387-7 11 GHz 40 MHz": 40_000_000,
        "F.746-3 An.5 14.25-14.5 GHz 7 MHz": 7_000_000,
        "GSM450 ARFCN (3GPP TS 45.005) 200 kHz": 200_000,
        "GSM480 ARFCN 200 kHz": 200_000,
    }
    plans = by_plan(project_table("channel_plan_formula_examples.csv"))
    assert set(plans) == set(spacing)
    for plan, rows in plans.items():
        first = int(rows[0]["n"])
        count = int(rows[-1]["n"]) - first + 1
        pair = channel_frequencies_hz(hz(rows[0]["fn_MHz"]), spacing[plan], count, hz(rows[0]["duplex_MHz"]))
        for row in rows:
            n = int(row["n"]) - first
            assert pair.go_hz[n] == hz(row["fn_MHz"]), plan
            assert pair.return_hz[n] == hz(row["fn_prime_MHz"]), plan


@settings(max_examples=200, derandomize=True)
@given(
    st.integers(1, 10**9),
    st.integers(1, 30_000),
    st.integers(1, 200),
    st.lists(st.integers(1, 10**9 + 10**7), min_size=1, max_size=20),
)
def test_no_channel_is_nearer(first, spacing, count, frequencies):
    raster = channel_frequencies_hz(first, spacing, count).go_hz
    found = nearest_channel(frequencies, first, spacing, count)
    distances = np.abs(np.subtract.outer(np.array(frequencies), raster))
    assert np.abs(found.offset_hz).tolist() == distances.min(axis=1).tolist()
    assert found.number.tolist() == distances.argmin(axis=1).tolist()  # the first of two equals is the lower
    assert found.channel_hz.tolist() == raster[found.number].tolist()


class TestFactsOfTheTrade:
    """Common practice, no published source."""

    def test_25_khz_is_the_usual_channel_and_10_mhz_lie_between_go_and_return_near_410_to_420_mhz(self):
        """200 channels of 25 kHz fill the lower half of 5 MHz; each return lies 10 MHz up, on the same raster."""
        plan = channel_frequencies_hz(410_012_500, 25_000, 200, 10_000_000)
        assert int(plan.go_hz[-1]) == 414_987_500
        assert (plan.return_hz - plan.go_hz == 10_000_000).all()
        assert on_raster(plan.return_hz, 420_012_500, 25_000, 200).all()
        assert not on_raster(plan.go_hz + 12_500, 410_012_500, 25_000, 200).any()


def test_scalar_and_array():
    alone = nearest_channel(451_013_000, 451_006_250, 6_250, 130)
    assert [np.ndim(part) for part in alone] == [0, 0, 0]
    grid = nearest_channel([[451_013_000], [451_006_250]], 451_006_250, 6_250, 130)
    assert grid.offset_hz.tolist() == [[500], [0]]


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (
            lambda: channel_frequencies_hz(451_006_250.5, 6_250, 1),  # type: ignore[arg-type]
            "first_go_hz holds 451006250.5",
        ),
        (lambda: channel_frequencies_hz(451_006_250, 0, 1), "spacing_hz holds 0"),
        (lambda: channel_frequencies_hz(451_006_250, 6_250, 0), "count is 0"),
        (lambda: channel_frequencies_hz(1_000, 6_250, 1, -1_000), "return frequency above 0"),
        (lambda: nearest_channel(np.nan, 451_006_250, 6_250, 1), "frequency_hz holds nan"),
    ],
)
def test_wrong_arguments_are_named(call, said):
    with pytest.raises(ValueError, match=said):
        call()
