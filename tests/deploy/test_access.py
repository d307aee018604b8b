"""Who may use which address and method: one table. An address that is missing from it fails the test.

To add a page or an address of the API, add a row to ROUTES. ``may`` gives, for each
method, the roles and what they are answered; every other role is answered 403, whoever
is not signed in 401 (API) or 302 to the sign-in page (pages), and every method that is
not in the row 405.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import pytest
from django.contrib import admin
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from sites.models import Person
from spectrum.roles import ROLES
from tests.deploy.page_routes import PAGE_ROWS
from tests.small_register import SmallRegister, people_of_every_role, small_register

pytestmark = pytest.mark.django_db

NOBODY = "not signed in"
V, F, P, R, M, A = "viewer", "field engineer", "planner", "registrar", "manager", "administrator"
ALL = (V, F, P, R, M, A)
EVERYBODY = (NOBODY, *ALL)
METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")

Answer = tuple[tuple[str, ...], int]


@dataclass(frozen=True)
class Route:
    """One address: its name, its arguments, and for each method who may and what the answer is then."""

    name: str
    may: Mapping[str, Answer]
    args: Callable[[SmallRegister], list[Any]] = field(default=lambda register: [])
    body: Mapping[str, Any] = field(default_factory=dict)


def listed(name: str, *, add: tuple[str, ...] | None = None, view: tuple[str, ...] = ALL) -> Route:
    """A list of the API; an empty body sent by somebody who may add is answered 400."""
    return Route(f"api:{name}-list", {"GET": (view, 200)} | ({"POST": (add, 400)} if add else {}))


def one(
    name: str,
    of: str,
    *,
    change: tuple[str, ...] = (),
    delete: tuple[str, ...] = (),
    deleted: int = 204,
    view: tuple[str, ...] = ALL,
) -> Route:
    """One object of the API. A change without a version: PATCH 428; an empty PUT: 400. Removed, or 400: still used."""
    may: dict[str, Answer] = {"GET": (view, 200)}
    if change:
        may |= {"PUT": (change, 400), "PATCH": (change, 428), "DELETE": (delete, deleted)}
    return Route(f"api:{name}-detail", may, lambda register: [getattr(register, of).pk])


EDIT_PLACES = (P, R, A)
EDIT_EQUIPMENT = (P, A)
EDIT_PAPERS = (R, A)

ROUTES = [
    # The API
    Route("api:api-root", {"GET": (ALL, 200)}),
    Route("api:token", {"POST": (EVERYBODY, 400), "DELETE": (ALL, 204)}),
    Route("api:schema", {"GET": (EVERYBODY, 200)}),
    Route("api:docs", {"GET": (EVERYBODY, 200)}),
    Route("api:problem", {"GET": (EVERYBODY, 200)}, lambda register: ["stale"]),
    Route("api:network-check", {"POST": ((P, M, A), 202)}),
    Route("api:pair-search", {"POST": (ALL, 400)}),
    Route("api:take-pair", {"POST": ((P, A), 400)}, lambda register: [register.link.pk]),
    Route("api:extend-pair", {"POST": ((P, A), 400)}, lambda register: [register.link.pk]),
    Route("api:release-pair", {"POST": ((P, A), 200)}, lambda register: [register.link.pk]),
    listed("site", add=EDIT_PLACES),
    one("site", "unused_site", change=EDIT_PLACES, delete=(R, A)),
    listed("antenna-type", add=EDIT_EQUIPMENT),
    one("antenna-type", "antenna_type", change=EDIT_EQUIPMENT, delete=(A,), deleted=400),
    listed("person", view=(A,)),
    one("person", "responsible", view=(A,)),
    listed("change-record", view=(P, R, M, A)),
    Route("api:change-record-detail", {"GET": ((P, R, M, A), 200)}, lambda register: [last_change()]),
    Route("api:net-changes", {"GET": ((P, R, M, A), 400)}),
    listed("document", add=(F, P, R, A)),
    one("document", "document", change=EDIT_PLACES, delete=EDIT_PAPERS),
    Route("api:document-file", {"GET": (ALL, 200)}, lambda register: [register.document.pk]),
    listed("job"),
    one("job", "job"),
    Route(
        "api:job-cancel", {"POST": ((A,), 200)}, lambda register: [register.job.pk]
    ),  # and whoever asked for it
    listed("authority", add=EDIT_PAPERS),
    one("authority", "authority", change=EDIT_PAPERS, delete=EDIT_PAPERS, deleted=400),
    listed("renewal-policy", add=EDIT_PAPERS),
    one("renewal-policy", "policy", change=EDIT_PAPERS, delete=EDIT_PAPERS),
    listed("holder", add=EDIT_PAPERS),
    one("holder", "other", change=EDIT_PAPERS, delete=EDIT_PAPERS),
    listed("licence", add=EDIT_PAPERS),
    one("licence", "licence", change=EDIT_PAPERS, delete=EDIT_PAPERS),
    Route(
        "api:licence-steps",
        {"GET": (ALL, 200), "POST": (EDIT_PAPERS, 400)},
        lambda register: [register.licence.pk],
    ),
    Route("api:licensed-channel-steps", {"POST": (EDIT_PAPERS, 400)}, lambda register: [register.go.pk]),
    listed("licensed-channel", add=EDIT_PAPERS),
    one("licensed-channel", "go", change=EDIT_PAPERS, delete=EDIT_PAPERS),
    listed("reminder"),
    one("reminder", "reminder"),
    Route("api:reminder-acknowledge", {"POST": ((R, M, A), 200)}, lambda register: [register.reminder.pk]),
    Route("api:reminder-put-off", {"POST": ((R, M, A), 400)}, lambda register: [register.reminder.pk]),
    Route("api:reminder-settings", {"GET": (ALL, 200), "PUT": (ALL, 400), "PATCH": (ALL, 428)}),
    Route("api:reminder-calendar", {"POST": (ALL, 200)}),
    listed("channel-plan", add=EDIT_EQUIPMENT),
    one("channel-plan", "plan", change=EDIT_EQUIPMENT, delete=(A,)),
    Route("api:channel-plan-channels", {"GET": (ALL, 200)}, lambda register: [register.plan.pk]),
    listed("radio-type", add=EDIT_EQUIPMENT),
    one("radio-type", "radio_type", change=EDIT_EQUIPMENT, delete=(A,), deleted=400),
    listed("radio-mode", add=EDIT_EQUIPMENT),
    one("radio-mode", "mode", change=EDIT_EQUIPMENT, delete=(A,), deleted=400),
    listed("radio-mask", add=EDIT_EQUIPMENT),
    one("radio-mask", "mask", change=EDIT_EQUIPMENT, delete=(A,)),
    listed("protection-criterion", add=(A,)),
    one("protection-criterion", "criterion", change=(A,), delete=(A,)),
    listed("link", add=(P, A)),
    one("link", "link", change=(P, A), delete=(A,)),
    Route("api:link-check", {"POST": ((F, P, M, A), 200)}, lambda register: [register.link.pk]),
    Route("api:link-needs-filing", {"POST": (ALL, 200)}, lambda register: [register.link.pk]),
    listed("station"),
    Route(
        "api:station-detail",
        {"GET": (ALL, 200)},
        lambda register: [register.link.stations.order_by("pk")[0].pk],
    ),
    listed("commissioning-record", add=(F, P, A)),
    one("commissioning-record", "found", change=(F, P, A), delete=(A,)),
    listed("interference-entry", add=(F, P, R, A)),
    one("interference-entry", "interference", change=(F, P, R, A), delete=(A,)),
    listed("finding"),
    one("finding", "finding"),
    Route(
        "api:finding-accept",
        {"POST": ((P, M, A), 200)},
        lambda register: [register.finding.pk],
        {"reason": "Agreed with the other party."},
    ),
    Route("api:finding-sensitivity", {"GET": (ALL, 409)}, lambda register: [register.finding.pk]),
    Route("api:finding-reopen", {"POST": ((P, M, A), 409)}, lambda register: [register.finding.pk]),
    listed("application", add=(P, R, A)),
    one("application", "application", change=(P, R, A), delete=(R, A)),
    Route("api:application-data-sheet", {"GET": (ALL, 200)}, lambda register: [register.application.pk]),
    Route("api:application-links", {"POST": ((P, R, A), 400)}, lambda register: [register.application.pk]),
    Route(
        "api:application-link",
        {"DELETE": ((P, R, A), 400)},
        lambda register: [register.application.pk, register.link.pk],
    ),  # not in it
    *(
        Route(f"api:application-{act}", {"POST": ((R, A), 400)}, lambda register: [register.application.pk])
        for act in ("file", "grant", "refuse", "withdraw")
    ),
    listed("variant", add=(P, A)),
    one("variant", "variant", change=(P, A), delete=(A,)),
    Route(
        "api:variant-changes",
        {"GET": (ALL, 200), "POST": ((P, A), 400)},
        lambda register: [register.variant.pk],
    ),
    Route(
        "api:variant-change",
        {"DELETE": ((P, A), 204)},
        lambda register: [register.variant.pk, register.planned.pk],
    ),
    Route("api:variant-check", {"POST": ((P, A), 202)}, lambda register: [register.variant.pk]),
    Route("api:variant-findings", {"GET": (ALL, 200)}, lambda register: [register.variant.pk]),
    Route(
        "api:variant-accept", {"POST": ((P, A), 400)}, lambda register: [register.variant.pk]
    ),  # not checked
    Route("api:variant-drop", {"POST": ((P, A), 200)}, lambda register: [register.variant.pk]),
    listed("extract-mapping", add=EDIT_PAPERS),
    one("extract-mapping", "mapping", change=EDIT_PAPERS, delete=EDIT_PAPERS, deleted=400),
    listed("extract-run", add=EDIT_PAPERS),
    one("extract-run", "run"),
    listed("difference"),
    one("difference", "difference"),
    listed("check"),
    one("check", "check"),
    # The features for maps
    *(Route(f"ogc:{name}", {"GET": (ALL, 200)}) for name in ("landing", "api", "conformance", "collections")),
    Route("ogc:collection", {"GET": (ALL, 200)}, lambda register: ["links"]),
    Route("ogc:items", {"GET": (ALL, 200)}, lambda register: ["findings"]),
    Route("ogc:item", {"GET": (ALL, 200)}, lambda register: ["sites", register.near.pk]),
]

ROUTES += [Route(*row) for row in PAGE_ROWS]

# Answered the same to everybody, whatever the method.
UNKNOWN = {"api:unknown", "ogc:unknown"}
# The administration pages stand and fall together: Django asks for is_staff before anything else.
ADMINISTRATION = "admin:"


def last_change() -> int:
    from sites.models import ChangeRecord

    latest = ChangeRecord.objects.first()
    assert latest is not None
    return latest.pk


def names_of_all_routes(resolver: URLResolver | None = None, namespace: str = "") -> Iterator[str]:
    """The name of every address that the project answers, with its namespace; one without a name by its pattern."""
    for entry in (resolver or get_resolver()).url_patterns:
        if isinstance(entry, URLResolver):
            inner = f"{namespace}{entry.namespace}:" if entry.namespace else namespace
            yield from names_of_all_routes(entry, inner)
        else:
            assert isinstance(entry, URLPattern)
            yield f"{namespace}{entry.name or entry.pattern}"


def test_every_address_stands_in_the_table_once() -> None:
    known = [route.name for route in ROUTES]
    served = {name for name in names_of_all_routes() if not name.startswith(ADMINISTRATION)}

    assert len(known) == len(set(known))
    assert served - set(known) - UNKNOWN == set(), "add these addresses to ROUTES"
    assert set(known) - served == set(), "these rows have no address"


@pytest.fixture(scope="module")
def world(django_db_setup: None, django_db_blocker: Any) -> Iterator[tuple[SmallRegister, dict[str, Person]]]:
    """The register and the people, entered once for the whole table and rolled back after it."""
    with django_db_blocker.unblock():
        block = transaction.atomic()
        block.__enter__()
        try:
            yield small_register(), people_of_every_role()
        finally:
            transaction.set_rollback(True)
            block.__exit__(None, None, None)


@pytest.mark.parametrize("route", ROUTES, ids=lambda route: route.name)
def test_each_role_may_do_what_the_table_says(
    route: Route, world: tuple[SmallRegister, dict[str, Person]]
) -> None:
    register, people = world
    address = reverse(route.name, args=route.args(register))
    wrong = []
    for who in EVERYBODY:
        client = Client(raise_request_exception=True)
        if who != NOBODY:
            client.force_login(people[who])
        for method in METHODS:
            with transaction.atomic():
                answer = client.generic(
                    method, address, data=_json(route.body), content_type="application/json"
                )
                transaction.set_rollback(True)
            if answer.streaming:
                b"".join(answer.streaming_content)  # type: ignore[attr-defined]  # reads to the end, which closes the file
            expected = _expected(route, method, who)
            if answer.status_code not in expected:
                wrong.append(f"{method} by {who}: {answer.status_code}, expected {sorted(expected)}")
            if answer.status_code == 302 and who == NOBODY:
                assert answer["Location"].startswith(reverse("sign-in"))
    assert wrong == []


def _json(body: Mapping[str, Any]) -> bytes:
    import json

    return json.dumps(body).encode()


def _expected(route: Route, method: str, who: str) -> set[int]:
    is_api = route.name.startswith(("api:", "ogc:"))
    if method not in route.may:
        return {401, 405} if is_api and who == NOBODY else {302, 405} if who == NOBODY else {405}
    roles, status = route.may[method]
    if who in roles:
        return {status}
    if who == NOBODY:
        return {401} if is_api else {302}
    return {403}


@pytest.mark.parametrize("who", [NOBODY, *ROLES])
def test_only_the_administrator_sees_the_administration_pages(
    who: str, world: tuple[SmallRegister, dict[str, Person]]
) -> None:
    _, people = world
    client = Client()
    if who != NOBODY:
        client.force_login(people[who])
    assert client.get(reverse("admin:index")).status_code == (200 if who == A else 302)
    for model in admin.site._registry:
        options = model._meta
        address = reverse(f"admin:{options.app_label}_{options.model_name}_changelist")
        seen = who == A and people[A].has_perm(f"{options.app_label}.view_{options.model_name}")
        assert client.get(address).status_code == (200 if seen else 403 if who == A else 302), (who, address)


@pytest.mark.parametrize("method", METHODS)
def test_an_unknown_address_of_the_api_is_a_problem_for_everybody(method: str) -> None:
    answer = Client().generic(method, "/api/v1/no-such-thing/")

    assert answer.status_code == 404
    assert answer["Content-Type"] == "application/problem+json"
