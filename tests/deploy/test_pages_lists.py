"""Every list of the register: whatever stands in its address, it answers with the list and a sentence."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import get_resolver, reverse

from sites.views.listing import ListPage
from tests.small_register import person_of_role, small_register

pytestmark = pytest.mark.django_db
LISTS = sorted(
    entry.name
    for resolver in get_resolver().url_patterns
    for entry in getattr(resolver, "url_patterns", [])
    if issubclass(getattr(getattr(entry, "callback", None), "view_class", object), ListPage)
)
GARBAGE = ["x", "-1", "1e400", "9" * 25, "2026-02-31", "a\x00b", "𝄞%"]


@pytest.fixture(scope="module")
def client(django_db_setup: None, django_db_blocker: Any) -> Iterator[Client]:
    """An administrator's client on the small register, entered once and rolled back."""
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


def test_there_are_lists_of_everything() -> None:
    assert len(LISTS) == 20
    assert {"site-list", "link-list", "licence-list", "finding-list", "change-list", "check-list"} < set(
        LISTS
    )


@pytest.mark.parametrize("name", LISTS)
def test_a_list_takes_garbage_in_every_filter(name: str, client: Client) -> None:
    address = reverse(name)
    fields = client.get(address).context["filterset"].form.fields
    for field in [*fields, "sort", "page"]:
        for value in GARBAGE:
            answer = client.get(address, {field: value})
            assert answer.status_code == 200, (field, value)


@pytest.mark.parametrize("name", LISTS)
def test_a_list_orders_by_each_of_its_columns_both_ways(name: str, client: Client) -> None:
    heads = client.get(reverse(name)).context["heads"]
    orders = [head.column.order for head in heads if head.column.order]

    assert orders
    for order in orders:
        for sort in (order, f"-{order}"):
            answer = client.get(reverse(name), {"sort": sort})
            assert answer.status_code == 200
            assert answer.context["sentences"] == []


@pytest.mark.parametrize("name", LISTS)
def test_a_live_filter_renews_only_the_rows(name: str, client: Client) -> None:
    part = client.get(reverse(name), headers={"HX-Request": "true"}).content.decode()

    assert '<section id="results"' in part
    assert "<html" not in part
