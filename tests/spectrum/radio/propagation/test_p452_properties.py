"""P.452-18: what holds for every path, and what is refused."""

from dataclasses import fields
from typing import Any

import numpy as np
import pytest

from spectrum.radio.propagation.p452 import INLAND, Climate, PathProfiles, basic_transmission_loss
from spectrum.radio.ranges import RadioRangeError


def random_paths(paths=400, points=80, seed=452):
    """Irregular spacing, terrain from smooth to rough, land and sea, some with ground cover."""
    rng = np.random.default_rng(seed)
    fraction = np.sort(rng.random((paths, points)), axis=1)
    fraction[:, 0], fraction[:, -1] = 0.0, 1.0
    distance = rng.uniform(2.0, 150.0, (paths, 1)) * fraction
    roughness = rng.choice([0.2, 1.0, 6.0], (paths, 1))
    terrain = 200.0 + np.cumsum(rng.normal(0.0, 1.0, (paths, points)), axis=1) * roughness
    zone = np.repeat(rng.choice([1, 2, 3], (paths, points // 10)), 10, axis=1)
    zone[rng.random(paths) < 0.5] = INLAND
    cover = np.where(rng.random((paths, points)) < 0.2, 8.0, 0.0) * rng.choice([0.0, 1.0], (paths, 1))
    ends = {
        "height_{}_agl_m": rng.uniform(5.0, 80.0, (2, paths)),
        "gain_{}_dbi": rng.uniform(0.0, 30.0, (2, paths)),
        "coast_{}_km": rng.uniform(0.0, 10.0, (2, paths)),
    }
    common = {
        "frequency_ghz": rng.choice([0.15, 0.41, 0.9, 7.5], paths),
        "time_percent": rng.choice([0.01, 1.0, 20.0, 50.0], paths),
        "latitude_deg": rng.uniform(-75.0, 75.0, paths),
        "vertical": rng.random(paths) < 0.5,
    }
    return (distance, terrain, cover, zone), ends, common


def swapped(distance, terrain, cover, zone):
    turned = (distance[:, -1:] - distance)[:, ::-1].copy()
    turned[:, 0] = 0.0
    return turned, terrain[:, ::-1], cover[:, ::-1], zone[:, ::-1]


@pytest.fixture(scope="module")
def both_ways():
    profile, ends, common = random_paths()
    there = {name.format(end): v[i] for name, v in ends.items() for i, end in enumerate(("tx", "rx"))}
    back = {name.format(end): v[1 - i] for name, v in ends.items() for i, end in enumerate(("tx", "rx"))}
    return (
        basic_transmission_loss(PathProfiles(*profile), **there, **common),
        basic_transmission_loss(PathProfiles(*swapped(*profile)), **back, **common),
    )


@pytest.mark.parametrize(
    "name",
    [
        "angular_distance_mrad",
        "roughness_m",
        "beta0_percent",
        "over_sea_fraction",
        "longest_land_km",
        "longest_inland_km",
        "lbfsg_db",
        "lb0p_db",
        "lb0b_db",
        "lbulla_db",
        "lbulls_db",
        "ldsph_db",
        "ld50_db",
        "ldb_db",
        "ldp_db",
        "lbs_db",
        "lba_db",
        "lminb0p_db",
        "lminbap_db",
        "lbda_db",
        "fi",
        "fk",
    ],
)
def test_every_mechanism_is_the_same_both_ways(both_ways, name):
    there, back = both_ways
    assert np.allclose(getattr(there, name), getattr(back, name), rtol=0.0, atol=1e-8)


@pytest.mark.parametrize("name", ["horizon_angle_{}_mrad", "horizon_distance_{}_km", "effective_height_{}_m"])
def test_the_ends_change_places(both_ways, name):
    there, back = both_ways
    assert np.allclose(
        getattr(there, name.format("tx")), getattr(back, name.format("rx")), rtol=0.0, atol=1e-8
    )


def test_loss_is_the_same_both_ways_wherever_the_one_sided_weight_is(both_ways):
    """Fj looks from the transmitter alone: P.452-18 is reciprocal but for it, and we do not mend it."""
    there, back = both_ways
    same = np.abs(there.fj - back.fj) < 1e-9
    assert 0.5 < same.mean() < 1.0
    assert np.abs(there.lb_db - back.lb_db)[same].max() < 1e-7
    weighed = there.lbda_db + (there.lminb0p_db - there.lbda_db) * back.fj
    mended = -5.0 * np.log10(10.0 ** (-0.2 * there.lbs_db) + 10.0 ** (-0.2 * weighed))
    assert np.allclose(mended, back.lb_db, rtol=0.0, atol=1e-8)


def test_combination_stays_near_its_smallest_part(both_ways):
    """What a safe bound rests on: never more than 5 log 2 below the smaller of the two parts."""
    result, _ = both_ways
    smaller = np.minimum(result.lbs_db, result.lbam_db)
    assert (result.lb_db <= smaller + 1e-9).all()
    assert (result.lb_db >= smaller - 5.0 * np.log10(2.0) - 1e-9).all()
    assert (result.lb0p_db >= result.lbfsg_db + 2.6 * np.log10(result.time_percent / 50.0) - 1e-9).all()


def test_a_row_gives_the_same_alone_as_in_a_batch_of_several_blocks(both_ways):
    profile, ends, common = random_paths()
    there, _ = both_ways
    for row in (0, 127, 128, 399):
        one = slice(row, row + 1)
        arguments = {
            name.format(e): v[i][one] for name, v in ends.items() for i, e in enumerate(("tx", "rx"))
        }
        alone = basic_transmission_loss(
            PathProfiles(*(part[one] for part in profile)),
            **arguments,
            **{k: v[one] for k, v in common.items()},
        )
        assert alone.lb_db[0] == pytest.approx(there.lb_db[row], abs=1e-9)


FLAT = PathProfiles([0.0, 5.0, 10.0, 20.0], np.zeros((2, 4)))
USUAL: dict[str, Any] = {
    "frequency_ghz": 0.41,
    "time_percent": 1.0,
    "height_tx_agl_m": 30.0,
    "height_rx_agl_m": 20.0,
    "latitude_deg": 47.0,
}


@pytest.mark.parametrize("name", [*USUAL, "gain_tx_dbi", "gain_rx_dbi", "coast_tx_km", "coast_rx_km"])
def test_an_unknown_input_makes_its_own_path_unknown(name):
    usual: dict[str, Any] = {
        **USUAL,
        "gain_tx_dbi": 0.0,
        "gain_rx_dbi": 0.0,
        "coast_tx_km": 500.0,
        "coast_rx_km": 500.0,
    }
    result = basic_transmission_loss(FLAT, **{**usual, name: [np.nan, usual[name]]})
    assert np.isnan(result.lb_db).tolist() == [True, False]
    assert np.isnan(result.lba_db).tolist() == [True, False]


@pytest.mark.parametrize("name", [f.name for f in fields(Climate)])
def test_an_unknown_climate_makes_its_own_path_unknown(name):
    climate = Climate(**{name: [np.nan, getattr(Climate(), name)]})
    result = basic_transmission_loss(FLAT, **USUAL, climate=climate)
    assert np.isnan(result.lb_db).tolist() == [True, False]
    assert result.climate is climate


@pytest.mark.parametrize("point", [0, 1, 3])
def test_a_void_in_the_terrain_makes_its_path_unknown(point):
    terrain = np.zeros((2, 4))
    terrain[0, point] = np.nan
    result = basic_transmission_loss(PathProfiles([0.0, 5.0, 10.0, 20.0], terrain), **USUAL)
    assert np.isnan(result.lb_db).tolist() == [True, False]


@pytest.mark.parametrize(
    ("name", "value", "message"),
    [
        ("frequency_ghz", 0.09, r"frequency_ghz is 0.09; it must lie between 0.1 and 50 \(ITU-R P.452-18\)"),
        ("frequency_ghz", 51.0, "frequency_ghz is 51"),
        ("time_percent", 51.0, r"time_percent is 51; it must lie between 0.001 and 50"),
        ("time_percent", 0.0001, "time_percent is 0.0001"),
        ("height_tx_agl_m", 0.0, "height_tx_agl_m is 0"),
        ("latitude_deg", 91.0, "latitude_deg is 91"),
    ],
)
def test_out_of_range_names_argument_value_and_range(name, value, message):
    with pytest.raises(RadioRangeError, match=message):
        basic_transmission_loss(FLAT, **{**USUAL, name: value})


def test_a_zone_that_does_not_exist_is_refused():
    with pytest.raises(ValueError, match="zone holds a number that is not 1"):
        PathProfiles([0.0, 5.0, 10.0], np.zeros((1, 3)), zone=[[2, 2, 4]])


def test_defaults_of_the_climate_are_named_on_the_result():
    result = basic_transmission_loss(FLAT, **USUAL)
    assert result.climate == Climate(45.0, 325.0, 1013.0, 15.0)


def test_cover_at_exactly_fifty_metres_from_an_end_counts_and_nearer_does_not():
    d = np.array([[0.0, 0.03, 0.05, 2.0, 4.95, 4.97, 5.0]])
    h = np.zeros((1, 7))
    bare = basic_transmission_loss(PathProfiles(d, h), **{**USUAL, "height_rx_agl_m": 3.0})
    for index, counts in ((1, False), (2, True), (4, True), (5, False)):
        cover = np.zeros((1, 7))
        cover[0, index] = 60.0
        loss = basic_transmission_loss(PathProfiles(d, h, cover), **{**USUAL, "height_rx_agl_m": 3.0})
        assert (loss.ld50_db[0] > bare.ld50_db[0] + 5.0) == counts
