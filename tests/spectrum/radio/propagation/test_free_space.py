"""Free space against ITU-R P.525 and, beside it, what other public models print."""

import numpy as np
import pytest

from spectrum.radio.propagation.free_space import (
    FREE_SPACE_CONSTANT_DB,
    field_strength_dbuv_per_m,
    free_space_loss_db,
    loss_from_field_strength_db,
    power_flux_density_dbw_per_m2,
    received_power_dbm,
)
from spectrum.radio.ranges import RadioRangeError
from tests.reference_tables import project_table
from tests.spectrum.radio.propagation.columns import column


def test_p525_free_space_table():
    rows = project_table("p525_free_space.csv")
    f, d = column(rows, "f_MHz"), column(rows, "d_km")
    assert np.abs(free_space_loss_db(f, d) - column(rows, "exact_dB")).max() < 1e-4
    assert np.abs(free_space_loss_db(f, d) - column(rows, "pycraf_dB")).max() < 1e-4
    assert np.abs(free_space_loss_db(f, d, rounded=True) - column(rows, "p525_rounded_dB")).max() < 1e-4
    assert np.abs(free_space_loss_db(f, d, rounded=True) - column(rows, "p452_18_dB")).max() < 1e-4


def test_other_printed_constants_stay_within_a_twentieth_of_a_decibel():
    rows = project_table("p525_free_space.csv")
    exact = free_space_loss_db(column(rows, "f_MHz"), column(rows, "d_km"))
    for name in ("p525_rounded_dB", "p452_18_dB", "ntia_itm_dB", "pycraf_dB"):
        assert np.abs(exact - column(rows, name)).max() < 0.05


def test_p525_field_strength_table():
    rows = project_table("p525_field_strength.csv")
    eirp_dbm = column(rows, "Pt_dBW") + column(rows, "G_dBi") + 30.0
    f, d = column(rows, "f_MHz"), column(rows, "d_km")
    field = field_strength_dbuv_per_m(eirp_dbm, d)
    assert np.abs(field - column(rows, "E_exact_dBuVm")).max() < 1e-4
    assert np.abs(power_flux_density_dbw_per_m2(field) - column(rows, "S_exact_dBWm2")).max() < 1e-4
    received_dbw = received_power_dbm(field, f) - 30.0
    assert np.abs(received_dbw - column(rows, "Pr_iso_exact_dBW")).max() < 2e-4


def test_printed_conversion_formulas_lie_within_their_rounding():
    rows = project_table("p525_field_strength.csv")
    field = field_strength_dbuv_per_m(
        column(rows, "Pt_dBW") + column(rows, "G_dBi") + 30.0, column(rows, "d_km")
    )
    assert np.abs(field - column(rows, "E_P525")).max() < 0.06
    assert np.abs(power_flux_density_dbw_per_m2(field) - column(rows, "S_P525")).max() < 0.06


def test_constant_follows_from_the_speed_of_light():
    # 32.4478: 20 log(4π/0.299792458), worked by hand.
    assert pytest.approx(32.4478, abs=5e-5) == FREE_SPACE_CONSTANT_DB


def test_loss_from_field_strength_undoes_the_field():
    d = np.geomspace(0.1, 500.0, 7)
    loss = loss_from_field_strength_db(field_strength_dbuv_per_m(43.0, d), 43.0, 411.0)
    assert np.allclose(loss, free_space_loss_db(411.0, d), atol=1e-9)


@pytest.mark.parametrize(
    ("frequency", "distance", "name"), [(0.0, 1.0, "frequency_mhz"), (410.0, 0.0, "distance_km")]
)
def test_zero_is_refused_by_name(frequency, distance, name):
    with pytest.raises(RadioRangeError, match=name):
        free_space_loss_db(frequency, distance)
