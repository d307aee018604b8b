"""The description of the API, and the page to read it on without internet."""

from __future__ import annotations

import json
import re
from typing import Any

import jsonschema
import pytest
from django.contrib.staticfiles import finders
from django.test import Client
from drf_spectacular.drainage import GENERATOR_STATS
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.validation import validate_schema

from deploy.api import router
from tests.small_register import client_of, small_register

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def description() -> dict[str, Any]:
    GENERATOR_STATS.reset()
    made: dict[str, Any] = SchemaGenerator().get_schema(request=None, public=True)
    return made


def test_it_is_made_without_a_warning(description: dict[str, Any], capsys: Any) -> None:
    assert not GENERATOR_STATS._warn_cache
    assert not GENERATOR_STATS._error_cache


def test_it_is_valid_openapi_3_1(description: dict[str, Any]) -> None:
    assert description["openapi"].startswith("3.1")
    validate_schema(description)


def test_every_list_of_the_router_and_every_action_is_described(description: dict[str, Any]) -> None:
    paths = set(description["paths"])

    assert {f"/api/v1/{prefix}/" for prefix, _, _ in router.registry} <= paths
    assert {
        "/api/v1/token/",
        "/api/v1/network-check/",
        "/api/v1/links/{id}/check/",
        "/api/v1/findings/{id}/accept/",
        "/api/v1/findings/{id}/reopen/",
        "/api/v1/jobs/{id}/cancel/",
        "/api/v1/channel-plans/{id}/channels/",
    } <= paths


def test_every_operation_says_how_it_fails(description: dict[str, Any]) -> None:
    for path, operations in description["paths"].items():
        for method, operation in operations.items():
            assert operation["responses"]["4XX"] == {"$ref": "#/components/responses/Problem"}, (path, method)


def test_every_parameter_has_a_type(description: dict[str, Any]) -> None:
    for path, operations in description["paths"].items():
        for operation in operations.values():
            for parameter in operation.get("parameters", []):
                assert parameter["schema"], (path, parameter["name"])


@pytest.mark.parametrize(("prefix", "view", "name"), router.registry, ids=[row[0] for row in router.registry])
def test_what_a_list_answers_agrees_with_its_description(
    prefix: str, view: Any, name: str, description: dict[str, Any]
) -> None:
    small_register()
    operation = description["paths"][f"/api/v1/{prefix}/"]["get"]
    schema = operation["responses"]["200"]["content"]["application/json"]["schema"]

    body = client_of("administrator").get(f"/api/v1/{prefix}/").json()

    assert body["results"]
    whole = schema | {"components": description["components"]}
    formats = jsonschema.Draft202012Validator.FORMAT_CHECKER
    jsonschema.Draft202012Validator(whole, format_checker=formats).validate(body)


def test_it_is_served_as_json_and_as_yaml() -> None:
    client = Client()

    as_json = client.get("/api/v1/schema/?format=json")
    assert json.loads(as_json.content)["info"]["title"] == "Link register"
    assert client.get("/api/v1/schema/").content.startswith(b"openapi: 3.1")


def test_the_page_loads_nothing_from_elsewhere_and_finds_all_it_loads() -> None:
    page = Client().get("/api/v1/docs/").content.decode()
    script = Client().get("/api/v1/docs/?script=").content.decode()

    loaded = re.findall(r'(?:src|href)="([^"]+)"', page)
    assert len(loaded) >= 4
    for address in loaded:
        assert address.startswith("/"), address
        if address.startswith("/static/"):
            assert finders.find(address.removeprefix("/static/")), address
    assert not re.findall(r"https?://(?!www\.w3\.org)", page + script)
    assert "validatorUrl" in script


def test_only_this_page_may_style_inline() -> None:
    policy = Client().get("/api/v1/docs/")["Content-Security-Policy"]
    directives = dict(part.strip().split(" ", 1) for part in policy.split(";"))

    assert directives["style-src"] == "'self' 'unsafe-inline'"
    assert directives["script-src"] == "'self'"
    assert "unsafe" not in Client().get("/api/v1/schema/")["Content-Security-Policy"]


@pytest.mark.browser
def test_the_page_shows_the_operations_in_a_real_browser(page: Any) -> None:
    """The fixture fails the test when the policy stops something or another host is asked."""
    from playwright.sync_api import expect

    page.goto("/api/v1/docs/")

    expect(page.locator(".opblock-summary-path").first).to_be_visible(timeout=30_000)
    # The page draws only the operations in view; these stand at its top.
    expect(page.locator("body")).to_contain_text("/api/v1/antenna-types/{id}/", timeout=30_000)
