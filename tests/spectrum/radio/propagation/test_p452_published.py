"""P.452-18 against the published validation rows: Lb and every intermediate value.

Source: ITU-R Working Party 3M validation examples as the header of each table says.
"""

import numpy as np
import pytest

from spectrum.radio.propagation.p452 import COASTAL_LAND, INLAND, SEA, PathProfiles, basic_transmission_loss
from tests.reference_tables import outside_table
from tests.spectrum.radio.propagation.columns import column
from tests.spectrum.radio.propagation.p452_cases import profile_batch, published_result

FIELDS = {
    "ae": "effective_radius_km",
    "dtot": "distance_km",
    "hts": "height_tx_amsl_m",
    "hrs": "height_rx_amsl_m",
    "theta_t": "horizon_angle_tx_mrad",
    "theta_r": "horizon_angle_rx_mrad",
    "theta": "angular_distance_mrad",
    "hm": "roughness_m",
    "hte": "effective_height_tx_m",
    "hre": "effective_height_rx_m",
    "hstd": "surface_tx_m",
    "hsrd": "surface_rx_m",
    "dlt": "horizon_distance_tx_km",
    "dlr": "horizon_distance_rx_km",
    "dtm": "longest_land_km",
    "dlm": "longest_inland_km",
    "b0": "beta0_percent",
    "omega": "over_sea_fraction",
    "Lbfsg": "lbfsg_db",
    "Lb0p": "lb0p_db",
    "Lb0b": "lb0b_db",
    "Ldsph": "ldsph_db",
    "Ld50": "ld50_db",
    "Ldp": "ldp_db",
    "Lbs": "lbs_db",
    "Lba": "lba_db",
    "Lb": "lb_db",
}
TABLES = ("p452_18_validation_results.csv", "p452_18_validation_results_138_960MHz.csv")


@pytest.fixture(scope="module", params=TABLES)
def published(request):
    rows = outside_table(request.param)
    return rows, published_result(rows)


@pytest.mark.reference
@pytest.mark.parametrize("name", FIELDS)
def test_p452_18_validation_results(published, name):
    """As printed (six decimals): the issue asks for 0.01 dB below 1 GHz and 0.1 dB above."""
    rows, result = published
    difference = np.abs(getattr(result, FIELDS[name]) - column(rows, name))
    allowed = 1e-4 if name == "ae" else 2e-5
    assert difference.max() < allowed, rows[int(difference.argmax())]


@pytest.mark.reference
def test_kind_of_path(published):
    rows, result = published
    assert result.trans_horizon.tolist() == [row["path"] == "Trans-Horizon" for row in rows]


@pytest.mark.reference
def test_gas_implied_by_the_published_free_space_loss(published):
    rows, result = published
    assert np.abs(result.gas_db - column(rows, "Ag_implied_dB")).max() < 5e-6


@pytest.mark.reference
def test_second_run_of_the_same_rows_by_others(published):
    """The column that an independent open implementation printed in 2026 for the same rows."""
    rows, result = published
    assert np.abs(result.lb_db - column(rows, "Lb_rerun_Py452")).max() < 2e-5


@pytest.mark.reference
def test_two_implementations_on_one_bare_profile():
    """P.452-16 by an independent code: troposcatter and ducting to 0.01 dB, Lb to the 0.1 dB of 92.4 against 92.5."""
    rows = outside_table("pycraf_p452_16_vs_18.csv")
    everything = outside_table(TABLES[0])
    keys = {(r["profile"], float(r["f"]), float(r["p"])): r for r in everything}
    wanted = [
        (row, keys[key])
        for row in rows
        if (key := (row["profile"], float(row["f_GHz"]), float(row["p_percent"]))) in keys
    ]
    assert wanted
    theirs = [row for row, _ in wanted]
    mine = published_result([case for _, case in wanted])
    assert np.abs(mine.lbs_db - column(theirs, "pycraf16_Lbs_dB")).max() < 0.02
    assert np.abs(mine.lba_db - column(theirs, "pycraf16_Lba_dB")).max() < 0.02
    assert np.abs(mine.lb_db - column(theirs, "pycraf16_Lb_dB")).max() < 0.15


@pytest.mark.reference
def test_p452_vs_p1812_same_profile():
    """Losses of an open implementation of P.452-18 on three bare profiles, printed to 0.001 dB.

    Their latitude is not printed. It is found here from the rows of one deep trans-horizon path,
    where it is the only unknown (50.365°), and used for the others. The grazing path then decides
    how Fj is written: (Stim − Str)/0.3 fits, (Stim − Str − 0.3)/0.3 is off by up to 0.1 dB.
    """
    rows = outside_table("p452_vs_p1812_same_profile.csv")
    d, h, zone = profile_batch("p1812_profiles", [row["profile"] for row in rows], ("d_km", "h_m", "zone"))
    codes = np.select([zone == 1.0, zone == 3.0], [SEA, COASTAL_LAND], INLAND)
    result = basic_transmission_loss(
        PathProfiles(d, h, zone=codes),
        frequency_ghz=column(rows, "f_GHz"),
        time_percent=column(rows, "p_percent"),
        height_tx_agl_m=column(rows, "h_tx=h_rx_m"),
        height_rx_agl_m=column(rows, "h_tx=h_rx_m"),
        latitude_deg=50.365,
    )
    assert np.abs(result.lb_db - column(rows, "Lb_P452_dB")).max() < 1e-3
    argument = np.arctanh(1.0 - 2.0 * np.clip(result.fj, 1e-12, 1.0 - 1e-12))
    other_fj = 0.5 * (1.0 - np.tanh(argument - 3.0 * 0.8))
    other = result.lbda_db + (result.lminb0p_db - result.lbda_db) * other_fj
    other = -5.0 * np.log10(10.0 ** (-0.2 * result.lbs_db) + 10.0 ** (-0.2 * other))
    assert np.abs(other - column(rows, "Lb_P452_dB")).max() > 0.05
