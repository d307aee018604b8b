"""The columns around a link hold all that the whole network holds for its check."""

from __future__ import annotations

from typing import Any

import pytest

from spectrum.conflicts.gather import criteria_in_force, whole_network
from spectrum.conflicts.interference import interference_findings
from spectrum.demo.build import build
from spectrum.models import Finding, Link
from spectrum.services.checks import check_link, check_network
from spectrum.services.link_surroundings import interference_around, network_near, victims_of
from spectrum.services.links import save_link
from tests.made import TESTS, TODAY, Register, site

pytestmark = pytest.mark.django_db


def test_what_a_link_s_surroundings_find_is_its_part_of_the_whole() -> None:
    build(TODAY)
    criteria, whole = criteria_in_force(), whole_network(TODAY)
    links = Link.objects.filter(status__in=Link.LIVE).order_by("code")
    seen = 0
    for link in links[::12]:
        expected = interference_findings(whole, criteria, link_id=link.pk).drafts
        found = interference_around(link, TODAY, criteria, (), None).drafts
        assert {d.identity: (d.headline, d.margin) for d in found} == {
            d.identity: (d.headline, d.margin) for d in expected
        }
        seen += len(found)
    assert seen > 0


def test_the_check_of_a_link_leaves_what_a_check_of_the_network_would() -> None:
    build(TODAY)
    check_network(as_of=TODAY)
    before = {f.identity: f.headline for f in Finding.objects.filter(gone_at=None)}
    for link in Link.objects.filter(findings__isnull=False).distinct()[:6]:
        check_link(link.pk, as_of=TODAY)
    assert {f.identity: f.headline for f in Finding.objects.filter(gone_at=None)} == before


def test_sums_are_made_again_where_the_link_sends_or_sent(django_assert_max_num_queries: Any) -> None:
    register = Register()
    here, there = site("S1"), site("S2", 47.2)
    mover = register.link("L-1", here, there)
    same = register.link("L-2", site("S3"), site("S4", 47.3))
    elsewhere = register.link("L-3", site("S5"), site("S6", 47.4), stations={"rx_frequency_hz": 455_000_000})
    among = {mover.pk, same.pk, elsewhere.pk}
    assert victims_of(mover, among) == {mover.pk, same.pk}
    stations = list(mover.stations.order_by("label"))
    for station in stations:
        station.tx_frequency_hz = 455_000_000
    save_link(mover, stations, by=TESTS, clashes_are_findings=True)
    assert victims_of(mover, among) == among
    with django_assert_max_num_queries(10):
        network_near(mover, TODAY)
    with django_assert_max_num_queries(20):
        interference_around(mover, TODAY, criteria_in_force(), among, None)
