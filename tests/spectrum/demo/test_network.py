"""What the demo consists of."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from django.db.models import Count

from licences.emissions import parse
from licences.life import broken_invariants
from licences.models import Authority, Licence, LicenceEvent
from licences.selectors import in_force_on, standing_on, terms_of
from licences.standing import Standing
from sites.models import AntennaType, ChangeRecord, Site
from sites.positions import parse_position
from sites.terrain.synthetic import valley_heights
from spectrum.demo.parties import OWN
from spectrum.demo.places import BOUNDS, SEED
from spectrum.models import Link, RadioMask, RadioMode, Station
from tests.spectrum.demo.conftest import Demo

pytestmark = pytest.mark.django_db


def test_it_is_as_large_as_it_says(demo: Demo) -> None:
    assert Site.objects.count() >= 80
    assert Site.objects.filter(own=False).count() >= 20
    assert Link.objects.count() == demo.built.links >= 200
    assert Link.objects.filter(holder__own=False).count() >= 50
    assert Licence.objects.count() == demo.built.licences >= 120
    assert Station.objects.count() == demo.built.stations
    kinds = dict(Link.objects.values_list("kind").annotate(Count("id")))
    assert kinds["ptmp"] >= 3
    bands = {
        code[:3]
        for code in Link.objects.exclude(channel_plan=None).values_list("channel_plan__code", flat=True)
    }
    assert bands == {"U41", "U45", "V16", "M7-", "L07"}


def test_every_link_of_another_party_says_what_is_assumed(demo: Demo) -> None:
    assert not Link.objects.filter(holder__own=False, assumptions="").exists()


def test_the_two_authorities_renew_differently(demo: Demo) -> None:
    policies = [authority.renewal_policy for authority in Authority.objects.select_related("renewal_policy")]
    assert len(policies) == 2
    for name in ("window_opens_days", "last_filing_days", "reminder_steps_days", "unused_after_days"):
        assert getattr(policies[0], name) != getattr(policies[1], name)


def test_nearly_all_licences_are_in_force_on_the_day_it_is_built(demo: Demo) -> None:
    others = Licence.objects.exclude(pk__in=in_force_on(Licence.objects.all(), demo.today))
    states = Counter(standing_on(each, demo.today) for each in others)
    assert states == {
        Standing.EXPIRED: 1, Standing.NOT_YET_IN_FORCE: 1, Standing.APPLIED: 1, Standing.SURRENDERED: 1,
        Standing.CANCELLED: 1, Standing.LAPSED: 1, Standing.REFUSED: 1,
    }  # fmt: skip


def test_there_are_licences_in_every_state_with_the_steps_that_led_there(demo: Demo) -> None:
    states = {standing_on(each, demo.today) for each in Licence.objects.all()}
    assert states == set(Standing) - {Standing.FILING_MISSED, Standing.ENDED}
    assert {event.step for event in LicenceEvent.objects.all()} >= {
        "file_renewal", "renew", "refuse_renewal", "let_expire", "transfer", "surrender", "cancel", "lapse", "bring_into_use",
    }  # fmt: skip
    for licence in Licence.objects.filter(holder__own=True).select_related("authority__renewal_policy"):
        assert broken_invariants(licence.life, terms_of(licence)) == [], licence


def test_ground_heights_are_those_of_the_invented_relief(demo: Demo) -> None:
    """The same function writes the terrain tiles; positions are rounded to some metres."""
    west, south, east, north = BOUNDS
    sites = list(Site.objects.exclude(code="X40"))
    across = np.array([(s.longitude_deg - west) / (east - west) for s in sites])
    down = np.array([(north - s.latitude_deg) / (north - south) for s in sites])
    relief = np.diagonal(valley_heights(across, down, SEED))
    assert np.abs(relief - [s.ground_height_m for s in sites]).max() < 5.0


def test_what_was_typed_for_a_position_gives_the_position(demo: Demo) -> None:
    sites = Site.objects.exclude(code="X40")
    assert len({site.position_notation for site in sites}) == 3
    for site in sites:
        position = parse_position(site.position_typed, epsg=site.position_epsg)
        assert position.latitude_deg == pytest.approx(site.latitude_deg, abs=1e-9)
        assert position.longitude_deg == pytest.approx(site.longitude_deg, abs=1e-9)


def test_designators_state_the_occupied_bandwidth_and_fit_the_channel(demo: Demo) -> None:
    """RR Appendix 1 writes the necessary bandwidth with three figures."""
    modes = list(RadioMode.objects.all())
    assert {12_500, 25_000, 50_000, 200_000, 300_000} <= {mode.channel_width_hz for mode in modes}
    for mode in modes:
        stated = parse(mode.emission_designator)
        assert stated.necessary_bandwidth_hz == pytest.approx(mode.occupied_bandwidth_hz, rel=0.005)
        assert mode.occupied_bandwidth_hz <= mode.channel_width_hz
        angle = {"4-FSK": "F", "QPSK": "G"}.get(mode.modulation, "D")
        assert stated.class_of_emission == f"{angle}1D"


def test_what_is_invented_says_so(demo: Demo) -> None:
    assert all("nvented" in notes for notes in AntennaType.objects.values_list("notes", flat=True))
    sources = set(RadioMask.objects.values_list("source", flat=True))
    assert all("invented" in source or "90.210" in source for source in sources)


def test_no_own_site_hears_in_the_band_half_in_which_it_sends(demo: Demo) -> None:
    """Below 1 GHz; V41 and V38 carry the stopgap without a relay, which is the exception."""
    halves: dict[tuple[int, str], set[str]] = {}
    stations = Station.objects.filter(link__holder__name=OWN, tx_frequency_hz__lt=1_000_000_000)
    for station in stations.exclude(link__code="U45-303").select_related("link__channel_plan"):
        plan = station.link.channel_plan
        assert plan is not None
        half = "high" if station.role in ("b", "hub") else "low"
        halves.setdefault((station.site_id, plan.code[:3]), set()).add(half)
    both = [place for place, used in halves.items() if len(used) > 1]
    assert both == []


def test_everything_written_is_on_record(demo: Demo) -> None:
    written = ChangeRecord.objects.filter(by_name="demo network", action="create")
    assert written.filter(object_type="spectrum.station").count() == demo.built.stations
    assert written.filter(object_type="licences.licence").count() == demo.built.licences
