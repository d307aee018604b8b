"""Every list as a file: what the page shows, under the filter of the page, and nothing else."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from typing import Any
from xml.etree import ElementTree

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from python_calamine import CalamineWorkbook

from spectrum.models import Finding, Link
from tests.deploy.test_pages_lists import LISTS
from tests.made import Register, site
from tests.small_register import person_of_role, small_register


@pytest.fixture(scope="module")
def client(django_db_setup: None, django_db_blocker: Any) -> Iterator[Client]:
    with django_db_blocker.unblock():
        block = transaction.atomic()
        block.__enter__()
        try:
            small_register()
            signed_in = Client(raise_request_exception=True)
            signed_in.force_login(person_of_role("administrator"))
            yield signed_in
        finally:
            transaction.set_rollback(True)
            block.__exit__(None, None, None)


def body(answer: Any) -> bytes:
    return b"".join(answer.streaming_content) if answer.streaming else answer.content


def table(client: Client, name: str, **asked: str) -> list[dict[str, str]]:
    answer = client.get(reverse(name), {"format": "csv", **asked})
    assert answer.status_code == 200
    return list(csv.DictReader(io.StringIO(body(answer).decode("utf-8"), newline=""), strict=True))


@pytest.mark.parametrize("name", LISTS)
def test_a_list_is_exported_with_the_rows_and_columns_it_shows(name: str, client: Client) -> None:
    page = client.get(reverse(name))
    rows = table(client, name)
    shown = [head.column for head in page.context["heads"] if head.column.exported]

    assert len(rows) == page.context["page"].paginator.count
    assert rows, f"the small register has nothing for {name}"
    assert [c.file_name for c in shown] == list(rows[0])[: len(shown)]
    assert len(set(rows[0])) == len(rows[0])
    assert all(head == head.lower() and head.replace("_", "").isalnum() for head in rows[0])
    assert all("<" not in cell for row in rows for cell in row.values()), "markup of the page in a file"
    if len(rows) <= 50:
        for (row, _cells), line in zip(page.context["body"], rows, strict=True):
            for column in shown:
                assert bool(line[column.file_name]) == (column.file_value(row) not in (None, ""))


@pytest.mark.parametrize("name", LISTS)
def test_the_workbook_holds_the_same_as_the_csv_file(name: str, client: Client) -> None:
    rows = table(client, name)
    answer = client.get(reverse(name), {"format": "xlsx"})
    (sheet,) = CalamineWorkbook.from_filelike(io.BytesIO(body(answer))).sheet_names
    book = CalamineWorkbook.from_filelike(io.BytesIO(body(client.get(reverse(name), {"format": "xlsx"}))))
    head, *read = book.get_sheet_by_name(sheet).to_python()

    assert head == list(rows[0])
    assert len(read) == len(rows)
    for cells, line in zip(read, rows, strict=True):
        for cell, text in zip(cells, line.values(), strict=True):
            if isinstance(cell, str):
                assert cell.replace("_x000D_", "\r").replace("\n", "") == text.replace("\n", "").replace(
                    "\r", ""
                )
            elif isinstance(cell, float):
                assert cell == pytest.approx(float(text))


@pytest.mark.parametrize("name", ["site-list", "link-list", "finding-list", "licensed-channel-list"])
def test_lists_of_places_can_be_drawn_on_a_map(name: str, client: Client) -> None:
    rows = table(client, name)
    features = json.loads(body(client.get(reverse(name), {"format": "geojson"})))["features"]
    document = ElementTree.fromstring(body(client.get(reverse(name), {"format": "kml"})))
    placemarks = list(document.iter("{http://www.opengis.net/kml/2.2}Placemark"))

    assert [list(f["properties"]) for f in features] == [list(row) for row in rows]
    assert len(placemarks) == sum(f["geometry"] is not None for f in features) > 0


def test_the_file_keeps_the_filter_and_the_order_of_the_page(client: Client) -> None:
    all_codes = [row["code"] for row in table(client, "site-list")]
    assert len(all_codes) > 1

    assert [row["code"] for row in table(client, "site-list", q=all_codes[0])] == all_codes[:1]
    assert [row["code"] for row in table(client, "site-list", sort="-code")] == all_codes[::-1]
    page = client.get(reverse("site-list"), {"q": all_codes[0], "page": "1"}).content.decode()
    assert f'href="?q={all_codes[0]}&amp;format=csv"' in page


@pytest.mark.parametrize(
    ("name", "asked", "said"),
    [
        ("site-list", {"format": "docx"}, "cannot be had as “docx”"),
        ("check-list", {"format": "kml"}, "it can as CSV, XLSX"),
        ("site-list", {"format": "csv", "structure": "castle"}, "Nothing was exported"),
        ("site-list", {"format": "xlsx", "sort": "beauty"}, "Nothing was exported"),
    ],
)
def test_a_file_that_would_not_be_what_was_asked_for_is_refused(
    name: str, asked: dict[str, str], said: str, client: Client
) -> None:
    answer = client.get(reverse(name), asked)

    assert answer.status_code == 422
    assert said in answer.content.decode()


@pytest.mark.django_db
def test_a_finding_names_its_sender_and_its_victim() -> None:
    signed_in = Client()
    register, now = small_register(), "2026-11-25T00:00:00Z"
    other = Register.link(_parts(), "L-2", site("Q1", 47.5), site("Q2", 47.6))
    made = {"severity": "must_fix", "rank": 0, "first_seen_at": now, "last_seen_at": now, "margin": -3.5}
    Finding.objects.create(
        identity="p", kind="co_channel", headline="=pair", link=register.link, station_label="A",
        other_link=other, other_station_label="B", **made,
    )  # fmt: skip
    Finding.objects.create(
        identity="s", kind="aggregate", headline="sum", link=other, station_label="A", **made
    )
    signed_in.force_login(person_of_role("viewer", username="vi"))

    rows = {row["what"]: row for row in table(signed_in, "finding-list")}
    assert rows["'=pair"]["sender"] == f"{register.link.code}/A"
    assert rows["'=pair"]["victim"] == "L-2/B"
    assert (rows["sum"]["sender"], rows["sum"]["victim"]) == ("", "L-2/A")
    assert rows["sum"]["weight"] == "must fix"
    features = json.loads(body(signed_in.get(reverse("finding-list"), {"format": "geojson"})))["features"]
    pair = next(f for f in features if f["properties"]["what"] == "=pair")
    assert pair["geometry"]["coordinates"][1] == [14.0, 47.6]
    point = next(f for f in features if f["properties"]["what"] == "sum")
    assert point["geometry"] == {"type": "Point", "coordinates": [14.0, 47.5]}


def _parts() -> Register:
    made = Register.__new__(Register)
    link = Link.objects.select_related("holder").prefetch_related("stations")[0]
    station = link.stations.all()[0]
    made.own, made.antenna, made.radio, made.mode = (
        link.holder,
        station.antenna_type,
        station.radio_type,
        station.mode,
    )
    return made


@pytest.mark.django_db
@pytest.mark.parametrize("asked", ["csv", "geojson"])
def test_the_number_of_queries_does_not_grow_with_the_list(asked: str) -> None:
    register, signed_in = Register(), Client()
    signed_in.force_login(person_of_role("viewer"))
    counts = []
    for number in range(12):
        register.link(f"L-{number}", site(f"A{number}"), site(f"B{number}", 47.1))
        if number in (0, 11):
            with CaptureQueriesContext(
                connection,
            ) as queries:
                body(signed_in.get(reverse("link-list"), {"format": asked}))
            counts.append(len(queries))
    assert counts[0] == counts[1]
