"""The pages of reminders: the list, one reminder with its answers, and how a person is reminded."""

from __future__ import annotations

from collections.abc import Callable

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from licences.models import Licence, Reminder, ReminderSettings
from licences.services import reminders
from sites.models import Person
from sites.services import record
from tests.licences.reminders.made import BY, at
from tests.made import person

pytestmark = pytest.mark.django_db


@pytest.fixture
def sent(new_licence: Callable[..., Licence], mira: Person) -> Reminder:
    new_licence()
    reminders.remind(at("2026-11-02"))
    return Reminder.objects.get(state="sent")


def pages_of(who: Person) -> Client:
    client = Client()
    client.force_login(who)
    return client


@pytest.fixture
def reader() -> Person:
    return person("vera", "licences.view_reminder")


def listed(client: Client, **asked: str) -> int:
    return int(client.get(reverse("reminder-list"), asked).context["page"].paginator.count)


def test_the_list_tells_answered_from_unanswered(sent: Reminder, reader: Person, mira: Person) -> None:
    client = pages_of(reader)
    assert [listed(client, stands=s) for s in ("open", "acknowledged", "put_off", "over")] == [1, 0, 0, 1]
    assert "1 sent and not answered." in client.get(reverse("reminder-list")).content.decode()
    reminders.acknowledge(sent, by=mira, author=BY)
    assert [listed(client, stands=s) for s in ("open", "acknowledged", "put_off", "over")] == [0, 1, 0, 1]
    assert listed(client, mine="mine") == 0
    assert "acknowledged by Mira Holt on" in client.get(reverse("reminder-list")).content.decode()


@time_machine.travel(at("2026-11-02"), tick=False)
def test_who_was_reminded_answers_and_others_do_not(sent: Reminder, reader: Person, mira: Person) -> None:
    page = reverse("reminder", args=[sent.pk])
    assert "Acknowledge</button>" not in pages_of(reader).get(page).content.decode()
    assert pages_of(reader).post(page, {"answer": "acknowledge"}).status_code == 403
    record_of = person("remi", "licences.view_reminder", "licences.answer_reminder")
    assert pages_of(record_of).get(page).context["may"]
    answer = pages_of(record_of).post(
        page, {"answer": "put_off", "until": "2026-11-09", "reason": "The owner is asked."}
    )
    assert answer.status_code == 302
    text = pages_of(reader).get(page).content.decode()
    assert "Put off until 2026-11-09: The owner is asked." in text


@time_machine.travel(at("2026-11-02"), tick=False)
def test_what_is_wrong_stands_beside_its_field_and_what_was_typed_is_kept(sent: Reminder) -> None:
    remi = person("remi", "licences.view_reminder", "licences.answer_reminder")
    page = reverse("reminder", args=[sent.pk])
    answer = pages_of(remi).post(page, {"answer": "put_off", "until": "2027-02-01", "reason": "Waiting"})
    assert answer.status_code == 422
    assert "and not after 2026-12-01 was expected" in answer.content.decode()
    assert 'value="Waiting"' in answer.content.decode()


def test_a_person_chooses_and_the_change_record_has_it(mira: Person) -> None:
    client = pages_of(mira)
    chosen = {
        "rhythm": "weekly",
        "weekday": "4",
        "hour": "14",
        "time_zone": "Europe/Vienna",
        "topics": ["fee"],
    }
    assert client.post(reverse("reminder-settings"), chosen).status_code == 302
    stored = ReminderSettings.objects.get(person=mira)
    assert (stored.rhythm, stored.weekday, stored.hour, stored.topics) == ("weekly", 4, 14, ["fee"])
    mira.refresh_from_db()
    assert mira.time_zone == "Europe/Vienna"
    version = stored.version
    again = chosen | {"hour": "25", "version": str(version)}
    answer = client.post(reverse("reminder-settings"), again)
    assert answer.status_code == 422
    stored.refresh_from_db()
    assert stored.hour == 14


def test_two_windows_of_one_person_do_not_overwrite_each_other(mira: Person) -> None:
    settings = record.create(ReminderSettings(person=mira), by=BY)
    chosen = {"rhythm": "daily", "weekday": "0", "hour": "8", "time_zone": "UTC", "version": "1"}
    client = pages_of(mira)
    assert client.post(reverse("reminder-settings"), chosen).status_code == 302
    answer = client.post(reverse("reminder-settings"), chosen | {"hour": "9"})
    assert answer.status_code == 409
    settings.refresh_from_db()
    assert settings.hour == 8
