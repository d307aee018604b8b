"""P.676 gas loss against the gas implied by the published P.452-18 results, at nineteen frequencies."""

import numpy as np
import pytest

from spectrum.radio.propagation.gas import oxygen_attenuation_db_per_km, water_vapour_attenuation_db_per_km
from spectrum.radio.ranges import RadioRangeError
from tests.reference_tables import outside_table
from tests.spectrum.radio.propagation.columns import column


@pytest.mark.reference
def test_p452_18_implied_gas():
    """Ag_implied_dB over the slant path; the column is a difference of six-decimal numbers."""
    rows = outside_table("p452_18_validation_results.csv")
    f = 1e3 * column(rows, "f")
    vapour = 7.5 + 2.5 * column(rows, "omega")
    slant = np.hypot(column(rows, "dtot"), 1e-3 * (column(rows, "hts") - column(rows, "hrs")))
    air = (column(rows, "press"), column(rows, "temp"), vapour)
    gamma = oxygen_attenuation_db_per_km(f, *air) + water_vapour_attenuation_db_per_km(f, *air)
    implied = column(rows, "Ag_implied_dB")
    assert np.abs(gamma * slant - implied).max() < 5e-6
    # Long lossy paths pin the rate itself: at 50 GHz 100 dB and more are known to a millionth of a decibel.
    long = implied > 1.0
    assert long.sum() > 50
    assert np.abs(gamma[long] * slant[long] / implied[long] - 1.0).max() < 1e-5


# dB/km over land at 1013 hPa and 15 °C, from the published Lbfsg below 1 GHz (four decimals).
@pytest.mark.parametrize(
    ("frequency", "rate"), [(250.0, 0.0011), (500.0, 0.0030), (750.0, 0.0045), (1000.0, 0.0054)]
)
def test_published_rates_below_1_ghz(frequency, rate):
    total = oxygen_attenuation_db_per_km(frequency) + water_vapour_attenuation_db_per_km(frequency)
    assert total == pytest.approx(rate, abs=6e-5)


def test_water_vapour_has_its_line_and_dry_air_its_band():
    f = np.linspace(15_000.0, 30_000.0, 1501)
    assert abs(f[water_vapour_attenuation_db_per_km(f).argmax()] - 22_235.0) < 500.0
    assert np.all(np.diff(oxygen_attenuation_db_per_km(np.linspace(20_000.0, 50_000.0, 100))) > 0.0)


def test_dry_air_has_no_water_vapour_loss():
    assert water_vapour_attenuation_db_per_km([410.0, 22_235.0], water_vapour_g_per_m3=0.0).tolist() == [
        0.0,
        0.0,
    ]


def test_range_and_unknowns():
    with pytest.raises(RadioRangeError, match=r"frequency_mhz is 60000; it must lie between 100 and 50000"):
        oxygen_attenuation_db_per_km(60_000.0)
    assert np.isnan(oxygen_attenuation_db_per_km(410.0, temperature_c=[np.nan, 15.0])).tolist() == [
        True,
        False,
    ]
