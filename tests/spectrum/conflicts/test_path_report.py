"""The report on one path: what is drawn is what the formulas give, and what is not known is said."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sites.terrain import TerrainStore
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.network import Network, StationRecord
from spectrum.conflicts.path_report import Fading, PathReport, Receiver, path_report
from spectrum.profile_drawing import profile_picture
from spectrum.radio.propagation.p452 import Climate
from tests.sites.terrain.rasters import write_tiff
from tests.spectrum.conflicts.made import TODAY, link, station

RECEIVER = Receiver(threshold_dbm=-108.0, bit_rate_kbps=19.2, one_way_delay_ms=5.0)


def ends(**changes: object) -> list[StationRecord]:
    """About 22.2 km, north and south of each other."""
    made = link(1)
    return [station(made, "A", **changes), station(made, "B", latitude_deg=47.2, **changes)]


def report(
    stations: list[StationRecord],
    terrain: TerrainStore | None = None,
    fading: Fading | None = None,
    criteria: Criteria | None = None,
) -> PathReport:
    network = Network(as_of=TODAY, stations=stations)
    return path_report(network, [RECEIVER, RECEIVER], criteria or Criteria(), terrain, fading)


@pytest.fixture
def ridge(tmp_path: Path) -> TerrainStore:
    """Level ground of 500 m with one ridge of 560 m across the path, about 5.6 km from its southern end."""
    heights = np.full((720, 240), 500, dtype=np.int16)
    heights[418:422] = 560
    write_tiff(tmp_path / "ridge.tif", heights, 13.9, 47.4, 1 / 1200)
    return TerrainStore(tmp_path)


def test_over_the_smooth_earth_the_middle_is_worst_by_the_bulge_of_the_effective_earth() -> None:
    found = report(ends(), criteria=Criteria(climate=Climate(refractivity_lapse_n_per_km=0.0)))
    assert found.profile is not None
    # h = d1·d2/(2a) with the radius of the earth itself (no lapse): ITU-R P.452-18 §4.2.1, by hand.
    bulge_m = (found.length_km / 2) ** 2 / (2 * 6371.0) * 1e3
    assert found.profile.worst_clearance_m == pytest.approx(20.0 - bulge_m, abs=0.02)
    assert found.profile.worst_at_km == pytest.approx(found.length_km / 2, abs=0.06)
    # Radius of the first zone in the middle: 17.3 √(d1·d2/(f·d)), km and GHz (ITU-R P.530).
    radius_m = 17.3 * np.sqrt(found.length_km / 4 / 0.410)
    assert found.profile.worst_ratio == pytest.approx((20.0 - bulge_m) / radius_m, rel=2e-3)
    assert not found.profile.over_terrain and not found.profile.clear
    assert any(s.startswith("No terrain tiles are loaded") for s in found.missing)


def test_a_ridge_in_the_tiles_is_the_worst_point_and_takes_from_the_level(ridge: TerrainStore) -> None:
    bare, over = report(ends()), report(ends(), ridge)
    assert over.profile is not None and over.profile.over_terrain
    assert over.profile.worst_at_km == pytest.approx(5.6, abs=0.3)
    assert -60.0 < over.profile.worst_clearance_m < -40.0
    assert "terrain" in over.loss_model and "smooth" in bare.loss_model
    for before, after in zip(bare.ends, over.ends, strict=True):
        assert after.wanted_dbm is not None and before.wanted_dbm is not None
        assert after.wanted_dbm < before.wanted_dbm
        assert after.fade_margin_db == pytest.approx(after.wanted_dbm + 108.0)
    assert over.missing == []


def test_tiles_with_a_gap_are_named_and_the_smooth_earth_stands_in(ridge: TerrainStore) -> None:
    made = link(1)
    found = report([station(made, "A"), station(made, "B", latitude_deg=48.2)], ridge)
    assert found.profile is not None and not found.profile.over_terrain
    [sentence] = [s for s in found.missing if "not known on" in s]
    assert "Tiles wanted: " in sentence


def test_azimuths_are_those_of_the_ends_and_the_round_trip_that_of_radios_and_air() -> None:
    found = report(ends())
    assert [end.azimuth_deg for end in found.ends] == pytest.approx([0.0, 180.0], abs=1e-6)
    # 5 ms for both radios each way, and the way twice at the speed of light.
    assert found.round_trip_ms == pytest.approx(10.0 + 2 * found.length_km / 299.792458)
    assert found.bit_rate_kbps == 19.2


def test_availability_is_given_only_where_p530_holds_and_its_maps_are_stated(tmp_path: Path) -> None:
    write_tiff(tmp_path / "level.tif", np.full((720, 240), 400, dtype=np.int16), 13.9, 47.4, 1 / 1200)
    level = TerrainStore(tmp_path)
    stated = Fading(log_k=-3.0, refractivity_gradient_dn75=50.0)
    high = ends(antenna_height_agl_m=100.0)
    assert "0.45 GHz" in report(high, level, stated).ends[0].availability_why
    changed = [
        replace(
            s, tx_frequency_hz=(s.tx_frequency_hz or 0) * 18, rx_frequency_hz=(s.rx_frequency_hz or 0) * 18
        )
        for s in high
    ]
    assert "mean height of the terrain" in report(changed, None, stated).ends[0].availability_why
    assert "dN75" in report(changed, level).ends[0].availability_why
    given = report(changed, level, stated).ends[0]
    assert given.availability_why == ""
    assert given.availability_percent is not None and 90.0 < given.availability_percent < 100.0
    low = [replace(s, antenna_height_agl_m=6.5, tx_power_dbm=60.0) for s in changed]
    assert "obstructed" in report(low, level, stated).ends[0].availability_why
    louder = [replace(s, tx_power_dbm=47.0) for s in changed]
    better = report(louder, level, stated).ends[0].availability_percent
    assert better is not None and better > given.availability_percent


def test_what_is_not_entered_is_listed() -> None:
    one, other = ends(ground_height_m=None)
    found = report([one, replace(other, tx_frequency_hz=None, tx_power_dbm=None)])
    assert found.ends[0].wanted_dbm is None and found.ends[1].wanted_dbm is not None
    said = " ".join(found.missing)
    assert "S1B has no ground height" in said
    assert "L-001/A listens on 420.00000 MHz and L-001/B does not transmit" in said


def test_antennas_of_one_site_have_no_profile() -> None:
    one, other = ends()
    found = report([one, replace(other, latitude_deg=one.latitude_deg)])
    assert found.profile is None and found.ends[0].azimuth_deg is None
    assert found.loss_model == "free space between antennas of one site"


def test_a_path_has_two_ends() -> None:
    with pytest.raises(ValueError, match="two stations"):
        path_report(Network(as_of=TODAY, stations=ends()[:1]), [RECEIVER], Criteria(), None)


def test_the_picture_holds_the_profile_with_distance_to_the_right_and_height_upward(
    ridge: TerrainStore,
) -> None:
    profile = report(ends(), ridge).profile
    assert profile is not None
    picture = profile_picture(profile, 20.0, 20.0)
    ground = [tuple(map(float, p.split())) for p in picture.ground[1:].split(" Z")[0].split(" L")][:-2]
    assert len(ground) == len(profile.distance_km)
    assert [x for x, _ in ground] == sorted(x for x, _ in ground)
    assert min(ground, key=lambda p: p[1])[0] == pytest.approx(picture.worst[0], abs=12.0)
    assert all(34.0 <= y <= 262.0 for _, y in ground)
    heights = [(tick.y, float(tick.text)) for tick in picture.y_ticks]
    assert heights == sorted(heights, key=lambda t: (-t[0], t[1]))
    # The scale that the ticks state gives the point under the worst place back.
    (low_y, low), (high_y, high) = heights[0], heights[-1]
    read_m = low + (low_y - picture.worst[1]) / (low_y - high_y) * (high - low)
    assert read_m == pytest.approx(profile.ground_m[profile.worst], abs=0.5)
    assert picture.worst_label.text == f"−{-profile.worst_clearance_m:.1f} m at {profile.worst_at_km:.2f} km"
    assert picture.clutter == "" and not picture.clear


def test_ground_cover_is_drawn_on_the_ground_and_counted() -> None:
    profile = report(ends()).profile
    assert profile is not None
    wooded = replace(profile, clutter_m=np.full(len(profile.distance_km), 15.0))
    assert profile_picture(wooded, 20.0, 20.0).clutter.endswith("Z")
