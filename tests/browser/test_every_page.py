"""Every page of the demo looked over by axe-core for WCAG 2.2 AA: in light, in dark, and on a phone's screen."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest

from sites.models import Person
from tests import axe

from .every_page import FILES, FORMS, FRAGMENTS, DemoObjects, addresses, further_addresses

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
#: Reached by a signed link only; what is looked over is the page that says so.
UNSIGNED = {"reminder-by-mail", "reminder-calendar"}
#: How many tests share the pages, so that workers can.
PARTS = 3
WIDE, PHONE = {"width": 1440, "height": 900}, {"width": 390, "height": 844}


def looked_over(page: Any, name: str) -> list[str]:
    """What is wrong with the page that is open, on either screen and in either scheme."""
    wrong = axe.offences(page)
    page.emulate_media(color_scheme="dark")
    wrong += [f"in dark: {offence}" for offence in axe.offences(page, axe.OF_COLOURS)]
    page.emulate_media(color_scheme="light")
    page.set_viewport_size(PHONE)
    wrong += [f"on a phone: {offence}" for offence in axe.offences(page, axe.OF_WIDTH)]
    width = page.evaluate("document.documentElement.scrollWidth")
    if width > PHONE["width"]:
        wrong.append(f"on a phone: {width} pixels wide")
    page.set_viewport_size(WIDE)
    return [f"{name}: {offence}" for offence in wrong]


@dataclass(frozen=True)
class Look:
    """A page to look over: as it opens, or as its form comes back when it is sent as it opens."""

    name: str
    address: str
    status: int | None = None
    sent: bool = False


def looks(named: dict[str, str]) -> list[Look]:
    """All that is looked over by somebody signed in, in the same order wherever the demo is built."""
    pages = {name: address for name, address in named.items() if name not in FILES | FRAGMENTS}
    assert len(pages) > 60
    return [
        *(Look(name, address, 404 if name in UNSIGNED else 200) for name, address in pages.items()),
        *(Look(f"{name}, refused", named[name], sent=True) for name in FORMS),
        *(Look(address, address) for address in further_addresses()),
    ]


def test_what_is_no_page_is_no_page(page: Any, demo: dt.date, sign_in: Callable[[Any], Any]) -> None:
    """And the page of those who are not signed in is in order."""
    page.set_viewport_size(WIDE)
    page.goto("/sign-in/")
    assert looked_over(page, "sign-in") == []
    person = Person.objects.get(username="anselm")
    named = dict(addresses(DemoObjects(person, demo)))
    assert FILES | FRAGMENTS | set(FORMS) <= set(named)
    sign_in(person)
    for name in FILES | FRAGMENTS:
        answer = page.request.get(named[name])
        assert name in FRAGMENTS or not answer.headers["content-type"].startswith("text/html"), name
        assert "<html" not in answer.text() if name in FRAGMENTS else True, name


@pytest.mark.parametrize("part", range(PARTS))
def test_no_page_breaks_a_rule_of_wcag(
    part: int, page: Any, demo: dt.date, sign_in: Callable[[Any], Any]
) -> None:
    person = Person.objects.get(username="anselm")
    named = dict(addresses(DemoObjects(person, demo)))
    page.set_viewport_size(WIDE)
    sign_in(person)
    wrong: list[str] = []

    for look in looks(named)[part::PARTS]:
        answer = page.goto(look.address)
        assert look.status in (None, answer.status), f"{look.name} answered {answer.status}"
        if look.sent:
            page.locator("form.entry").evaluate("form => form.requestSubmit()")
            page.wait_for_selector("[role=alert]")
        wrong += looked_over(page, look.name)

    assert not wrong, f"{len(wrong)} offences:\n" + "\n".join(wrong)
