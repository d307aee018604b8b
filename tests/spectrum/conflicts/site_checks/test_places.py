"""Who stands near whom: equal to distances taken pair by pair, everywhere on the earth."""

from __future__ import annotations

import numpy as np
import pytest

from sites.geodesy import inverse
from spectrum.conflicts.network import Network
from spectrum.conflicts.site_checks import AtSites
from spectrum.conflicts.site_checks.records import places
from tests.spectrum.conflicts.made import TODAY
from tests.spectrum.conflicts.site_checks.made import CRITERIA, at_one_site


@pytest.mark.parametrize(
    "centre", [(47.0, 14.0), (0.0, 180.0), (89.9995, 20.0), (-89.9995, 179.0), (60.0, -180.0)]
)
def test_neighbours_are_those_by_distance(centre: tuple[float, float]) -> None:
    rng = np.random.default_rng(5)
    stations = []
    for number in range(60):
        latitude = min(max(centre[0] + float(rng.normal(0.0, 0.005)), -90.0), 90.0)
        longitude = (centre[1] + float(rng.normal(0.0, 0.008)) + 180.0) % 360.0 - 180.0
        stations.append(
            at_one_site(number, 410.0, 420.0, site_id=number, latitude_deg=latitude, longitude_deg=longitude)
        )
    found = {p.site_id: p for p in places(AtSites(Network(TODAY, stations)), CRITERIA)}
    assert len(found) == 60
    north = np.array([s.latitude_deg for s in stations])
    east = np.array([s.longitude_deg for s in stations])
    near = 0
    for number, place in found.items():
        length, _, _ = inverse(np.full(60, north[number]), np.full(60, east[number]), north, east)
        expected = set(np.flatnonzero(length <= CRITERIA.near_site_within_m).tolist())
        assert set(place.near.tolist()) == expected
        assert place.apart_m == pytest.approx(length[place.near], abs=0.001)
        near += len(expected)
    assert near > 60


def test_only_the_sites_asked_for_are_judged() -> None:
    stations = [at_one_site(n, 410.0, 420.0, site_id=n) for n in (1, 2, 3)]
    at = AtSites(Network(TODAY, stations), sites=frozenset({2}))
    (place,) = places(at, CRITERIA)
    assert (place.site_id, len(place.here), len(place.near)) == (2, 1, 3)


def test_an_empty_network_has_no_place() -> None:
    assert list(places(AtSites(Network(TODAY, [])), CRITERIA)) == []
