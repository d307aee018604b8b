"""What changed between two days, net: against the register itself as it stood on both days, and case by case."""

from __future__ import annotations

import csv
import datetime as dt
import io
import tracemalloc
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from python_calamine import CalamineWorkbook

from sites.models import ChangeRecord, Site
from sites.on_day.differences import Asked, nets_of, portions_of_nets
from sites.on_day.net import Net, Outcome
from sites.services import record
from sites.services.record import Author, snapshot
from tests.deploy.test_api_bad_input import PARAMETERS
from tests.made import site
from tests.small_register import client_of, person_of_role

pytestmark = pytest.mark.django_db
ANN, BOB = Author.system("ann"), Author.system("bob")
API = "/api/v1/net-changes/"


@pytest.fixture
def today() -> dt.date:
    return timezone.now().date()


def change(one: Site, by: Author = ANN, **values: Any) -> None:
    stored = Site.objects.get(pk=one.pk)
    for name, value in values.items():
        setattr(stored, name, value)
    record.change(stored, by=by)


def code(label: str) -> str:
    """Of a site's name in the change record: “A Place A”."""
    return label.split(maxsplit=1)[0]


def nets(today: dt.date, **asked: Any) -> dict[str, Net]:
    return {
        code(net.label): net for portion in portions_of_nets(Asked(today, today, **asked)) for net in portion
    }


@pytest.fixture
def week(today: dt.date, monkeypatch: pytest.MonkeyPatch) -> dict[str, Site]:
    """Six sites of last week, and what was done to each today."""
    week_ago = timezone.now() - dt.timedelta(days=7)
    with monkeypatch.context() as then:
        then.setattr("django.utils.timezone.now", lambda: week_ago)
        places = {name: site(name, 47.0 + n / 10, 14.0, notes="") for n, name in enumerate("ABCDE")}
    change(places["A"], ANN, name="first", notes="n")
    change(places["A"], BOB, name="second", notes="")
    change(places["B"], ANN, region="north")
    change(places["B"], BOB, region=places["B"].region)
    record.remove(places["C"], by=BOB)
    change(places["D"], ANN, name="before it went")
    record.remove(Site.objects.get(pk=places["D"].pk), by=BOB)
    places["N"] = site("N", 48.0, 14.0)
    change(places["N"], BOB, name="new, renamed")
    short = site("X", 48.1, 14.0)
    record.remove(short, by=ANN)
    return places


def test_each_field_runs_from_its_first_value_to_its_last(week: dict[str, Site], today: dt.date) -> None:
    found = nets(today)
    changed = found["A"]
    said = {f.name: (f.before, f.after, f.by, f.cancelled, f.times) for f in changed.fields}
    assert said == {
        "name": ("Place A", "second", "bob", False, 2),
        "notes": ("", "", "bob", True, 2),
    }
    assert (changed.outcome, changed.entries, changed.by) == (Outcome.CHANGED, 2, "bob")
    assert found["B"].outcome is Outcome.CHANGED_BACK
    assert found["X"].outcome is Outcome.ENTERED_AND_REMOVED and found["X"].fields == []
    assert found["C"].outcome is Outcome.REMOVED
    assert "E" not in found, "what nobody touched is not there"


def test_what_went_shows_what_it_was_before_the_first_day_and_what_came_what_it_is(
    week: dict[str, Site], today: dt.date
) -> None:
    found = nets(today)
    gone = {f.name: (f.before, f.after) for f in found["D"].fields}
    assert found["D"].outcome is Outcome.REMOVED and gone["name"] == ("Place D", None)
    came = {f.name: (f.before, f.after) for f in found["N"].fields}
    assert found["N"].outcome is Outcome.ENTERED and came["name"] == (None, "new, renamed")
    stored = {k: v for k, v in snapshot(Site.objects.get(code="N")).items() if v not in (None, "", [])}
    assert {name: after for name, (_before, after) in came.items()} == stored, "as it stands in the register"


def test_days_kinds_numbers_and_words_choose_objects_and_every_entry_of_them_counts(
    week: dict[str, Site], today: dt.date
) -> None:
    before = today - dt.timedelta(days=8)
    assert set(nets(today, object_type="places.site")) == set("ABCDNX")
    assert nets(today, object_type="licences.licence") == {}
    assert set(nets(today, object_id=week["A"].pk)) == {"A"}
    assert nets(today, words="ann")["A"].by == "bob", "Ann touched it; what remains is what both did"
    week_ago = Asked(before, today - dt.timedelta(days=1))
    assert {net.outcome for portion in portions_of_nets(week_ago) for net in portion} == {Outcome.ENTERED}
    assert nets_of(Asked(today, today), []) == []


def manager() -> Client:
    client = Client()
    client.force_login(person_of_role("manager"))
    return client


def test_the_page_says_what_remains_and_what_cancelled_out(week: dict[str, Site], today: dt.date) -> None:
    answer = manager().get(reverse("net-changes"), {"since": str(today), "until": str(today)})
    shown = answer.content.decode()
    assert answer.status_code == 200
    assert "6 objects were touched" in shown and "(UTC): 11 entries by 3 people" in shown
    assert "changed back: no difference" in shown
    assert "changed and changed back: no difference" in shown
    assert "entered and removed again: no difference" in shown
    rows = {code(row.net.label): row for row in answer.context["rows"]}
    assert rows["D"].before.startswith("code: D") and rows["D"].href == ""
    assert rows["N"].after.startswith("code: N") and rows["N"].href == reverse("site", args=[week["N"].pk])


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_the_files_have_every_object_and_field(form: str, week: dict[str, Site], today: dt.date) -> None:
    answer = manager().get(reverse("net-changes"), {"since": str(today), "until": str(today), "format": form})
    content = b"".join(answer.streaming_content)  # type: ignore[attr-defined]
    head: Any
    rows: Any
    if form == "csv":
        head, *rows = csv.reader(io.StringIO(content.decode()))
    else:
        head, *rows = CalamineWorkbook.from_filelike(io.BytesIO(content)).get_sheet_by_index(0).to_python()
    found = [dict(zip(head, row, strict=True)) for row in rows]
    (name,) = [row for row in found if code(row["object"]) == "A" and row["field"] == "name"]
    assert (name["before"], name["after"], name["last_changed_by"]) == ("Place A", "second", "bob")
    assert {row["outcome"] for row in found} == {
        "changed", "changed_back", "removed", "entered", "entered_and_removed",
    }  # fmt: skip
    assert len([row for row in found if code(row["object"]) == "N"]) == len(nets(today)["N"].fields)
    assert answer["Content-Disposition"] == f'attachment; filename="net-changes-{today}-to-{today}.{form}"'


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        ({"since": "2026-02-31"}, "Enter a valid date"),
        ({"since": "2026-03-02", "until": "2026-03-01"}, "lies before the first"),
        ({"since": "0001-01-01"}, "was expected"),
        ({"until": "9999-12-31"}, "was expected"),
        ({"object_type": "places.castle"}, "Select a valid choice"),
        ({"object_id": "x"}, "whole number"),
        ({"format": "pdf"}, "cannot be had as"),
        ({"as_of": "2026-01-01"}, "two days of its own"),
    ],
)
def test_what_cannot_be_asked_is_told(asked: dict[str, str], sentence: str) -> None:
    answer = manager().get(reverse("net-changes"), asked)
    assert answer.status_code == 422
    assert sentence in answer.content.decode()


def test_a_time_in_which_nothing_happened_is_empty_and_says_so() -> None:
    shown = manager().get(reverse("net-changes"), {"since": "2001-01-01", "until": "2001-02-01"})
    assert "Nothing was entered, changed or removed in these days." in shown.content.decode()


def test_the_api_gives_the_same_page_by_page(week: dict[str, Site], today: dt.date) -> None:
    client = client_of("manager")
    asked = {"since": str(today), "until": str(today), "object_type": "places.site", "page_size": "4"}
    first = client.get(API, asked).json()
    second = client.get(API, {**asked, "page": "2"}).json()
    assert (first["count"], len(first["results"]), len(second["results"])) == (6, 4, 2)
    by_label = {code(row["object_label"]): row for row in first["results"] + second["results"]}
    (name,) = [f for f in by_label["A"]["fields_changed"] if f["field"] == "name"]
    assert (name["before"], name["after"], name["last_changed_by"], name["times"]) == (
        "Place A", "second", "bob", 2,
    )  # fmt: skip
    assert {label: row["outcome"] for label, row in by_label.items()} == {
        label: net.outcome.value for label, net in nets(today).items()
    }


@pytest.mark.parametrize(
    "name", ["since", "until", "object_type", "object_id", "search", "page", "page_size", "x"]
)
def test_the_api_refuses_wrong_parameters_with_a_sentence(name: str) -> None:
    client = client_of("manager")
    assert client.get(API).status_code == 400
    for value in PARAMETERS:
        answer = client.get(API, {"since": "2026-01-01", "until": "2026-12-31", name: value})
        assert answer.status_code in (200, 400, 404), (name, value)
        assert answer.status_code == 200 or len(answer.json()["detail"]) > 10
    assert client.get(API, {"since": "2026-02-01", "until": "2026-01-01"}).status_code == 400
    assert client_of("viewer").get(API).status_code == 403


def many(count: int, objects: int) -> None:
    """Entries written as the register writes them, spread over some objects."""
    now = [
        ChangeRecord(
            by_name="ann",
            action="change",
            object_type="places.site",
            object_id=number % objects + 1,
            object_label=f"S{number % objects}",
            changes={"notes": [f"{number}{'x' * 200}", f"{number + 1}{'x' * 200}"], "region": ["", "north"]},
        )
        for number in range(count)
    ]
    ChangeRecord.objects.bulk_create(now, batch_size=1000)


def test_ten_thousand_entries_take_bounded_queries_and_memory(today: dt.date) -> None:
    client = manager()
    asked = {"since": str(today), "until": str(today)}

    def queries(**more: Any) -> int:
        with CaptureQueriesContext(connection) as seen:
            answer = client.get(reverse("net-changes"), {**asked, **more})
            if answer.streaming:
                b"".join(answer.streaming_content)  # type: ignore[attr-defined]
        assert answer.status_code == 200
        return len(seen)

    many(100, 60)
    queries()
    few, few_in_file = queries(), queries(format="csv")
    many(10_000, 2_000)
    assert queries() == few <= 8
    assert queries(page=40) == few
    # A file is read some hundred objects at a time, so its queries follow the number of those portions.
    assert queries(format="csv") <= few_in_file + 2_000 // 500 + 1

    tracemalloc.start()
    try:
        parts = portions_of_nets(Asked(today, today))
        fields = sum(len(net.fields) for portion in parts for net in portion)
        _now, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert fields == 2 * 2_000
    # 10,100 entries of 500 characters are 5 MB as text alone, and several times that as objects.
    assert most < 8_000_000


def test_one_object_changed_ten_thousand_times_keeps_one_value_a_field(today: dt.date) -> None:
    many(10_000, 1)
    tracemalloc.start()
    try:
        (net,) = nets_of(Asked(today, today), [("places.site", 1)])
        _now, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert net.entries == 10_000
    assert [(f.name, f.before[:2], f.after[:6]) for f in net.fields] == [
        ("notes", "0x", "10000x"), ("region", "", "north"),
    ]  # fmt: skip
    assert most < 8_000_000
