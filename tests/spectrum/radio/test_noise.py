"""Noise against tables of k T B and of ITU-R P.372."""

from __future__ import annotations

import numpy as np
import pytest

from spectrum.radio.noise import (
    MANMADE_NOISE,
    business_noise_figure_db,
    combined_noise_figure_db,
    galactic_noise_figure_db,
    ktb_dbm,
    manmade_noise_figure_db,
    manmade_noise_figure_db_or_nan,
    noise_floor_dbm,
)
from spectrum.radio.ranges import RadioRangeError
from tests.reference_tables import project_table

AS_PRINTED = 6e-5


def test_thermal_noise_csv_ktb_at_290_k() -> None:
    for row in project_table("thermal_noise.csv"):
        bandwidth = float(row["bw_kHz"])
        assert float(ktb_dbm(bandwidth)) == pytest.approx(float(row["N_dBm_NF0"]), abs=AS_PRINTED)
        for figure in (0, 4, 7, 10):
            expected = float(row[f"N_dBm_NF{figure}"])
            assert float(noise_floor_dbm(bandwidth, figure)) == pytest.approx(expected, abs=AS_PRINTED)


def test_p372_manmade_noise_csv_inside_its_range_and_refused_outside() -> None:
    seen = set()
    for row in project_table("p372_manmade_noise.csv"):
        environment, frequency, expected = row["environment"], float(row["f_MHz"]), float(row["Fam_dB"])
        figure = (
            galactic_noise_figure_db
            if environment == "galactic"
            else lambda f, name=environment: manmade_noise_figure_db(name, f)
        )
        if row["validity"].startswith("in range"):
            assert float(figure(frequency)) == pytest.approx(expected, abs=AS_PRINTED)
        else:
            with pytest.raises(RadioRangeError, match="frequency_mhz"):
                figure(frequency)
        combined = float(combined_noise_figure_db(expected, 7))
        assert combined == pytest.approx(float(row["F_total_NF7_dB"]), abs=1e-4)
        if environment != "galactic":
            noise = MANMADE_NOISE[environment]
            assert noise == tuple(float(row[name]) for name in ("c", "d", "Du_dB", "Dl_dB"))
        seen.add(environment)
    assert seen == {*MANMADE_NOISE, "galactic"}


def test_p372_business_uhf_csv_single_source_not_confirmed() -> None:
    for row in project_table("p372_business_uhf.csv"):
        figure = float(business_noise_figure_db(float(row["f_MHz"])))
        assert figure == pytest.approx(float(row["Fam_dB"]), abs=AS_PRINTED)


def test_the_business_line_starts_where_it_meets_the_city_line() -> None:
    assert float(business_noise_figure_db(128.94)) == pytest.approx(
        float(manmade_noise_figure_db("city", 128.94)), abs=1e-3
    )


def test_a_batch_that_mixes_bands_and_environments() -> None:
    environment = np.array([["city"], ["rural"]])
    frequency = np.array([150.0, 0.3, 250.0, 250.1, 410.0, np.nan])
    figure = manmade_noise_figure_db_or_nan(environment, frequency)
    assert figure.shape == (2, 6)
    assert np.isnan(figure).tolist() == [[False, False, False, True, True, True]] * 2
    np.testing.assert_array_equal(figure[:, :3], manmade_noise_figure_db(environment, frequency[:3]))


@pytest.mark.parametrize("bandwidth", [12.5, np.float64(12.5), np.array(12.5)])
def test_a_scalar_gives_a_scalar(bandwidth: float) -> None:
    assert np.ndim(noise_floor_dbm(bandwidth, 7)) == 0
    assert np.ndim(manmade_noise_figure_db("city", 150 + bandwidth)) == 0


def test_nan_in_nan_out() -> None:
    np.testing.assert_array_equal(np.isnan(noise_floor_dbm([12.5, np.nan, 25], [7, 7, np.nan])), [0, 1, 1])
    np.testing.assert_array_equal(
        np.isnan(combined_noise_figure_db([np.nan, 3, 3], [7, np.nan, 7])), [1, 1, 0]
    )
    np.testing.assert_array_equal(np.isnan(manmade_noise_figure_db("rural", [np.nan, 150])), [1, 0])


def test_refusals_name_the_argument_its_value_and_its_range() -> None:
    with pytest.raises(RadioRangeError, match=r"bandwidth_khz is 0; it must lie between 0 and inf"):
        ktb_dbm(0)
    with pytest.raises(RadioRangeError, match=r"frequency_mhz is 410; it must lie between 0.3 and 250"):
        manmade_noise_figure_db("city", [150, 410])
    with pytest.raises(RadioRangeError, match="receiver_noise_figure_db is -1"):
        combined_noise_figure_db(10, -1)
    with pytest.raises(ValueError, match="environment is 'desert'; it must be one of city, residential"):
        manmade_noise_figure_db("desert", 150)
