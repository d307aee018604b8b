"""In a real browser: save, read the message, press Undo."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse

from sites.models import Site
from spectrum.models import Finding
from tests.made import site
from tests.small_register import person_of_role, small_register

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_save_is_taken_back_by_the_button_beside_its_message(
    page: Any, transactional_db: None, sign_in: Callable[[Any], Any]
) -> None:
    from playwright.sync_api import expect

    place = site("S1")
    sign_in(person_of_role("planner"))
    page.goto(reverse("site-change", args=[place.pk]))
    page.locator("[name='name']").fill("Not this one")
    page.get_by_role("button", name="Save").click()
    expect(page.locator(".said.success")).to_contain_text("Not this one")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".said.success")).to_contain_text("Undone: S1 Not this one is as before.")
    assert Site.objects.get().name == "Place S1"


def test_an_acceptance_without_a_page_load_is_taken_back_too(
    page: Any, transactional_db: None, sign_in: Callable[[Any], Any]
) -> None:
    from playwright.sync_api import expect

    finding = small_register().finding
    sign_in(person_of_role("planner"))
    address = reverse("finding", args=[finding.pk])
    page.goto(address)
    page.locator("form.accept [name='reason']").fill("agreed by letter")
    page.locator("form.accept button").click()
    expect(page.locator(".mark.accepted").first).to_be_visible()
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".said.success")).to_contain_text("is as before")
    expect(page).to_have_url(re.compile(f"{address}$"))
    assert Finding.objects.get(pk=finding.pk).accepted_at is None
