"""Budgets from end to end against hand-checked cases, and sums of interferers."""

from __future__ import annotations

import math
from random import Random
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectrum.radio.interference import (
    aggregate_dbm,
    aggregate_per_victim_dbm,
    c_over_i_db,
    c_over_n_plus_i_db,
    i_over_n_db,
    i_over_n_for_degradation_db,
    interference_level_dbm,
    threshold_degradation_db,
)
from spectrum.radio.masks import Mask
from spectrum.radio.noise import noise_floor_dbm
from spectrum.radio.power import eirp_dbm, eirp_to_erp_dbm, w_to_dbm
from spectrum.radio.propagation.free_space import free_space_loss_db
from spectrum.radio.ranges import RadioRangeError
from spectrum.radio.rejection import frequency_dependent_rejection
from tests.reference_tables import project_table

AS_PRINTED = 6e-4
levels = st.lists(st.floats(-250, 60, allow_nan=False), min_size=1, max_size=30)


def test_interference_worked_cases_csv_every_step() -> None:
    for row in project_table("interference_worked_cases.csv"):
        value = {name: float(text) for name, text in row.items() if name != "case"}
        frequency = value["f_MHz"]
        power = float(w_to_dbm(value["P_W"]))
        eirp = float(eirp_dbm(power, value["Lf_tx_dB"], 0, value["Gt_wanted_dBi"]))
        loss_wanted = free_space_loss_db(frequency, value["d_wanted_km"])
        loss_interferer = free_space_loss_db(frequency, value["d_interf_km"]) + value["L_extra_interf_dB"]
        fdr = frequency_dependent_rejection(
            Mask.rectangle(value["Bt_kHz"]), Mask.rectangle(value["Br_kHz"]), value["df_kHz"]
        ).fdr_db
        wanted = interference_level_dbm(
            power,
            value["Lf_tx_dB"],
            value["Gt_wanted_dBi"],
            loss_wanted,
            value["Gr_wanted_dBi"],
            value["Lf_rx_dB"],
        )
        unwanted = interference_level_dbm(
            power,
            value["Lf_tx_dB"],
            value["Gt_to_victim_dBi"],
            loss_interferer,
            value["Gr_to_interferer_dBi"],
            value["Lf_rx_dB"],
            rejection_db=fdr,
        )
        noise = noise_floor_dbm(value["Br_kHz"], value["NF_dB"])
        found: dict[str, Any] = {
            "P_dBm": power,
            "EIRP_wanted_dBm": eirp,
            "ERP_wanted_dBm": eirp_to_erp_dbm(eirp),
            "Lb_wanted_dB": loss_wanted,
            "Lb_interf_dB": loss_interferer,
            "FDR_dB": fdr,
            "C_dBm": wanted,
            "I_dBm": unwanted,
            "N_dBm": noise,
            "C_over_I_dB": c_over_i_db(wanted, unwanted),
            "I_over_N_dB": i_over_n_db(unwanted, noise),
            "TD_dB": threshold_degradation_db(i_over_n_db(unwanted, noise)),
            "C_over_NplusI_dB": c_over_n_plus_i_db(wanted, noise, unwanted),
        }
        for name, result in found.items():
            assert float(result) == pytest.approx(value[name], abs=AS_PRINTED), (row["case"], name)


def test_i_over_n_threshold_degradation_csv() -> None:
    for row in project_table("i_over_n_threshold_degradation.csv"):
        degradation = float(threshold_degradation_db(float(row["I_over_N_dB"])))
        assert degradation == pytest.approx(float(row["TD_dB"]), abs=6e-5)
        assert float(i_over_n_for_degradation_db(degradation)) == pytest.approx(float(row["I_over_N_dB"]))


def test_47_cfr_101_105_one_decibel_is_i_over_n_of_minus_5_868() -> None:
    assert float(i_over_n_for_degradation_db(1.0)) == pytest.approx(-5.868, abs=5e-4)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(levels)
def test_a_sum_is_never_below_its_largest_term_nor_above_all_terms_at_that_level(values: list[float]) -> None:
    total = float(aggregate_dbm(values))
    assert total >= max(values)
    assert total <= max(values) + 10 * math.log10(len(values)) + 1e-9
    watts = sum(10 ** (value / 10) for value in values)
    assert total == pytest.approx(10 * math.log10(watts), abs=1e-9)


@settings(max_examples=40, derandomize=True, deadline=None)
@given(levels, st.randoms(use_true_random=False))
def test_sums_per_victim_equal_sums_one_by_one(values: list[float], random: Random) -> None:
    victim = np.array([random.randrange(4) for _ in values])
    array = np.array(values)
    sums = aggregate_per_victim_dbm(array, victim, 4)
    for number in range(4):
        assert sums[number] == pytest.approx(float(aggregate_dbm(array[victim == number])))


def test_a_sum_of_nothing_is_no_power_and_an_unknown_term_makes_it_unknown() -> None:
    assert float(aggregate_dbm([])) == -math.inf
    assert float(aggregate_dbm([-math.inf, -math.inf])) == -math.inf
    assert math.isnan(float(aggregate_dbm([-100.0, math.nan])))
    sums = aggregate_per_victim_dbm([-100.0, math.nan, -90.0], np.array([0, 1, 0]), 3)
    assert np.isnan(sums).tolist() == [False, True, False]
    assert sums[2] == -math.inf


def test_shapes_axes_and_nan() -> None:
    block = np.full((2, 3, 4), -100.0)
    assert aggregate_dbm(block, axis=0).shape == (3, 4)
    assert aggregate_dbm(block).shape == (2, 3)
    assert np.ndim(threshold_degradation_db(-6)) == np.ndim(i_over_n_db(-100, -126)) == 0
    assert np.isnan(interference_level_dbm(40, 2, 8, [100, np.nan], 8, 2)).tolist() == [False, True]
    assert threshold_degradation_db([-400.0, 400.0, np.nan]) == pytest.approx([0, 400, np.nan], nan_ok=True)


def test_refusals_name_the_argument_its_value_and_its_range() -> None:
    with pytest.raises(RadioRangeError, match="rejection_db is -3"):
        interference_level_dbm(40, 2, 8, 100, 8, 2, 0, -3)
    with pytest.raises(RadioRangeError, match="threshold_degradation_db is 0"):
        i_over_n_for_degradation_db(0)
    with pytest.raises(ValueError, match="one victim for each level"):
        aggregate_per_victim_dbm([-100.0], np.array([0, 1]), 2)
    with pytest.raises(ValueError, match="between 0 and 1"):
        aggregate_per_victim_dbm([-100.0], np.array([2]), 2)
