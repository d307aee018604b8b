"""What the register of our own lacks, contradicts itself in, pays for and does not use; and the page of it."""

from __future__ import annotations

import csv
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from licences.models import Holder, Licence
from sites.services import record
from spectrum.models import CommissioningRecord, Link, Station
from spectrum.roles import REGISTRAR, VIEWER
from spectrum.services.completeness import Gap, report, yearly_cost
from tests.made import DAY, TESTS, TODAY, Register, site
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db


def cases() -> dict[str, list[Gap]]:
    return {part.code: part.gaps for part in report(TODAY)}


def named(code: str) -> list[str]:
    return [str(gap.obj) for gap in cases()[code]]


@pytest.fixture
def register() -> Register:
    return Register()


def licensed_link(register: Register, licence: Licence, code: str = "K-1", **changes: Any) -> Link:
    """A link on the air whose end A relies on a channel of the licence; end B only listens."""
    here, there = site(f"{code}-1"), site(f"{code}-2", 47.2, 14.2)
    channel = register.channel(licence, code, site=here)
    link = register.link(code, here, there, **{"status": Link.Status.ON_AIR, **changes})
    a, b = Station.objects.filter(link=link).order_by("label")
    a.licensed_channel = channel
    b.tx_frequency_hz, a.rx_frequency_hz = None, None
    for station in (b, a):
        record.change(station, by=TESTS)
    return link


def test_an_empty_register_lacks_nothing() -> None:
    assert all(gaps == [] for gaps in cases().values())


def test_missing_fields_are_counted_by_object_and_field(register: Register) -> None:
    site("S1", ground_height_m=None, position_source="estimate", position_accuracy_m=30.0)
    site("S2", position_source="survey")
    site("THEIRS", own=False, ground_height_m=None)
    licence = register.licence("L-1")
    register.channel(
        licence, power_limit_dbm=None, emission_designators=[], tolerance_m=None, site=site("S3")
    )
    assert named("site_ground") == ["S1 Place S1"]
    assert named("site_position") == ["S1 Place S1", "S3 Place S3"]
    assert named("site_accuracy") == ["S2 Place S2", "S3 Place S3"]
    assert named("licence_responsible") == named("licence_fee") == ["AUT L-1"]
    assert (
        len(named("channel_power")) == len(named("channel_emission")) == len(named("channel_tolerance")) == 1
    )


def test_positions_are_listed_beyond_the_licences_tolerance_farthest_first(register: Register) -> None:
    licence = register.licence("L-1")
    mast = site("S1", position_source="survey")
    for label, latitude_deg in (("near", 47.0005), ("far", 47.01), ("farther", 47.1)):
        register.channel(
            licence, label, site=mast, latitude_deg=latitude_deg, longitude_deg=14.0, tolerance_m=100.0
        )
    gaps = cases()["positions"]
    assert [gap.obj.label for gap in gaps] == ["farther", "far"]
    # 0.01° of the meridian at 47° north is 1111.8 m (WGS 84, by the radius of curvature there, 6 370 140 m).
    assert gaps[1].apart_m == pytest.approx(1111.8, abs=0.2)
    assert "surveyed" in gaps[0].said


def test_names_spelt_twice_and_places_entered_twice_are_listed(register: Register) -> None:
    record.create(Holder(name="OTHER PARTY."), by=TESTS)
    site("S1")
    site("S2", 47.0005)
    site("S3", 47.01)
    assert named("names") == ["OTHER PARTY."]
    assert named("places") == ["S2 Place S2"]


def test_an_unused_licence_costs_its_fee_and_can_be_surrendered(register: Register) -> None:
    idle = register.licence("IDLE", yearly_fee=Decimal("480.00"), fee_currency="EUR")
    register.channel(idle, "1", site=site("S1"))
    other = register.licence("ALSO", yearly_fee=Decimal("20.50"), fee_currency="EUR")
    register.channel(other, "1", site=site("S2", 48.0))
    abroad = register.licence("ABROAD", yearly_fee=Decimal("7"), fee_currency="CHF")
    register.channel(abroad, "1", site=site("S3", 49.0))
    ended = register.licence("ENDED", yearly_fee=Decimal("1000"), fee_currency="EUR", ended_on=TODAY - DAY)
    register.channel(ended, "1", site=site("S4", 50.0))
    gaps = cases()["unused"]
    assert [str(gap.obj) for gap in gaps] == ["AUT ABROAD", "AUT ALSO", "AUT IDLE"]
    assert yearly_cost(gaps) == [(Decimal("7"), "CHF"), (Decimal("500.50"), "EUR")]
    assert gaps[2].step == ("licence-step", (idle.pk, "surrender"))


def test_of_a_licence_in_use_only_the_idle_channel_is_listed_without_the_fee(register: Register) -> None:
    licence = register.licence("L-1", yearly_fee=Decimal("480"), fee_currency="EUR")
    licensed_link(register, licence)
    idle = register.channel(licence, "spare", site=site("S9", 48.0))
    [gap] = cases()["unused"]
    assert (gap.obj, gap.fee) == (idle, None)
    assert gap.step == ("licensed-channel-step", (idle.pk, "surrender"))


def test_stations_on_the_air_without_a_licence_in_force(register: Register) -> None:
    licence = register.licence("L-1", expires_on=TODAY - DAY)
    licensed_link(register, licence)
    register.link("BARE", site("S1", 48.0), site("S2", 48.2), status=Link.Status.ON_AIR)
    register.link("PLAN", site("S3", 49.0), site("S4", 49.2), status=Link.Status.PLANNED)
    assert sorted(named("unlicensed")) == ["BARE/A", "BARE/B", "K-1/A"]


def test_granted_and_not_built_says_how_long_is_left(register: Register) -> None:
    register.licence("L-1", bring_into_use_by=TODAY + 10 * DAY)
    licensed_link(register, register.licence("BUILT"))
    [gap] = cases()["not_built"]
    assert (str(gap.obj), gap.said) == ("AUT L-1", f"to be in use by {TODAY + 10 * DAY}, 10 days from now")


def test_a_retired_link_whose_licence_runs_on_is_abandoned(register: Register) -> None:
    licensed_link(register, register.licence("L-1"), status=Link.Status.RETIRED, ends_on=TODAY - 30 * DAY)
    licensed_link(register, register.licence("L-2"), "K-2")
    [gap] = cases()["abandoned"]
    assert gap.said == f"link K-1 is retired since {TODAY - 30 * DAY}"
    assert gap.step is not None


def test_a_station_nobody_recorded_on_site_is_listed_until_somebody_did(register: Register) -> None:
    link = licensed_link(register, register.licence("L-1"))
    assert named("unseen") == ["K-1/A"]
    station = Station.objects.get(link=link, label="A")
    record.create(
        CommissioningRecord(station=station, found_on=TODAY, found_by="falk", tx_power_dbm=37.0), by=TESTS
    )
    assert named("unseen") == []


def test_the_number_of_queries_does_not_grow(register: Register) -> None:
    def entered(n: int) -> None:
        licensed_link(register, register.licence(f"L-{n}"), f"K-{n}")
        register.channel(register.licence(f"IDLE-{n}"), site=site(f"I-{n}", 51.0 + n))

    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            for part in report(TODAY):
                [str(gap.obj) for gap in part.gaps]
        return len(queries)

    entered(1)
    few = asked()
    for n in range(2, 6):
        entered(n)
    assert asked() == few < 30


class TestPage:
    def test_it_says_first_how_many_cases_and_what_unused_licences_cost(
        self, client: Client, register: Register
    ) -> None:
        idle = register.licence(
            "IDLE", yearly_fee=Decimal("480"), fee_currency="EUR", expires_on=TODAY + 5000 * DAY
        )
        register.channel(idle, "1", site=site("S1"))
        client.force_login(person_of_role(REGISTRAR))
        said = client.get(reverse("completeness")).content.decode()
        assert "Licences that no link uses cost 480.00 EUR a year." in said
        assert reverse("licence-step", args=[idle.pk, "surrender"]) in said
        assert reverse("licence", args=[idle.pk]) in said

    def test_one_part_has_its_own_address_and_its_own_file(self, client: Client, register: Register) -> None:
        for n in range(12):
            site(f"S{n}", 47.0 + n, ground_height_m=None)
        client.force_login(person_of_role(VIEWER))
        assert (
            "S11 Place S11" in client.get(reverse("completeness"), {"part": "site_ground"}).content.decode()
        )
        sent: Any = client.get(reverse("completeness"), {"part": "site_ground", "format": "csv"})
        rows = list(csv.DictReader(b"".join(sent.streaming_content).decode("utf-8-sig").splitlines()))
        assert len(rows) == 12
        assert rows[0]["address"].endswith("/")
        whole: Any = client.get(reverse("completeness"), {"format": "xlsx"})
        assert b"".join(whole.streaming_content).startswith(b"PK")

    def test_what_it_does_not_have_is_said(self, client: Client) -> None:
        client.force_login(person_of_role(VIEWER))
        answer = client.get(reverse("completeness"), {"part": "colour"})
        assert "has no part “colour”" in answer.content.decode()
        assert client.get(reverse("completeness"), {"format": "pdf"}).status_code == 422
