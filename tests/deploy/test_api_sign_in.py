"""Signing in to the API: with a token, with a session, and not too often with a wrong password."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from rest_framework.authtoken.models import Token
from rest_framework.test import APIClient

from tests.deploy.test_api_problems import problem
from tests.small_register import PASSWORD, person_of_role

pytestmark = pytest.mark.django_db
ADDRESS = "/api/v1/token/"


def _ask(client: APIClient, username: str = "viewer", password: str = PASSWORD) -> Any:
    return client.post(ADDRESS, {"username": username, "password": password}, format="json")


def test_a_token_is_given_for_a_password_and_opens_the_api() -> None:
    person_of_role("viewer")
    client = APIClient()

    token = _ask(client).json()["token"]

    client.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    assert client.get("/api/v1/sites/").status_code == 200
    assert _ask(client).json()["token"] == token


def test_a_token_that_was_given_back_opens_nothing() -> None:
    person_of_role("viewer")
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {_ask(client).json()['token']}")

    assert client.delete(ADDRESS).status_code == 204

    problem(client.get("/api/v1/sites/"), 401, "sign-in")
    assert not Token.objects.exists()


@pytest.mark.parametrize(("username", "password"), [("viewer", "wrong"), ("nobody", PASSWORD)])
def test_a_wrong_password_and_an_unknown_name_are_answered_alike(username: str, password: str) -> None:
    person_of_role("viewer")

    body = problem(_ask(APIClient(), username, password), 401, "sign-in")

    assert body["detail"].startswith("The user name or the password is wrong")


def test_somebody_who_left_gets_no_token_and_the_old_one_is_void() -> None:
    person = person_of_role("viewer")
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {_ask(client).json()['token']}")
    person.is_active = False
    person.save()

    problem(client.get("/api/v1/sites/"), 401, "sign-in")
    problem(_ask(APIClient()), 401, "sign-in")


def test_a_session_opens_the_api() -> None:
    client = Client()
    client.force_login(person_of_role("viewer"))

    assert client.get("/api/v1/sites/").status_code == 200


def test_somebody_who_guesses_is_locked_out_for_a_while(settings: Any) -> None:
    settings.AXES_ENABLED = True
    settings.AXES_FAILURE_LIMIT = 3
    person_of_role("viewer")
    client = APIClient()

    answers = [_ask(client, password=f"guess {number}") for number in range(4)]
    right = _ask(client)

    assert [answer.status_code for answer in answers] == [401, 401, 429, 429]
    body = problem(right, 429, "too-many")
    assert "15 minutes" in body["detail"]
    assert right["Retry-After"] == "900"
    assert _ask(client, username="somebody-else", password="x").status_code == 401
