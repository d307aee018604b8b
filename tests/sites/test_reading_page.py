"""The page on which people say how they read the register."""

from __future__ import annotations

import threading

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from sites.models import ChangeRecord, Person
from sites.services.people import as_seen, change_reading
from sites.services.record import Author
from tests.small_register import person_of_role

CHOSEN = {"language": "en", "formats": "de", "power_unit": "W", "time_zone": "Europe/Vienna"}
pytestmark = pytest.mark.django_db


@pytest.fixture
def mira() -> Person:
    return person_of_role("viewer", username="mira", first_name="Mira", last_name="Holt")


@pytest.fixture
def client(mira: Person) -> Client:
    client = Client()
    client.force_login(mira)
    return client


def test_what_is_chosen_is_kept_recorded_and_shown_at_once(client: Client, mira: Person) -> None:
    before = client.get(reverse("reading")).content.decode()
    assert "457.01250 MHz" in before
    assert "37.0 dBm" in before

    page = client.post(reverse("reading"), CHOSEN | {"seen": as_seen(mira)}, follow=True)

    text = page.content.decode()
    assert "457,01250 MHz" in text
    assert "5,01 W" in text
    assert "UTC+" in text
    mira.refresh_from_db()
    assert {name: getattr(mira, name) for name in CHOSEN} == CHOSEN
    entry = ChangeRecord.objects.latest("pk")
    assert (entry.object_type, entry.by_name) == ("places.person", "Mira Holt")
    assert entry.changes == {
        "formats": ["iso", "de"],
        "power_unit": ["dBm", "W"],
        "time_zone": ["UTC", "Europe/Vienna"],
    }


def test_the_name_in_the_bar_leads_there_and_on_to_the_reminders(client: Client) -> None:
    page = client.get(reverse("site-list")).content.decode()
    assert f'<a href="{reverse("reading")}"' in page
    assert reverse("reminder-settings") in client.get(reverse("reading")).content.decode()


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("language", "tlh"),
        ("formats", "roman"),
        ("power_unit", "hp"),
        ("time_zone", "Vienna"),
        ("formats", ""),
    ],
)
def test_what_is_not_offered_is_said_at_its_field_and_nothing_is_kept(
    field: str, typed: str, client: Client, mira: Person
) -> None:
    answer = client.post(reverse("reading"), CHOSEN | {field: typed})

    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]
    said = answer.context["form"].errors[field][0]
    assert said == (f"“{typed}” is not offered here; choose from the list." if typed else "Choose one.")
    mira.refresh_from_db()
    assert mira.formats == "iso"


def test_an_older_window_does_not_undo_a_newer_one(client: Client, mira: Person) -> None:
    seen = as_seen(mira)
    change_reading(mira, {"power_unit": "W"}, by=Author.of(mira))

    answer = client.post(reverse("reading"), CHOSEN | {"power_unit": "dBm", "seen": seen})

    page = answer.content.decode()
    assert answer.status_code == 409
    assert "was changed in the meantime" in page
    assert "In the register now: watts" in page
    assert Person.objects.get(pk=mira.pk).formats == "iso"
    again = CHOSEN | {"power_unit": "dBm", "seen": answer.context["form"].data["seen"]}
    assert client.post(reverse("reading"), again).status_code == 302
    assert Person.objects.get(pk=mira.pk).formats == "de"


def test_nobody_changes_how_somebody_else_reads(client: Client, mira: Person) -> None:
    other = person_of_role("planner", username="other")
    client.post(reverse("reading"), CHOSEN | {"pk": other.pk, "id": other.pk, "username": "other"})
    other.refresh_from_db()
    assert other.formats == "iso"
    mira.refresh_from_db()
    assert mira.username == "mira"


def test_the_page_asks_little_of_the_database(client: Client, django_assert_num_queries: object) -> None:
    client.get(reverse("reading"))
    with django_assert_num_queries(5):  # type: ignore[operator]
        client.get(
            reverse("reading")
        )  # session, person, own and roles' permissions for the bar, the person as stored


def test_a_list_asks_no_more_of_the_database_for_somebody_who_reads_otherwise(
    client: Client, mira: Person
) -> None:

    client.get(reverse("site-list"))
    with CaptureQueriesContext(connection) as usual:
        client.get(reverse("site-list"))
    change_reading(mira, CHOSEN, by=Author.of(mira))
    with CaptureQueriesContext(connection) as otherwise:
        client.get(reverse("site-list"))
    assert len(usual) == len(otherwise)


@pytest.mark.django_db(transaction=True)
@pytest.mark.postgres
def test_of_two_windows_saved_at_the_same_moment_one_is_told(mira: Person) -> None:
    seen, start, told = as_seen(mira), threading.Barrier(2), []

    def save(unit: str) -> None:
        start.wait()
        try:
            change_reading(mira, {"power_unit": unit, "formats": "de"}, by=Author.of(mira), seen=seen)
        except Exception as error:
            told.append(type(error).__name__)
        finally:
            connection.close()

    both = [threading.Thread(target=save, args=(unit,)) for unit in ("W", "dBm")]
    for one in both:
        one.start()
    for one in both:
        one.join()
    assert told == ["StaleWriteError"]


def test_programs_read_how_a_person_reads(client: Client, mira: Person) -> None:
    change_reading(mira, CHOSEN, by=Author.of(mira))
    administrator = person_of_role("administrator", username="anselm")
    client.force_login(administrator)
    answer = client.get(f"/api/v1/people/{mira.pk}/").json()
    assert {name: answer[name] for name in CHOSEN} == CHOSEN
