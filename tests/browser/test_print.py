"""On paper: no navigation and nothing to press, marks and pictures kept, tables as wide as the sheet."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse

from tests.small_register import SmallRegister, person_of_role, small_register

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
# A4 less the margins of 12 mm on both sides, at the 96 pixels to the inch of CSS (CSS Values and Units 3, 6.2).
PORTRAIT = int((210 - 24) / 25.4 * 96)


@pytest.fixture
def register(transactional_db: None) -> SmallRegister:
    return small_register()


def test_pages_print_whole_and_without_what_can_only_be_pressed(
    page: Any, register: SmallRegister, sign_in: Callable[[Any], Any]
) -> None:
    sign_in(person_of_role("administrator"))
    page.set_viewport_size({"width": PORTRAIT, "height": 1000})
    page.emulate_media(media="print", color_scheme="dark")
    for name, of in (
        ("link", register.link),
        ("finding", register.finding),
        ("site", register.near),
        ("licence", register.licence),
        ("occupancy", None),
    ):
        page.goto(reverse(name, args=[of.pk] if of is not None else []))
        for hidden in ("header.top", ".acts", ".filters", ".files", "form:not(.entry)", ".no-print"):
            shown = [one for one in page.locator(hidden).all() if one.is_visible()]
            assert not shown, (name, hidden)
        assert page.locator("h1").is_visible()
        assert page.evaluate("document.documentElement.scrollWidth") <= PORTRAIT, name
        assert page.evaluate("getComputedStyle(document.querySelector('main')).backgroundColor") == (
            "rgb(255, 255, 255)"
        ), "dark paper"
        heads = page.evaluate(
            "[...document.querySelectorAll('table.list thead')].map(head => getComputedStyle(head).display)"
        )
        assert set(heads) <= {"table-header-group"}, name
    page.goto(reverse("finding", args=[register.finding.pk]))
    assert page.locator(".mark svg").first.is_visible()
    assert page.locator("table.evidence").first.is_visible()


def test_what_is_folded_on_the_screen_is_open_on_paper(
    page: Any, register: SmallRegister, sign_in: Callable[[Any], Any]
) -> None:
    sign_in(person_of_role("viewer"))
    page.goto(reverse("link", args=[register.link.pk]))
    inside = page.locator(".finding .inside").first
    page.locator(".finding summary").first.click()  # the worst one is open at first
    assert not inside.is_visible()
    page.emulate_media(media="print")
    assert inside.is_visible()
