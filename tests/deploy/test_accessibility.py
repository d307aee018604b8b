"""Pages looked over by the open rule set axe-core for WCAG 2.0 to 2.2, levels A and AA, in light and in dark."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from spectrum.services import checks
from tests.small_register import person_of_role, small_register

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}}


def offences(page: Any) -> list[str]:
    """What axe-core finds on the page that is open: rule, and the elements that break it."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page, options=RULES).response["violations"]
    return [
        f"{rule['id']}: {node['target']} {node['failureSummary']}" for rule in found for node in rule["nodes"]
    ]


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
