"""The map of a conflict: places, directions and angles that can be checked by hand."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import combinations
from typing import Any

import pytest

from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.drafts import Parties
from spectrum.conflicts.interference import interference_findings
from spectrum.conflicts.interferers import Interferers, interferers_of
from spectrum.conflicts.network import Network, StationRecord
from spectrum.conflicts.sensitivity import AGGREGATE_KIND, NOISE_KINDS, Case
from spectrum.pictures.conflict_map import ARC, BEAM, BORESIGHT, WIDTH, ConflictMap, conflict_map
from spectrum.pictures.local_plane import LocalPlane
from tests.spectrum.conflicts.made import TODAY, WHIP, YAGI, link, station

CRITERIA = Criteria(decide_within_db=200.0, aggregate_depth_db=200.0)


def network(**changes: Any) -> Network:
    """On the equator: the victim looks north and hears, 11.1 km to its east, an antenna that looks to 300°."""
    one = {"latitude_deg": 0.0, "antenna": YAGI}
    return Network(
        as_of=TODAY,
        stations=[
            station(link(1), "A", longitude_deg=10.1, azimuth_deg=300.0, **one),
            station(link(1), "B", longitude_deg=10.1 - 0.1 * math.sqrt(3), **{**one, "latitude_deg": 0.1}, azimuth_deg=120.0),
            station(link(2), "A", longitude_deg=10.0, **{**one, "latitude_deg": 0.15}, azimuth_deg=180.0),
            station(link(2), "B", **{"longitude_deg": 10.0, "azimuth_deg": 0.0, **one, **changes}),
        ],
    )  # fmt: skip


def found(of: Network, kind: str = "co_channel") -> Interferers:
    return interferers_of(of, CRITERIA, Case(kind, rx=3, tx=None if kind == AGGREGATE_KIND else 0))


def drawn(of: Network) -> ConflictMap:
    picture = conflict_map(found(of).strongest, list(of.stations))
    assert picture is not None
    return picture


def numbers(path: str) -> list[float]:
    return [float(n) for n in re.findall(r"-?\d+\.?\d*", path)]


def spot(picture: ConflictMap, kind: str) -> tuple[float, float]:
    return next((s.x, s.y) for s in picture.spots if s.kind == kind)


def test_north_is_up_and_east_is_right_to_scale() -> None:
    picture = drawn(network())
    (vx, vy), (ix, iy) = spot(picture, "victim"), spot(picture, "interferer")
    width, text = picture.scale[1], picture.scale[2]
    per_km = width / float(text.removesuffix(" km"))

    assert iy == pytest.approx(vy, abs=0.15)
    # a tenth of a degree of longitude on the equator, WGS 84: 6378.137 km · 0.1° in radians
    assert (ix - vx) / per_km == pytest.approx(6378.137 * math.radians(0.1), rel=0.01)
    others = sorted((s.x, s.y) for s in picture.spots if s.kind == "other")
    assert len(others) == 2 and all(y < vy for _, y in others)
    assert others[1][0] == pytest.approx(vx, abs=0.15)


def test_boresights_and_arcs_stand_as_on_a_compass() -> None:
    picture = drawn(network())
    (vx, vy), (ix, iy) = spot(picture, "victim"), spot(picture, "interferer")
    interferer, victim = (numbers(path)[:4] for path in picture.boresights)

    assert victim == pytest.approx([vx, vy, vx, vy - BORESIGHT], abs=0.2)
    # 300°: 60° to the left of north
    left, up = BORESIGHT * math.sin(math.radians(60)), BORESIGHT * math.cos(math.radians(60))
    assert interferer == pytest.approx([ix, iy, ix - left, iy - up], abs=0.2)

    at_sender, at_victim = picture.arcs
    assert at_sender.degrees == pytest.approx(30.0, abs=0.05)
    assert at_victim.degrees == pytest.approx(90.0, abs=0.05)
    x1, y1, rx, _, _, large, sweep, x2, y2 = numbers(at_victim.path.replace("A", " ").replace("L", " "))
    assert (x1, y1) == pytest.approx((vx, vy - rx), abs=0.2) and (x2, y2) == pytest.approx(
        (vx + rx, vy), abs=0.2
    )
    assert (large, sweep) == (0, 1)
    x1, y1, rx, _, _, large, sweep, x2, y2 = numbers(at_sender.path)
    assert rx == ARC and (x2, y2) == pytest.approx((ix - ARC, iy), abs=0.2) and sweep == 0


def test_the_angles_are_those_of_the_budget() -> None:
    of = network()
    draft = next(
        d
        for d in interference_findings(of, CRITERIA).drafts
        if d.kind in NOISE_KINDS and d.parties == Parties(1, "A", 2, "B")
    )
    stated = {row.name: row.value for row in draft.evidence}
    (one,) = found(of).strongest

    assert stated["L-001/A: off axis toward the victim"] == one.sender_off_axis_deg
    assert stated["L-002/B: off axis toward the interferer"] == one.victim_off_axis_deg
    assert stated["Path length"] == one.length_km
    assert stated["Antenna gain toward the victim"] == one.sender_gain_dbi
    assert stated["Frequency-dependent rejection"] == -one.fdr_db
    assert stated["Interference at the receiver"] == one.level_dbm
    said = [text for placed in conflict_map([one], []).words for _, _, text in placed.rows]  # type: ignore[union-attr]
    assert f"{one.sender_off_axis_deg:.1f}°" in said and f"{one.victim_off_axis_deg:.1f}°" in said
    assert f"{one.length_km:.2f} km" in said


def test_a_beam_reaches_as_far_as_the_gain_of_the_antenna() -> None:
    picture = drawn(network())
    vx, vy = spot(picture, "victim")
    points = numbers(picture.beams[-1])
    radii = [math.hypot(x - vx, y - vy) for x, y in zip(points[::2], points[1::2], strict=True)]

    assert radii[0] == pytest.approx(BEAM, abs=0.2)
    # the made antenna is 20 dB down at 90°; the picture ends 30 dB below the full gain
    assert radii[30] == pytest.approx(BEAM / 3, abs=0.3)


def test_an_antenna_without_a_boresight_has_a_circle_and_no_arc() -> None:
    picture = drawn(network(antenna=WHIP, azimuth_deg=None))
    vx, vy = spot(picture, "victim")
    points = numbers(picture.beams[-1])
    radii = {round(math.hypot(x - vx, y - vy)) for x, y in zip(points[::2], points[1::2], strict=True)}

    assert len(picture.arcs) == 1 and len(picture.boresights) == 1
    assert len(radii) == 1


def test_no_words_overlap_and_all_stand_in_the_frame() -> None:
    picture = drawn(network())

    assert not any(a.box.overlaps(b.box) for a, b in combinations(picture.words, 2))
    for word in picture.words:
        assert word.box.left >= 0 and word.box.right <= WIDTH and word.box.top >= 0
        assert word.box.bottom <= picture.height


def test_far_ends_leave_through_the_frame_with_their_distance() -> None:
    """The victim 300 m from the interferer, its other end a degree north and a tenth west."""
    of = network(latitude_deg=0.0, longitude_deg=10.1 - 0.3 / 111.32)
    stations = [replace(s, latitude_deg=1.0) if (s.link.id, s.label) == (2, "A") else s for s in of.stations]
    picture = drawn(Network(as_of=TODAY, stations=stations))
    said = [text for word in picture.words for _, _, text in word.rows]

    assert "to S2A" in said, said
    assert "111.1 km" in said  # √(110.57² + 10.83²)
    assert all(0 <= s.x <= WIDTH and 0 <= s.y <= picture.height for s in picture.spots)
    assert picture.scale[2].endswith(" m")


def test_nothing_is_drawn_at_one_site() -> None:
    of = network(longitude_deg=10.1)
    assert conflict_map(found(of).strongest, list(of.stations)) is None


def test_a_sum_names_its_strongest_and_counts_all() -> None:
    def sender(n: int) -> StationRecord:
        return station(link(10 + n), "A", latitude_deg=0.0, longitude_deg=10.2 + n * 0.05, antenna=WHIP)

    base = network()
    of = Network(as_of=TODAY, stations=[*base.stations, *(sender(n) for n in range(5))])
    result = found(of, AGGREGATE_KIND)
    levels = [one.level_dbm for one in result.strongest]

    assert result.number == 6 and len(levels) == 4
    assert levels == sorted(levels, reverse=True)
    draft = next(
        d
        for d in interference_findings(of, CRITERIA).drafts
        if d.kind == AGGREGATE_KIND and d.parties.link_id == 2
    )
    stated = {row.name: row.value for row in draft.evidence}
    assert all(stated[one.sender.name] == pytest.approx(one.level_dbm) for one in result.strongest)


def test_a_hub_shows_its_nearest_remotes_and_says_how_many_more() -> None:
    hub = link(2, kind="ptmp")
    stations = [s if s.link.id == 1 else replace(s, link=hub) for s in network().stations]
    stations[3] = replace(stations[3], role="hub")
    stations[2] = replace(stations[2], role="remote")
    stations += [
        replace(stations[2], id=100 + n, label=f"R{n}", latitude_deg=0.2 + n * 0.01, site_id=100 + n)
        for n in range(4)
    ]
    picture = drawn(Network(as_of=TODAY, stations=stations))

    assert picture.more == ["2 further stations are on L-002; the nearest 3 are drawn."]


def test_the_plane_holds_across_the_date_line_and_turns_with_the_meridians() -> None:
    plane = LocalPlane.around([(0.0, 179.9), (0.0, -179.9)])
    assert abs(plane.longitude_deg) == pytest.approx(180.0)
    assert plane.km(0.0, -179.9)[0] == pytest.approx(6378.137 * math.radians(0.1), rel=1e-6)
    # at 60° north meridians converge by sin(60°) for each degree of longitude
    assert LocalPlane(60.0, 10.0).turned_deg(60.0, 11.0) == pytest.approx(
        -math.sin(math.radians(60)), abs=0.02
    )
