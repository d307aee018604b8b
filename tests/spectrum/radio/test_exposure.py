"""Exposure reference levels and distances, against ICNIRP 2020 and 47 CFR 1.1310 as tabulated."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectrum.radio.exposure import (
    GUIDANCE,
    REFLECTION_FULL,
    REFLECTION_NONE,
    REFLECTION_TYPICAL,
    cfr_1_1310_power_density_w_per_m2,
    exposure_distance,
    icnirp_2020_reference_levels,
    near_field_limit_m,
)
from spectrum.radio.ranges import RadioRangeError
from tests.reference_tables import project_table

LEVELS = {
    "ICNIRP2020_public": lambda f: icnirp_2020_reference_levels(f).power_density_w_per_m2,
    "ICNIRP2020_occupational": lambda f: (
        icnirp_2020_reference_levels(f, occupational=True).power_density_w_per_m2
    ),
    "FCC_general": cfr_1_1310_power_density_w_per_m2,
    "FCC_occupational": lambda f: cfr_1_1310_power_density_w_per_m2(f, occupational=True),
}


def test_rf_exposure_limits_table():
    """General public and 47 CFR 1.1310 as read; ICNIRP occupational from memory."""
    rows = project_table("rf_exposure_limits.csv")
    f = np.array([float(row["f_MHz"]) for row in rows])
    public, occupational = (icnirp_2020_reference_levels(f, occupational=flag) for flag in (False, True))
    for column, found in [
        ("ICNIRP_pub_E_Vm", public.electric_v_per_m),
        ("ICNIRP_pub_H_Am", public.magnetic_a_per_m),
        ("ICNIRP_pub_S_Wm2", public.power_density_w_per_m2),
        ("ICNIRP_occ_E_Vm", occupational.electric_v_per_m),
        ("ICNIRP_occ_H_Am", occupational.magnetic_a_per_m),
        ("ICNIRP_occ_S_Wm2", occupational.power_density_w_per_m2),
        ("FCC_pub_S_Wm2", cfr_1_1310_power_density_w_per_m2(f)),
        ("FCC_occ_S_Wm2", cfr_1_1310_power_density_w_per_m2(f, occupational=True)),
    ]:
        printed = np.array([float(row[column] or "nan") for row in rows])
        assert found == pytest.approx(printed, abs=0.00006, nan_ok=True), column


def test_rf_exposure_distances_table():
    for row in project_table("rf_exposure_distances.csv"):
        f, eirp_w = float(row["f_MHz"]), float(row["EIRP_W"])
        level = LEVELS[row["standard"]](f)
        assert level == pytest.approx(float(row["S_limit_Wm2"]), abs=0.00006)
        factors = [REFLECTION_NONE, REFLECTION_TYPICAL, REFLECTION_FULL]
        found = exposure_distance(eirp_w, level, f, reflection_factor=factors)
        printed = [float(row[name]) for name in ("d_F1_m", "d_F2.56_m", "d_F4_m")]
        assert found.distance_m == pytest.approx(printed, abs=0.0001)
        assert not found.refused.any()
        # from the field strength: sqrt(30 EIRP)/sqrt(120 pi S), which equals F = 1
        assert found.distance_m[0] == pytest.approx(float(row["d_from_E_m"]), abs=0.0001)


def test_near_field_is_refused_with_a_reason():
    found = exposure_distance([39.81, 39.81, 0.0], 2.05, 410.0, antenna_size_m=[0.3, 3.0, 3.0])
    assert found.refused.tolist() == [False, True, False]
    assert np.isnan(found.distance_m).tolist() == [False, True, False]
    assert found.reasons.tolist()[::2] == ["", ""]
    assert "reaches to 24.6 m" in found.reasons[1]
    assert found.guidance == GUIDANCE
    assert "Local codes" in GUIDANCE
    weak = exposure_distance(0.01, 2.05, 410.0)  # 2 cm, inside λ/2π = 11.6 cm
    assert weak.refused
    assert np.isnan(weak.distance_m)


def test_near_field_limit_is_the_greater_of_the_two_conditions():
    """Usual far-field conditions, from memory: λ/2π and 2D²/λ."""
    wavelength = 299.792458 / 900.0
    assert near_field_limit_m(900.0) == pytest.approx(wavelength / (2 * np.pi))
    assert near_field_limit_m(900.0, 1.8) == pytest.approx(2 * 1.8**2 / wavelength)


@settings(max_examples=100, derandomize=True)
@given(st.floats(1.0, 1e5), st.floats(31.0, 6000.0))
def test_the_level_is_met_at_the_distance(eirp_w, frequency):
    level = icnirp_2020_reference_levels(frequency).power_density_w_per_m2
    found = exposure_distance(eirp_w, level, frequency)
    if not found.refused:
        assert eirp_w / (4 * np.pi * found.distance_m**2) == pytest.approx(level)


@pytest.mark.parametrize("function", list(LEVELS.values()), ids=list(LEVELS))
def test_scalar_array_and_nan(function):
    assert np.ndim(function(410.0)) == 0
    many = function(np.array([410.0, np.nan]))
    assert many[0] == function(410.0)
    assert np.isnan(many[1])


def test_nan_gives_nan_without_a_refusal():
    found = exposure_distance([np.nan, 10.0], [2.0, np.nan], 410.0)
    assert np.isnan(found.distance_m).all()
    assert not found.refused.any()
    assert np.ndim(exposure_distance(10.0, 2.0, 410.0).distance_m) == 0


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: icnirp_2020_reference_levels(30.0), "frequency_mhz is 30"),
        (lambda: cfr_1_1310_power_density_w_per_m2(29.9), "frequency_mhz is 29.9"),
        (lambda: exposure_distance(-1.0, 2.0, 410.0), "eirp_w"),
        (lambda: exposure_distance(1.0, 0.0, 410.0), "power_density_w_per_m2"),
        (lambda: exposure_distance(1.0, 2.0, 410.0, reflection_factor=5.0), "reflection_factor"),
        (lambda: near_field_limit_m(410.0, -1.0), "antenna_size_m"),
    ],
)
def test_out_of_range_is_named(call, argument):
    with pytest.raises(RadioRangeError, match=argument):
        call()
