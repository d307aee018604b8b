"""An extract sent over the API is imported as on the command line, by whoever may, or refused with its rows."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from rest_framework.test import APIClient

from spectrum.api import extracts as edge
from spectrum.models import ExtractMapping, ExtractRun, Link
from spectrum.services.extracts import described, save_mapping
from tests.made import TESTS
from tests.small_register import person_of_role
from tests.spectrum.extracts.made import csv_bytes, description, row

pytestmark = pytest.mark.django_db
ADDRESS = "/api/v1/extract-runs/"


@pytest.fixture
def mapping() -> ExtractMapping:
    return save_mapping(described(description()), by=TESTS)


def sent(content: bytes, mapping: Any, role: str = "registrar", **fields: Any) -> Any:
    client = APIClient()
    client.force_authenticate(person_of_role(role))
    body = {
        "file": SimpleUploadedFile("extract.csv", content),
        "mapping": getattr(mapping, "pk", mapping),
        **fields,
    }
    return client.post(ADDRESS, body, format="multipart")


def test_a_trial_then_the_import(mapping: ExtractMapping) -> None:
    answer = sent(csv_bytes(row()), mapping, dry_run="true")
    assert answer.status_code == 200, answer.content
    assert answer.json()["counts"]["links"] == {"new": 1, "changed": 0, "same": 0}
    assert Link.objects.count() == 0
    answer = sent(csv_bytes(row()), mapping, role="administrator", as_of="2026-06-01")
    assert answer.status_code == 201, answer.content
    run = ExtractRun.objects.get()
    assert (answer.json()["id"], answer.json()["as_of"]) == (run.pk, "2026-06-01")
    assert run.by is not None
    assert run.by.username == "administrator"
    assert Link.objects.count() == 1


def test_problems_of_the_file_are_listed_one_by_one(mapping: ExtractMapping) -> None:
    answer = sent(csv_bytes(row(MHz="six"), row(Granted="")), mapping)
    assert answer.status_code == 400
    errors = answer.json()["errors"]
    assert [error["field"] for error in errors] == ["file", "file"]
    assert errors[0]["detail"].startswith("Row 2, column MHz: found “six”")
    assert Link.objects.count() == ExtractRun.objects.count() == 0


def test_what_is_missing_or_too_large_is_said(
    mapping: ExtractMapping, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "file" in str(sent(b"", mapping).json()["errors"])
    assert sent(csv_bytes(row()), 999_999, role="administrator").json()["errors"][0]["field"] == "mapping"
    monkeypatch.setattr(edge, "LARGEST_FILE", 10)
    assert "manage.py import_extract" in str(
        client_of("registrar-2")
        .post(
            ADDRESS,
            {"file": SimpleUploadedFile("e.csv", csv_bytes(row())), "mapping": mapping.pk},
            format="multipart",
        )
        .json()
    )


def client_of(username: str) -> APIClient:
    client = APIClient()
    client.force_authenticate(person_of_role("registrar", username=username))
    return client


@pytest.mark.parametrize("role", ["viewer", "field engineer", "planner", "manager"])
def test_others_may_not_import(mapping: ExtractMapping, role: str) -> None:
    assert sent(csv_bytes(row()), mapping, role=role).status_code == 403
    assert Link.objects.count() == 0
