"""Every error of the API is problem details (RFC 9457) with a sentence, whatever caused it."""

from __future__ import annotations

import json
from typing import Any
from unittest.mock import patch

import jsonschema
import pytest
from django.db import IntegrityError, connection
from django.test import Client
from rest_framework.test import APIClient

from deploy.problems import KINDS, _rule
from sites.models import Site
from tests.small_register import SmallRegister, client_of, person_of_role, site, small_register

pytestmark = pytest.mark.django_db

# RFC 9457 § 3.1 names the members and their types; "errors" is an extension member (§ 3.2).
PROBLEM = {
    "type": "object",
    "required": ["type", "title", "status", "detail", "instance", "errors"],
    "properties": {
        "type": {"type": "string", "format": "uri"},
        "title": {"type": "string", "minLength": 5},
        "status": {"type": "integer", "minimum": 400, "maximum": 599},
        "detail": {"type": "string", "minLength": 10},
        "instance": {"type": "string", "pattern": "^/api/v1/"},
        "errors": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["field", "detail"],
                "properties": {"field": {"type": "string"}, "detail": {"type": "string", "minLength": 5}},
                "additionalProperties": False,
            },
        },
    },
}


def problem(answer: Any, status: int, kind: str) -> dict[str, Any]:
    """The problem details of an answer, after checking their form and their kind."""
    assert answer.status_code == status, answer.content
    assert answer["Content-Type"] == "application/problem+json"
    body: dict[str, Any] = answer.json()
    jsonschema.validate(body, PROBLEM)
    assert body["status"] == status
    assert body["type"].endswith(f"/api/v1/problems/{kind}/")
    assert body["title"] == KINDS[kind].title
    return body


@pytest.fixture
def register() -> SmallRegister:
    return small_register()


def test_nobody_signed_in() -> None:
    answer = APIClient().get("/api/v1/sites/")

    problem(answer, 401, "sign-in")
    assert answer["WWW-Authenticate"] == "Token"


def test_a_token_that_nobody_has() -> None:
    answer = APIClient().get("/api/v1/sites/", HTTP_AUTHORIZATION="Token 0123")

    problem(answer, 401, "sign-in")


def test_a_role_that_does_not_include_it_names_the_permission() -> None:
    answer = client_of("viewer").post("/api/v1/sites/", {})

    assert "places.add_site" in problem(answer, 403, "role")["detail"]


def test_a_session_without_the_csrf_token(register: SmallRegister) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(register.responsible)

    answer = client.post("/api/v1/sites/", {}, content_type="application/json")

    problem(answer, 403, "role")


@pytest.mark.parametrize(
    "address", ["sites/999999/", "sites/99999999999999999999/", "sites/x/", "nothing/", "jobs/7/"]
)
def test_nothing_at_the_address(address: str) -> None:
    answer = client_of("viewer").get(f"/api/v1/{address}")

    assert f"/api/v1/{address}" in problem(answer, 404, "not-found")["detail"]


def test_a_page_that_is_not_there() -> None:
    problem(client_of("viewer").get("/api/v1/sites/?page=9"), 404, "not-found")


def test_a_method_that_is_not_taken_names_those_that_are() -> None:
    answer = client_of("administrator").delete("/api/v1/sites/")

    assert "GET" in problem(answer, 405, "method")["detail"]
    assert "POST" in answer["Allow"]


def test_another_format_asked_for() -> None:
    problem(client_of("viewer").get("/api/v1/sites/", HTTP_ACCEPT="text/csv"), 406, "not-acceptable")


@pytest.mark.parametrize(
    "body",
    [
        b"{",
        b'{"name": NaN}',
        b"\xff\xfe",
        b"[" * 100_000,
        b'{"gain_dbi": ' + b"9" * 5000 + b"}",
        b"{}" + b" " * 5_000_001,
    ],
    ids=["cut off", "NaN", "not UTF-8", "nested without end", "endless number", "too large"],
)
def test_a_body_that_cannot_be_read(body: bytes) -> None:
    answer = client_of("planner").post("/api/v1/sites/", body, content_type="application/json")

    problem(answer, 400, "unreadable")


def test_a_body_that_is_a_form() -> None:
    answer = client_of("planner").post(
        "/api/v1/sites/", {"code": "X"}, format=None, content_type="text/plain"
    )

    problem(answer, 415, "media-type")


@pytest.mark.parametrize("body", [[], "text", 5, None, True])
def test_a_body_that_is_not_an_object(body: Any) -> None:
    answer = client_of("planner").post("/api/v1/sites/", json.dumps(body), content_type="application/json")

    problem(answer, 400, "unreadable")


def test_values_are_named_by_field(register: SmallRegister) -> None:
    answer = client_of("planner").post(
        "/api/v1/sites/", {"code": "S9", "name": "Hill", "latitude_deg": 91, "longitude_deg": 11}
    )

    body = problem(answer, 400, "values")
    assert [row["field"] for row in body["errors"]] == ["latitude_deg"]
    assert "90" in body["detail"]


def test_a_rule_of_the_model_is_named_in_its_own_words() -> None:
    answer = client_of("planner").post(
        "/api/v1/antenna-types/",
        {"name": "Y", "gain_dbi": 99, "frequency_min_mhz": 400, "frequency_max_mhz": 470, "pattern": "f699"},
    )

    assert problem(answer, 400, "values")["errors"] == [
        {"field": "", "detail": "Gain must lie between -30 and 70 dBi."}
    ]


def test_a_refusal_of_the_register_names_what_stands_in_the_way(register: SmallRegister) -> None:
    answer = client_of("registrar").delete(f"/api/v1/sites/{register.near.pk}/")

    assert "still used by" in problem(answer, 400, "refused")["detail"]
    assert Site.objects.filter(pk=register.near.pk).exists()


def test_a_stale_change_says_who_was_first(register: SmallRegister) -> None:
    address = f"/api/v1/sites/{register.near.pk}/"
    client_of("registrar").patch(address, {"name": "Registrar's", "version": 1})

    answer = client_of("planner").patch(address, {"name": "Planner's", "version": 1})

    assert "registrar" in problem(answer, 409, "stale")["detail"]
    assert Site.objects.get(pk=register.near.pk).name == "Registrar's"


def test_a_change_without_a_version(register: SmallRegister) -> None:
    answer = client_of("planner").patch(f"/api/v1/sites/{register.near.pk}/", {"name": "New"})

    assert problem(answer, 428, "version-missing")["errors"][0]["field"] == "version"


def test_two_people_who_enter_the_same_code_at_once(register: SmallRegister) -> None:
    """The second one's check saw nothing yet: its write meets the unique rule of the database."""
    with patch.object(Site, "full_clean"):
        answer = client_of("planner").post(
            "/api/v1/sites/",
            {"code": register.near.code, "name": "Hill", "latitude_deg": 47, "longitude_deg": 11},
        )

    body = problem(answer, 409, "taken")
    assert body["errors"][0]["field"] == "code"


def test_the_database_names_the_rule_that_was_broken() -> None:
    with patch.object(Site, "full_clean"), pytest.raises(IntegrityError) as caught:
        site("X", position_accuracy_m=-1)

    assert "site_accuracy_not_negative" in _rule(caught.value)


@pytest.mark.parametrize("name", KINDS)
def test_the_type_of_a_problem_leads_to_its_meaning(name: str) -> None:
    answer = APIClient().get(f"/api/v1/problems/{name}/")

    assert answer.status_code == 200
    assert answer.json()["title"] == KINDS[name].title


def test_a_failure_of_ours_is_a_problem_too_and_tells_nothing_else() -> None:
    client = Client(raise_request_exception=False)
    client.force_login(person_of_role("viewer"))
    with patch("sites.api.views.ListViewSet.filter_queryset", side_effect=RuntimeError("secret")):
        answer = client.get("/api/v1/sites/")

    assert "secret" not in problem(answer, 500, "server")["detail"]
    assert connection.is_usable()
