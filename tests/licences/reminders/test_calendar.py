"""The calendar at its secret address, read by vobject: a library that had no part in writing it.

What a calendar has to have: RFC 5545, 3.6 (VERSION, PRODID), 3.6.1 (UID, DTSTAMP, DTSTART), 3.1 (lines
of at most 75 octets, CRLF), 3.8.2.2 (the end of an event of whole days is the day after its last).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
import vobject
from django.test import Client
from django.urls import reverse

from licences.models import Holder, Licence, ReminderSettings
from sites.models import Person
from sites.services import record
from tests.licences.reminders.made import BY

pytestmark = pytest.mark.django_db


@pytest.fixture
def feed(mira: Person, settings: Any) -> str:
    settings.REGISTER_ADDRESS = "https://register.tarn.example"
    return address_of(mira)


def address_of(person: Person) -> str:
    client = Client()
    client.force_login(person)
    client.post(reverse("reminder-calendar-renew"))
    page = client.get(reverse("reminder-settings"))
    return str(page.context["calendar"]).removeprefix("https://register.tarn.example")


def events(feed: str) -> dict[str, Any]:
    answer = Client().get(feed)
    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    calendar = vobject.readOne(answer.content.decode())
    calendar.validate(raiseException=True)
    found = getattr(calendar, "vevent_list", [])
    return {event.uid.value: event for event in found}


def test_each_coming_day_is_an_event_of_a_whole_day(feed: str, new_licence: Callable[..., Licence]) -> None:
    licence = new_licence(fee_due_on=dt.date(2026, 12, 10))
    found = events(feed)
    days = {uid.split("@")[0].split(".")[1]: event.dtstart.value for uid, event in found.items()}
    assert days == {
        "window_opens": dt.date(2026, 10, 2),
        "last_filing": dt.date(2026, 12, 1),
        "fee": dt.date(2026, 12, 10),
        "expires": dt.date(2026, 12, 31),
    }
    event = found[f"licence-{licence.pk}.expires@register.tarn.example"]
    assert event.dtend.value == dt.date(2027, 1, 1)
    assert event.summary.value == "SPA 4711: expires"
    assert event.transp.value == "TRANSPARENT"
    assert event.url.value == f"https://register.tarn.example/licences/{licence.pk}/"
    assert event.dtstamp.value == licence.changed_at.replace(microsecond=0)


def test_an_event_that_moves_keeps_its_identity_and_counts_on(
    feed: str, new_licence: Callable[..., Licence]
) -> None:
    licence = new_licence()
    before = events(feed)
    licence.expires_on = dt.date(2027, 12, 31)
    record.change(licence, by=BY)
    after = events(feed)
    assert set(before) == set(after)
    uid = f"licence-{licence.pk}.expires@register.tarn.example"
    assert after[uid].dtstart.value == dt.date(2027, 12, 31)
    assert int(after[uid].sequence.value) == int(before[uid].sequence.value) + 1


def test_text_that_a_calendar_has_to_escape_comes_back_whole(
    feed: str, new_licence: Callable[..., Licence]
) -> None:
    number = "4711; part 2, “Höhe” \\ " + "ä" * 30
    new_licence(number, expires_on=dt.date(2026, 12, 31))
    (expiry,) = (e for uid, e in events(feed).items() if ".expires" in uid)
    assert expiry.summary.value == f"SPA {number}: expires"
    body = Client().get(feed).content
    lines = body.split(b"\r\n")
    assert all(len(line) <= 75 for line in lines)
    assert b"\n" not in body.replace(b"\r\n", b"")


def test_the_calendar_has_what_its_owner_would_be_reminded_of(
    feed: str, new_licence: Callable[..., Licence], manager: Person
) -> None:
    mine = new_licence("mine")
    nobodys = new_licence("nobodys", responsible=None)
    new_licence("ended", ended_on=dt.date(2025, 1, 1))
    new_licence("another's", holder=record.create(Holder(name="Fell Water Works"), by=BY))

    def licences(address: str) -> set[int]:
        return {int(uid.split("-")[1].split(".")[0]) for uid in events(address)}

    assert licences(feed) == {mine.pk}
    assert licences(address_of(manager)) == {nobodys.pk}


def test_nothing_new_is_answered_without_the_calendar(feed: str, new_licence: Callable[..., Licence]) -> None:
    licence = new_licence()
    first = Client().get(feed)
    again = Client().get(feed, headers={"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    licence.expires_on = dt.date(2027, 12, 31)
    record.change(licence, by=BY)
    assert Client().get(feed, headers={"If-None-Match": first["ETag"]}).status_code == 200


def test_a_renewed_address_voids_the_old_one(feed: str, mira: Person) -> None:
    new = address_of(mira)
    assert new != feed
    assert Client().get(feed).status_code == 404
    assert Client().get(new).status_code == 200


def test_no_address_answers_for_who_asked_for_none_or_left(feed: str, mira: Person, manager: Person) -> None:
    assert not ReminderSettings.objects.filter(person=manager).exists()
    assert Client().get("/calendar/made-up.ics").status_code == 404
    mira.is_active = False
    record.change(mira, by=BY)
    assert Client().get(feed).status_code == 404


def test_the_secret_stands_in_no_record(feed: str, mira: Person) -> None:
    from sites.models import ChangeRecord

    token = feed.rsplit("/", maxsplit=1)[-1].removesuffix(".ics")
    signature = token.split(".")[-1]
    assert not any(signature in str(entry.changes) for entry in ChangeRecord.objects.all())
