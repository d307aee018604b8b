"""The interference log: entered on the page of a link, found again in the list, closed with an outcome."""

from __future__ import annotations

import csv
import datetime as dt
import io
from pathlib import Path
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from rest_framework.test import APIClient

from sites.models import Document
from sites.services import record
from spectrum.models import CommissioningRecord, InterferenceEntry
from tests.documents import PDF, own_folder, png
from tests.made import TESTS, Register, site
from tests.small_register import SmallRegister, person_of_role, small_register

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folder(settings: Any, tmp_path: Path) -> Path:
    return own_folder(settings, tmp_path)


DAY = dt.date(2026, 5, 4)


def client_of(role: str) -> Client:
    client = Client()
    client.force_login(person_of_role(role))
    return client


def entry(register: SmallRegister, **values: Any) -> InterferenceEntry:
    made = InterferenceEntry(**{"link": register.link, "began_on": DAY, "observed": "Bursts.", **values})
    return record.create(made, by=TESTS)


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"ended_on": DAY - dt.timedelta(days=1)}, "must not lie before the first"),
        ({"closed_on": DAY}, "say what the outcome was"),
        ({"closed_on": DAY - dt.timedelta(days=1), "outcome": "x"}, "closed before it began"),
        ({"level_dbm": 99.0}, "between -200 and 60 dBm"),
    ],
)
def test_an_entry_that_cannot_be_is_refused_in_words(values: dict[str, Any], sentence: str) -> None:
    with pytest.raises(ValidationError, match=sentence):
        entry(small_register(), **values)


def test_a_station_of_another_link_is_refused() -> None:
    made = Register()
    one = made.link("L1", site("A1"), site("B1", 47.1))
    other = made.link("L2", site("A2", 47.2), site("B2", 47.3))
    wrong = InterferenceEntry(link=one, began_on=DAY, observed="Bursts.", station=other.stations.first())
    with pytest.raises(ValidationError, match="not one of L1"):
        record.create(wrong, by=TESTS)


def test_interference_is_entered_on_the_page_of_the_link_and_closed_with_an_outcome() -> None:
    register = small_register()
    client = client_of("field engineer")
    station = register.link.stations.get(label="A")
    sent = {
        "began_on": "2026-05-04", "station": station.pk, "frequency_mhz": "451.00625", "level_dbm": "-97,5",
        "observed": "Bursts on the channel.", "other_party": register.other.pk, "finding": register.finding.pk,
    }  # fmt: skip
    address = reverse("interference-entry-add", args=[register.link.pk])
    asked = client.get(address, {"finding": register.finding.pk})
    assert asked.context["form"]["finding"].value() == register.finding.pk
    refused = client.post(address, {**sent, "closed_on": "2026-05-09"})
    assert "say what the outcome was" in refused.content.decode()
    assert "Bursts on the channel." in refused.content.decode()

    answer = client.post(address, sent)
    made = InterferenceEntry.objects.get(observed="Bursts on the channel.")
    assert answer["Location"] == reverse("interference-entry", args=[made.pk])
    assert (made.frequency_hz, made.level_dbm) == (451_006_250, -97.5)
    page = client.get(answer["Location"]).content.decode()
    assert "It is open" in page
    assert "451.00625 MHz" in page
    assert reverse("finding", args=[register.finding.pk]) in page
    assert "Bursts on the channel." in client.get(reverse("link", args=[register.link.pk])).content.decode()
    about = client.get(reverse("finding", args=[register.finding.pk])).content.decode()
    assert answer["Location"] in about

    change = reverse("interference-entry-change", args=[made.pk])
    closed = {**sent, "version": made.version, "outcome": "The party retuned.", "closed_on": "2026-05-09"}
    client.post(change, closed)
    assert "Closed on 2026-05-09: The party retuned." in client.get(answer["Location"]).content.decode()


def test_the_list_filters_and_is_exported() -> None:
    register = small_register()
    entry(register, observed="Long over.", ended_on=DAY, outcome="Gone by itself.", closed_on=DAY)
    client = client_of("viewer")

    def rows(**asked: str) -> list[dict[str, str]]:
        answer: Any = client.get(reverse("interference-entry-list"), {**asked, "format": "csv"})
        text = b"".join(answer.streaming_content).decode()
        return list(csv.DictReader(io.StringIO(text, newline="")))

    assert [row["outcome"] for row in rows(state="closed")] == ["Gone by itself."]
    assert [row["standing"] for row in rows(state="open")] == ["open"]
    assert len(rows(link="k1")) == 2
    assert len(rows(since="2026-05-05")) == 1
    assert rows(link="none") == []


def test_the_api_enters_reads_and_filters_the_log() -> None:
    register = small_register()
    client = APIClient()
    client.force_authenticate(person_of_role("planner"))
    body = {
        "link": register.link.pk,
        "began_on": "2026-05-04",
        "observed": "Bursts.",
        "frequency_mhz": "451.0",
    }
    made = client.post("/api/v1/interference/", body, format="json")
    assert made.status_code == 201, made.json()
    assert made.json()["frequency_mhz"] == "451.00000"
    assert client.get("/api/v1/interference/", {"open": "false"}).json()["count"] == 0
    assert client.get("/api/v1/interference/", {"link": register.link.pk}).json()["count"] == 2
    closed = client.patch(
        f"/api/v1/interference/{made.json()['id']}/",
        {"version": 1, "closed_on": "2026-05-09"},
        format="json",
    )
    assert closed.status_code == 400
    assert "say what the outcome was" in closed.json()["detail"]


def test_evidence_is_attached_to_an_entry() -> None:
    register = small_register()
    client = client_of("field engineer")
    address = reverse("document-add", args=["interference-entry", register.interference.pk])
    answer = client.post(address, {"file": SimpleUploadedFile("spectrum.png", png()), "kind": "measurement"})
    assert answer["Location"] == reverse("interference-entry", args=[register.interference.pk])
    assert "spectrum" in client.get(answer["Location"]).content.decode()


def found(client: Client, register: SmallRegister, **values: Any) -> Any:
    station = register.link.stations.get(label="B")
    body = {"found_on": "2026-06-01", "found_by": "Ida", "tx_power_dbm": "36", **values}
    return client.post(reverse("commissioning-record-add", args=[station.pk]), body)


def test_a_photo_comes_with_what_was_found() -> None:
    register = small_register()
    client = client_of("field engineer")
    station = register.link.stations.get(label="B")
    form = client.get(reverse("commissioning-record-add", args=[station.pk])).content.decode()
    assert 'accept="image/*"' in form
    assert 'enctype="multipart/form-data"' in form

    answer = found(client, register, photo=SimpleUploadedFile("IMG_1.png", png()))
    made = CommissioningRecord.objects.get(found_by="Ida")
    document = Document.objects.get(kind="photo")
    assert (document.belongs_to, document.dated) == (made, made.found_on)
    assert "IMG_1" in client.get(answer["Location"]).content.decode()


def test_a_photo_that_is_none_leaves_neither_record_nor_file() -> None:
    register = small_register()
    before = CommissioningRecord.objects.count()
    answer = found(
        client_of("field engineer"), register, photo=SimpleUploadedFile("IMG_1.heic", b"\x00\x00ftypheic")
    )

    page = answer.content.decode()
    assert answer.status_code == 400
    assert 'id="id_photo_error"' in page
    assert "none of the forms that are taken" in page
    assert 'value="Ida"' in page
    assert CommissioningRecord.objects.count() == before
    assert not Document.objects.filter(kind="photo").exists()


def test_what_was_found_is_entered_and_read_through_the_api() -> None:
    register = small_register()
    client = APIClient()
    client.force_authenticate(person_of_role("field engineer"))
    station = register.link.stations.get(label="B")
    body = {"station": station.pk, "found_on": "2026-06-01", "found_by": "Ida", "tx_frequency_mhz": "461.0"}
    made = client.post("/api/v1/commissioning-records/", body, format="json")
    assert made.status_code == 201, made.json()
    assert (made.json()["link"], made.json()["tx_frequency_mhz"]) == (register.link.pk, "461.00000")
    number = made.json()["id"]
    photo = {
        "of": "commissioning-record",
        "of_id": number,
        "kind": "photo",
        "file": SimpleUploadedFile("a.pdf", PDF),
    }
    assert client.post("/api/v1/documents/", photo, format="multipart").status_code == 201
    assert client.get("/api/v1/commissioning-records/", {"station": station.pk}).json()["count"] == 1
    wrong = client.post("/api/v1/commissioning-records/", {**body, "tx_frequency_mhz": None}, format="json")
    assert "at least one figure" in wrong.json()["detail"]
    changed = client.patch(
        f"/api/v1/commissioning-records/{number}/", {"version": 1, "notes": "As left."}, format="json"
    )
    assert changed.json()["version"] == 2
