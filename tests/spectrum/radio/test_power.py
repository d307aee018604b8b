"""Power, e.i.r.p. and limits against tables and their own definitions."""

from __future__ import annotations

import numpy as np
import pytest

from spectrum.radio.power import (
    dbm_to_dbw,
    dbm_to_w,
    dbw_to_dbm,
    eirp_dbm,
    eirp_to_erp_dbm,
    erp_to_eirp_dbm,
    margin_to_limit_db,
    power_as_limited_dbm,
    short_path_eirp_limit_dbw,
    w_to_dbm,
)
from spectrum.radio.ranges import RadioRangeError
from tests.reference_tables import project_table

AS_PRINTED = 6e-5


def test_eirp_erp_csv_radio_regulations_1_161_and_1_162() -> None:
    for row in project_table("eirp_erp.csv"):
        power = float(w_to_dbm(float(row["P_W"])))
        eirp = float(eirp_dbm(power, float(row["Lf_dB"]), 0, float(row["G_dBi"])))
        erp = float(eirp_to_erp_dbm(eirp))
        assert power == pytest.approx(float(row["P_dBm"]), abs=AS_PRINTED)
        assert eirp == pytest.approx(float(row["EIRP_dBm"]), abs=AS_PRINTED)
        assert erp == pytest.approx(float(row["ERP_dBm"]), abs=AS_PRINTED)
        assert float(dbm_to_w(eirp)) == pytest.approx(float(row["EIRP_W"]), abs=AS_PRINTED)
        assert float(dbm_to_w(erp)) == pytest.approx(float(row["ERP_W"]), abs=AS_PRINTED)
        assert float(erp_to_eirp_dbm(erp)) == pytest.approx(eirp, abs=1e-12)


def test_cfr101_143_short_path_eirp_csv() -> None:
    for row in project_table("cfr101_143_short_path_eirp.csv"):
        limit = short_path_eirp_limit_dbw(float(row["MAXEIRP_dBW"]), float(row["A_km"]), float(row["B_km"]))
        assert float(limit) == pytest.approx(float(row["EIRP_max_dBW"]), abs=AS_PRINTED)


def test_one_station_against_one_figure_in_three_kinds() -> None:
    margin = margin_to_limit_db(40, 2, 8, 44, ["tx_output", "erp", "eirp"])
    assert margin == pytest.approx([4, 0.15, -2])


def test_watts_and_decibels_are_each_others_inverse() -> None:
    power = np.array([1e-9, 0.2, 10.0, 2500.0, np.nan])
    np.testing.assert_allclose(dbm_to_w(w_to_dbm(power)), power, rtol=1e-12)
    np.testing.assert_allclose(dbm_to_dbw(dbw_to_dbm(power)), power, atol=1e-12)


def test_nan_and_shapes() -> None:
    assert np.ndim(w_to_dbm(10)) == np.ndim(eirp_dbm(40, 2, 0, 8)) == 0
    assert eirp_dbm(np.zeros((3, 1)), [0.0, 1.0], 0, 8).shape == (3, 2)
    np.testing.assert_array_equal(np.isnan(margin_to_limit_db([np.nan, 40], 2, 8, 44, "erp")), [1, 0])
    assert np.isnan(short_path_eirp_limit_dbw(55, 17, np.nan))
    assert float(power_as_limited_dbm(40, 2, np.nan, "tx_output")) == 40  # the gain is not part of it


def test_refusals_name_the_argument_its_value_and_its_range() -> None:
    with pytest.raises(RadioRangeError, match="power_w is 0"):
        w_to_dbm([1, 0])
    with pytest.raises(RadioRangeError, match="feeder_loss_db is -1"):
        eirp_dbm(40, -1, 0, 8)
    with pytest.raises(RadioRangeError, match="path_km is 0"):
        short_path_eirp_limit_dbw(55, 17, 0)
    with pytest.raises(ValueError, match="kind is 'EIRP'; it must be one of tx_output, erp, eirp"):
        margin_to_limit_db(40, 2, 8, 44, "EIRP")
