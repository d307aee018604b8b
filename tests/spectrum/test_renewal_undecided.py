"""A renewal filed in time and undecided after the expiry: every place that asks for validity answers as the rule does.

The rule is the authority's: 47 CFR 1.62(a)(1) lets such a licence continue until the final determination; elsewhere it
ends on its day.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from licences import selectors
from licences.life import Step, Taken
from licences.models import Licence
from licences.services.life import take_step
from licences.services.reminders.calendar import calendar_of
from licences.standing import Standing
from sites.services import record
from spectrum.commissioning import commissioning_sheet
from spectrum.models import Finding, Link, Station
from spectrum.occupancy import Band
from spectrum.places import stations_in_order
from spectrum.services.checks import check_network
from spectrum.services.completeness import report
from spectrum.services.occupancy import Places, occupancy
from spectrum.site_pack.pack import site_pack
from tests.made import DAY, TESTS, TODAY, Register, site
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db
LAST, FILED = TODAY - 20 * DAY, TODAY - 60 * DAY
BAND = [Band(409_000_000, 421_000_000)]


@pytest.fixture(autouse=True)
def _the_day():
    with time_machine.travel(dt.datetime.combine(TODAY, dt.time(12)), tick=False):
        yield


@pytest.fixture(params=[True, False], ids=["continues", "ends on its day"])
def lets(request: pytest.FixtureRequest) -> bool:
    return bool(request.param)


@pytest.fixture
def held(lets: bool) -> Licence:
    """A licence whose renewal was filed in time, with a link on the air that relies on its channel."""
    register = Register()
    policy = register.authority.renewal_policy
    policy.continues_while_undecided = lets
    record.change(policy, by=TESTS)
    here, there = site("S1"), site("S2", 47.1, 14.1)
    licence = register.licence(
        "L 1", expires_on=LAST, responsible=person_of_role("registrar", email="r@example.org"),
        yearly_fee=100, fee_due_on=TODAY + 5 * DAY,
    )  # fmt: skip
    link = register.link("K-1", here, there, status=Link.Status.ON_AIR)
    # The paper repeats the licence's last day on one channel; that is no end of its own.
    for station, own in zip(stations_in_order(link), (None, LAST), strict=True):
        station.licensed_channel = register.channel(
            licence, station.label, site=station.site, expires_on=own, power_limit_dbm=45.0,
            frequency_hz=station.tx_frequency_hz,
        )  # fmt: skip
        record.change(station, by=TESTS)
    return enter(licence, Step.FILE_RENEWAL, FILED)


def enter(licence: Licence, step: Step, on: dt.date, **more: Any) -> Licence:
    stored = Licence.objects.get(pk=licence.pk)
    take_step(stored, Taken(step=step, on=on, **more), by=TESTS, today=TODAY)
    return Licence.objects.get(pk=licence.pk)


def kinds(day: dt.date) -> set[str]:
    check_network(as_of=day)
    found = Finding.objects.filter(gone_at=None, kind__regex="licen|renewal|fee")
    return set(found.values_list("kind", flat=True))


def in_force(day: dt.date) -> bool:
    return selectors.in_force_on(Licence.objects.all(), day).exists()


def test_the_checks(lets: bool, held: Licence) -> None:
    assert kinds(TODAY) == ({"renewal_undecided", "fee_due"} if lets else {"licence_expired"})


def test_who_holds_the_band_and_what_is_built_without_a_licence(lets: bool, held: Licence) -> None:
    found = occupancy(BAND, Places(), TODAY).held
    assert [(h.licence_id, h.until) for h in found] == [(held.pk if lets else None, None)] * 2
    gaps = {part.code: len(part.gaps) for part in report(TODAY)}
    assert gaps["unlicensed"] == (0 if lets else 2)
    link = Link.objects.get()
    link.status, link.ends_on = Link.Status.RETIRED, TODAY - DAY
    record.change(link, by=TESTS)
    gaps = {part.code: len(part.gaps) for part in report(TODAY)}
    assert gaps["abandoned"] == (2 if lets else 0)


def test_the_sheet_the_pack_and_the_calendar(lets: bool, held: Licence) -> None:
    link = Link.objects.get()
    reasons = commissioning_sheet(link, stations_in_order(link), [], TODAY).reasons
    assert any(f"ended on {LAST}" in reason for reason in reasons) is not lets
    words = {
        part.channels[0].lines[0].value for part in site_pack(link.stations.all()[0].site, TODAY).licences
    }
    assert words == {(Standing.CONTINUES if lets else Standing.EXPIRED).words}
    assert held.responsible is not None
    text = calendar_of(held.responsible).decode().replace("\r\n ", "")
    assert ("stays in force until the renewal is decided" in text) is lets
    assert ("fee due" in text) is lets
    assert bool(selectors.fees_due(TODAY + 30 * DAY)) is lets


def test_the_pages(lets: bool, held: Licence, client: Client) -> None:
    client.force_login(person_of_role("manager"))
    page = client.get(reverse("licence", args=[held.pk])).content.decode()
    assert (f"its last day was {LAST}, the renewal was filed on {FILED}" in page) is lets
    assert "Enter the refusal" not in page, "a manager enters no steps"
    assert Standing.CONTINUES.words in page or not lets
    home = client.get(reverse("home")).content.decode()
    assert "AUT L 1" in home
    authority = client.get(reverse("authority", args=[held.authority_id])).content.decode()
    assert ("a licence stays in force until it is decided" in authority) is lets
    listed = client.get(reverse("licence-list"), {"standing": "continues", "on": str(TODAY)}).content.decode()
    assert ("AUT L 1" in listed) is lets
    channel = client.get(reverse("licensed-channel", args=[held.channels.order_by("label")[1].pk]))
    assert (Standing.CONTINUES.words in channel.content.decode()) is lets


def test_the_past_after_a_renewal(lets: bool, held: Licence) -> None:
    enter(held, Step.RENEW, TODAY - 2 * DAY, until=LAST + 1000 * DAY)
    assert [in_force(day) for day in (LAST, LAST + DAY, TODAY - 3 * DAY)] == [True, lets, lets]
    assert in_force(TODAY - 2 * DAY)
    undecided = Licence.objects.filter(selectors.has_standing(Standing.CONTINUES, TODAY - 3 * DAY))
    assert undecided.exists() is lets
    assert "renewal_undecided" not in kinds(TODAY)
    assert ("renewal_undecided" in kinds(TODAY - 3 * DAY)) is lets


def test_a_refusal(lets: bool, held: Licence) -> None:
    refused = enter(held, Step.REFUSE_RENEWAL, TODAY - 2 * DAY)
    assert [in_force(day) for day in (LAST, TODAY - 3 * DAY, TODAY - 2 * DAY)] == [True, lets, False]
    wanted = Standing.REFUSED if lets else Standing.EXPIRED
    assert selectors.standing_on(refused, TODAY) is wanted
    assert kinds(TODAY) == ({"station_without_licence"} if lets else {"licence_expired"})


def test_a_licence_that_says_otherwise_than_its_authority(lets: bool, held: Licence) -> None:
    held.while_undecided = Licence.WhileUndecided.ENDS if lets else Licence.WhileUndecided.CONTINUES
    record.change(held, by=TESTS)
    assert in_force(TODAY) is not lets
    assert Station.objects.filter(licensed_channel__licence=held).count() == 2
    assert ("renewal_undecided" in kinds(TODAY)) is not lets
