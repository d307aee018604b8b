"""A form that stands far down its page: what was refused is on the screen when the page comes back."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.small_register import person_of_role, small_register

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_refusal_below_the_screen_is_scrolled_to(
    page: Any, transactional_db: None, sign_in: Callable[[Any], Any]
) -> None:
    from playwright.sync_api import expect

    register = small_register()
    sign_in(person_of_role("registrar"))
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(f"/applications/{register.application.pk}/")
    page.get_by_label("Filed on").fill("2199-01-01")
    page.get_by_role("button", name="Record that it was filed").click()
    expect(page.get_by_role("alert")).to_be_in_viewport()
    expect(page.get_by_text("lies in the future")).to_be_in_viewport()
