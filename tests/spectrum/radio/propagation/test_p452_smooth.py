"""P.452-18 without a profile: agrees with the full model on ever finer flat profiles."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spectrum.radio.propagation.p452 import (
    SEA,
    Climate,
    PathProfiles,
    basic_transmission_loss,
    smooth_earth_loss,
)
from spectrum.radio.ranges import RadioRangeError


def flat_cases(paths, seed=18):
    rng = np.random.default_rng(seed)
    distance = rng.uniform(0.1, 300.0, paths)
    ground = rng.uniform(0.0, 500.0, paths)
    return {
        "frequency_mhz": rng.choice([150.0, 410.0, 900.0, 7500.0], paths),
        "distance_km": distance,
        "height_tx_agl_m": rng.uniform(2.0, 120.0, paths),
        "height_rx_agl_m": rng.uniform(2.0, 120.0, paths),
        "time_percent": rng.choice([0.01, 1.0, 20.0, 50.0], paths),
        "ground_tx_m": ground,
        "ground_rx_m": ground + rng.uniform(-5.0, 5.0, paths) * np.minimum(distance, 20.0),
    }


def full_model(case, points, zone=None):
    fraction = np.linspace(0.0, 1.0, points)
    rise = case["ground_rx_m"] - case["ground_tx_m"]
    return basic_transmission_loss(
        PathProfiles(
            case["distance_km"][:, None] * fraction,
            case["ground_tx_m"][:, None] + rise[:, None] * fraction,
            zone=zone,
        ),
        frequency_ghz=case["frequency_mhz"] / 1e3,
        time_percent=case["time_percent"],
        height_tx_agl_m=case["height_tx_agl_m"],
        height_rx_agl_m=case["height_rx_agl_m"],
        latitude_deg=47.0,
    )


@pytest.mark.parametrize(
    ("points", "paths", "allowed"), [(200, 1000, 0.5), (2_000, 400, 0.05), (20_000, 40, 0.002)]
)
def test_fine_flat_profiles_approach_it(points, paths, allowed):
    case = flat_cases(paths)
    difference = smooth_earth_loss(**case, latitude_deg=47.0).lb_db - full_model(case, points).lb_db
    assert np.abs(difference).max() < allowed


def test_it_is_never_below_a_coarser_profile_in_diffraction():
    case = flat_cases(1000)
    smooth, coarse = smooth_earth_loss(**case, latitude_deg=47.0), full_model(case, 200)
    assert (smooth.ld50_db >= coarse.ld50_db - 1e-9).all()
    assert (smooth.ldb_db >= coarse.ldb_db - 1e-9).all()


def test_over_sea():
    case = flat_cases(40)
    smooth = smooth_earth_loss(**case, latitude_deg=47.0, zone=SEA)
    assert np.abs(smooth.lb_db - full_model(case, 20_000, zone=SEA).lb_db).max() < 0.002
    assert smooth.over_sea_fraction == pytest.approx(1.0)
    assert (smooth.longest_land_km == 0.0).all()


heights = st.floats(1.0, 200.0)


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.floats(100.0, 10_000.0), heights, heights)
def test_half_of_the_time_loss_never_falls_with_distance(frequency, tx, rx):
    loss = smooth_earth_loss(frequency, np.linspace(0.5, 400.0, 800), tx, rx, 50.0, latitude_deg=47.0).lb_db
    assert np.diff(loss).min() > -1e-9


@settings(derandomize=True, max_examples=60, deadline=None)
@given(st.floats(100.0, 10_000.0), heights, heights, st.sampled_from([0.001, 0.1, 1.0, 20.0]))
def test_each_mechanism_never_falls_with_distance_at_small_percentages(frequency, tx, rx, percent):
    r = smooth_earth_loss(frequency, np.linspace(0.5, 400.0, 800), tx, rx, percent, latitude_deg=47.0)
    assert np.diff(r.lbfsg_db).min() > 0.0
    assert np.diff(r.ldp_db).min() > -1e-9
    assert np.diff(r.lbs_db).min() > -1e-9


def test_at_small_percentages_the_recommendation_itself_falls_with_distance():
    """Fk lets ducting in from about 20 km: the loss at 46 km lies under that at 25 km. A search must know."""
    loss = smooth_earth_loss(410.0, [25.0, 46.0], 2.0, 2.0, 0.01, latitude_deg=47.0).lb_db
    assert loss[1] < loss[0]


@settings(derandomize=True, max_examples=100, deadline=None)
@given(
    st.floats(100.0, 10_000.0), st.floats(0.1, 400.0), heights, heights, st.sampled_from([0.01, 1.0, 50.0])
)
def test_every_mechanism_is_the_same_both_ways(frequency, distance, tx, rx, percent):
    there = smooth_earth_loss(frequency, distance, tx, rx, percent, latitude_deg=47.0)
    back = smooth_earth_loss(frequency, distance, rx, tx, percent, latitude_deg=47.0)
    for name in ("lb0p_db", "ldp_db", "lbs_db", "lba_db", "lbda_db", "lminb0p_db"):
        assert getattr(there, name) == pytest.approx(getattr(back, name), abs=1e-4)
    if there.fj == pytest.approx(back.fj, abs=1e-6):
        assert there.lb_db == pytest.approx(back.lb_db, abs=1e-3)


def test_near_the_horizon_the_recommendation_itself_is_not_reciprocal():
    """Fj looks from the transmitter: a high and a low antenna differ in loss by which of them sends."""
    there = smooth_earth_loss(630.0, 48.42, 123.0, 1.014, 0.01, latitude_deg=47.0)
    back = smooth_earth_loss(630.0, 48.42, 1.014, 123.0, 0.01, latitude_deg=47.0)
    assert 5.0 < abs(there.lb_db - back.lb_db) < 10.0


@pytest.mark.parametrize("wrap", [float, np.array, lambda v: np.array([v]), lambda v: np.array([[v], [v]])])
def test_scalar_in_scalar_out_array_in_array_out(wrap):
    result = smooth_earth_loss(410.0, wrap(40.0), 30.0, 30.0, 50.0, latitude_deg=47.0)
    assert np.shape(result.lb_db) == np.shape(wrap(40.0))
    assert np.shape(result.trans_horizon) == np.shape(wrap(40.0))
    assert np.allclose(
        result.lb_db, smooth_earth_loss(410.0, 40.0, 30.0, 30.0, 50.0, latitude_deg=47.0).lb_db
    )


@pytest.mark.parametrize("name", list(flat_cases(1)))
def test_unknown_in_unknown_out(name):
    case: dict[str, Any] = {key: np.repeat(values, 2) for key, values in flat_cases(1).items()}
    case[name][0] = np.nan
    assert np.isnan(smooth_earth_loss(**case, latitude_deg=47.0).lb_db).tolist() == [True, False]


def test_climate_is_the_callers_own():
    climate = Climate(refractivity_lapse_n_per_km=[45.0, 60.0])
    result = smooth_earth_loss(410.0, 40.0, 30.0, 30.0, 50.0, latitude_deg=47.0, climate=climate)
    assert result.climate is climate
    assert result.effective_radius_km.round(1).tolist() == [8930.8, 10311.8]


def test_a_path_of_no_length_is_refused_by_name():
    with pytest.raises(RadioRangeError, match="distance_km is 0"):
        smooth_earth_loss(410.0, 0.0, 30.0, 30.0, 50.0, latitude_deg=47.0)
