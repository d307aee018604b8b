"""Reminders through the API: read, acknowledged, put off; and how the caller wants them."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from rest_framework.test import APIClient

from licences.models import Reminder, ReminderSettings
from sites.models import ChangeRecord, Person
from tests.deploy.test_api_bad_input import NEVER, SOMETIMES, send
from tests.deploy.test_api_problems import problem
from tests.small_register import SmallRegister, client_of, small_register

pytestmark = pytest.mark.django_db
LIST, MINE = "/api/v1/reminders/", "/api/v1/reminder-settings/"
DAY = dt.timedelta(days=1)


@pytest.fixture
def small() -> SmallRegister:
    return small_register()


@pytest.fixture
def today(small: SmallRegister) -> dt.date:
    """Today, with a reminder that was sent and something to be done in ten days."""
    today = timezone.now().date()
    Reminder.objects.update(state="sent", act_by=today + 10 * DAY)
    return today


def recipient(small: SmallRegister) -> APIClient:
    client = APIClient()
    client.force_authenticate(small.responsible)
    return client


def test_the_list_says_how_each_stands_and_filters_by_it(small: SmallRegister, today: dt.date) -> None:
    manager = client_of("manager")
    (row,) = manager.get(LIST, {"stands": "open"}).json()["results"]
    assert (row["licence_label"], row["state"], row["acknowledged_at"]) == ("RA L-1", "sent", None)
    assert (row["put_off_at_most_to"], row["may_answer"]) == (str(today + 10 * DAY), True)
    assert client_of("viewer").get(LIST).json()["results"][0]["may_answer"] is False
    for other in ("acknowledged", "put_off", "over"):
        assert manager.get(LIST, {"stands": other}).json()["count"] == 0
    assert (
        "stands" in problem(manager.get(LIST, {"stands": "forgotten"}), 400, "values")["errors"][0]["field"]
    )


def test_acknowledging_is_recorded_and_once_more_changes_nothing(
    small: SmallRegister, today: dt.date
) -> None:
    client, address = client_of("registrar"), f"{LIST}{small.reminder.pk}/acknowledge/"
    answer = client.post(address)
    assert answer.status_code == 200
    assert answer.json()["acknowledged_by_name"] == "registrar"
    entry = ChangeRecord.objects.first()
    assert entry is not None and entry.object_label == "RA L-1" and entry.by_name == "registrar"
    assert client.post(address).json() == answer.json()
    assert ChangeRecord.objects.first() == entry


def test_putting_off_takes_a_day_ahead_and_a_reason(small: SmallRegister, today: dt.date) -> None:
    address = f"{LIST}{small.reminder.pk}/put-off/"
    client = client_of("manager")

    def refused(kind: str = "values", **sent: Any) -> dict[str, str]:
        errors = problem(client.post(address, sent, format="json"), 400, kind)["errors"]
        return {error["field"]: error["detail"] for error in errors}

    assert set(refused()) == {"until", "reason"}
    assert "a day after today" in refused("refused", until=str(today), reason="later")["until"]
    assert "was expected" in refused("refused", until=str(today + 11 * DAY), reason="later")["until"]
    assert "not a date" in refused(until="soon", reason="later")["until"]
    assert refused(until=str(today + DAY), reason="  ") == {"reason": "Give a text; it was empty."}

    answer = client.post(
        address, {"until": str(today + 5 * DAY), "reason": "The form is with us."}, format="json"
    )
    assert answer.status_code == 200
    assert (answer.json()["state"], answer.json()["snoozed_until"]) == ("snoozed", str(today + 5 * DAY))
    entry = ChangeRecord.objects.first()
    assert entry is not None and entry.reason == "The form is with us."


def test_an_answer_that_comes_too_late_is_a_conflict(small: SmallRegister, today: dt.date) -> None:
    client = client_of("manager")
    client.post(f"{LIST}{small.reminder.pk}/acknowledge/")
    late = client.post(
        f"{LIST}{small.reminder.pk}/put-off/", {"until": str(today + DAY), "reason": "x"}, format="json"
    )
    assert late.status_code == 409
    assert "acknowledged by manager already" in late.json()["detail"]


def test_the_recipient_answers_their_own_and_a_viewer_not_that_of_another(
    small: SmallRegister, today: dt.date
) -> None:
    from spectrum.roles import VIEWER
    from tests.small_register import person_of_role

    person_of_role(VIEWER)
    refused = client_of(VIEWER).post(f"{LIST}{small.reminder.pk}/acknowledge/")
    assert refused.status_code == 403 and "went to responsible" in refused.json()["detail"]
    small.responsible.groups.add(*Person.objects.get(username=VIEWER).groups.all())
    assert recipient(small).post(f"{LIST}{small.reminder.pk}/acknowledge/").status_code == 200
    assert client_of("manager").post(f"{LIST}987654321/acknowledge/").status_code == 404


def test_settings_are_as_usual_until_they_are_kept_and_then_guarded_by_their_version(
    small: SmallRegister,
) -> None:
    client = recipient(small)
    usual = client.get(MINE).json()
    assert (usual["version"], usual["rhythm"], usual["time_zone"], usual["calendar_address"]) == (
        0, "daily", "UTC", "",
    )  # fmt: skip
    assert client.patch(MINE, {"rhythm": "weekly"}, format="json").status_code == 428

    changed = {
        "rhythm": "weekly",
        "weekday": 2,
        "time_zone": "Europe/Vienna",
        "topics": ["fee", "fee"],
        "version": 0,
    }
    answer = client.patch(MINE, changed, format="json")
    assert answer.status_code == 200 and answer["ETag"] == '"1"'
    kept = answer.json()
    assert (kept["weekday"], kept["time_zone"], kept["topics"], kept["hour"]) == (
        2,
        "Europe/Vienna",
        ["fee"],
        6,
    )
    small.responsible.refresh_from_db()
    assert small.responsible.time_zone == "Europe/Vienna"
    assert {e.by_name for e in ChangeRecord.objects.all()[:2]} == {"responsible"}

    assert client.patch(MINE, {"hour": 7, "version": 0}, format="json").status_code == 409
    assert client.put(MINE, {**kept, "hour": 7}, format="json").json()["hour"] == 7
    assert client.patch(MINE, {"hour": 8}, format="json", HTTP_IF_MATCH='"2"').json()["version"] == 3
    assert ReminderSettings.objects.get().person == small.responsible


def test_a_first_keeping_from_two_windows_is_told_to_the_second(small: SmallRegister) -> None:
    client = recipient(small)
    assert client.patch(MINE, {"hour": 7, "version": 0}, format="json").status_code == 200
    late = client.patch(MINE, {"hour": 9, "version": 0}, format="json")
    assert late.status_code == 409 and "kept elsewhere" in late.json()["detail"]
    assert ReminderSettings.objects.get().hour == 7


@pytest.mark.parametrize(
    ("sent", "field", "sentence"),
    [
        ({"time_zone": "Mars/Olympus"}, "time_zone", "“Mars/Olympus” is not a known time zone"),
        ({"rhythm": "hourly"}, "rhythm", "expected at_once, daily, weekly"),
        ({"weekday": 7}, "weekday", "7"),
        ({"hour": 24}, "hour", "24"),
        ({"topics": ["weather"]}, "topics", "'weather' is none of the choices"),
    ],
)
def test_a_wrong_setting_is_named_and_nothing_is_kept(
    small: SmallRegister, sent: dict[str, Any], field: str, sentence: str
) -> None:
    answer = recipient(small).patch(MINE, {**sent, "version": 0}, format="json")
    (error,) = problem(answer, 400, "values")["errors"]
    assert error["field"].startswith(field)
    assert sentence in error["detail"] or field in ("weekday", "hour")
    assert not ReminderSettings.objects.exists()


@pytest.mark.parametrize("value", (NEVER | SOMETIMES).values(), ids=(NEVER | SOMETIMES).keys())
def test_a_doubtful_value_in_any_setting_is_taken_or_a_problem(small: SmallRegister, value: Any) -> None:
    client = recipient(small)
    for field in ("rhythm", "weekday", "hour", "topics", "time_zone", "version"):
        with transaction.atomic():
            answer = send(client, "PATCH", MINE, {"version": 0, field: value})
            transaction.set_rollback(True)
        assert answer.status_code in (200, 400, 409, 428), (field, value, answer.content[:200])
        assert answer.status_code == 200 or len(answer.json()["detail"]) > 10, field


def test_a_calendar_gets_an_address_of_its_own(small: SmallRegister) -> None:
    client = recipient(small)
    first = client.post(f"{MINE}calendar/").json()["calendar_address"]
    second = client.post(f"{MINE}calendar/").json()["calendar_address"]
    assert first and second and first != second
    path = second[second.index("/", 8) :]
    assert APIClient().get(path).status_code == 200
    assert APIClient().get(first[first.index("/", 8) :]).status_code == 404


def test_answers_and_settings_take_a_bounded_number_of_queries(small: SmallRegister, today: dt.date) -> None:
    client = recipient(small)

    def queries(method: str, address: str, **sent: Any) -> int:
        with CaptureQueriesContext(connection) as seen:
            assert getattr(client, method)(address, sent or None, format="json").status_code == 200
        return len(seen)

    assert queries("get", MINE) <= 3
    assert queries("patch", MINE, hour=5, version=0) <= 25
    manager = client_of("manager")
    with CaptureQueriesContext(connection) as seen:
        assert manager.post(f"{LIST}{small.reminder.pk}/acknowledge/").status_code == 200
    assert len(seen) <= 16
