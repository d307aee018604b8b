"""Around midnight: pages go by the day where the reader is; files and programs by the register's."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from licences.models import Licence
from tests.made import Register
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db
LAST = dt.date(2026, 6, 1)
NEXT = dt.date(2026, 6, 2)


@pytest.fixture
def held() -> Licence:
    return Register().licence("L 1", expires_on=LAST)


@pytest.fixture(
    params=[("Europe/Vienna", 22, NEXT), ("UTC", 22, LAST), ("America/Denver", 28, LAST)], ids=lambda p: p[0]
)
def here(request: pytest.FixtureRequest) -> Iterator[tuple[Client, dt.date]]:
    """A registrar in a time zone at an hour of UTC of 1 June, and the day it is there: UTC+2, UTC, UTC-6."""
    zone, hour, day = request.param
    moment = dt.datetime(2026, 6, 1, tzinfo=dt.UTC) + dt.timedelta(hours=hour, minutes=30)
    with time_machine.travel(moment, tick=False):
        client = Client()
        client.force_login(person_of_role("registrar", time_zone=zone))
        yield client, day


def test_the_page_the_list_and_the_home_page(here: tuple[Client, dt.date], held: Licence) -> None:
    client, day = here
    page = client.get(reverse("licence", args=[held.pk])).content.decode()
    assert (f"its last day was {LAST}" in page) is (day == NEXT)
    assert (f"its last day is {LAST}, 0 days from now" in page) is (day == LAST)
    listed = client.get(reverse("licence-list"), {"standing": "expired"}).content.decode()
    assert ("AUT L 1" in listed) is (day == NEXT)
    assert f"standing on {day}" in client.get(reverse("licence-list")).content.decode()
    home = client.get(reverse("home")).content.decode()
    assert ("expired</td>" in home) is (day == NEXT)


def test_a_step_of_today_is_entered_on_the_page(here: tuple[Client, dt.date], held: Licence) -> None:
    client, day = here
    address = reverse("licence-step", args=[held.pk, "notify_use"])
    assert client.get(address).status_code == 200
    address = reverse("licence-step", args=[held.pk, "let_expire"])
    answer = client.post(address, {"on": str(day + dt.timedelta(days=1)), "version": held.version})
    assert "lies ahead" in answer.content.decode()
    address = reverse("licence-step", args=[held.pk, "correct"])
    typed = {
        "on": str(day),
        "version": held.version,
        "corrected": "fee_due_on",
        "value": "2027-01-01",
        "note": "n",
    }
    assert client.post(address, typed).status_code == 302


def test_programs_are_answered_by_the_registers_day(here: tuple[Client, dt.date], held: Licence) -> None:
    client, _day = here
    utc = dt.datetime.now(dt.UTC).date()
    answer = client.get(f"/api/v1/licences/{held.pk}/steps/").json()
    assert (answer["standing"] == "expired") is (utc > LAST)
    taken = {"step": "let_expire", "on": str(NEXT + dt.timedelta(days=1)), "version": held.version}
    refused = client.post(f"/api/v1/licences/{held.pk}/steps/", taken, content_type="application/json")
    assert "lies ahead" in refused.content.decode()
