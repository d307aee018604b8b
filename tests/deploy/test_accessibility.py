"""The map looked over by axe-core, in light and in dark, with what can be chosen on it; and that axe-core sees."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from spectrum.services import checks
from tests.axe import offences
from tests.small_register import person_of_role, small_register

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("width", [1440, 390])
def test_the_map_breaks_no_rule_of_wcag(
    page: Any, transactional_db: None, sign_in: Callable[[Any], Any], dark: bool, width: int
) -> None:
    register = small_register()
    checks.check_network()
    sign_in(person_of_role("planner"))
    page.set_viewport_size({"width": width, "height": 900})
    page.emulate_media(color_scheme="dark" if dark else "light")
    page.goto("/map/")
    page.wait_for_selector("#map[data-drawn]")
    assert offences(page) == []

    for address in (
        f"/map/links/{register.link.pk}/",
        f"/map/sites/{register.near.pk}/",
        "/map/place/?latitude=47&longitude=11",
    ):
        page.evaluate("address => window.htmx.ajax('GET', address, { target: '#map-sheet' })", address)
        page.wait_for_selector("#map-sheet h2")
        page.get_by_role("button", name="Start a link between two sites").click()
        assert offences(page) == [], address


def test_an_offence_is_found(page: Any) -> None:
    page.goto("/sign-in/")
    page.evaluate("document.querySelector('main').append(document.createElement('img'))")
    assert [offence.partition(":")[0] for offence in offences(page)] == ["image-alt"]
