"""Every page of the demo looked over by axe-core for WCAG 2.2 AA: in light, in dark, and on a phone's screen."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest

from sites.models import Person
from tests import axe

from .every_page import FILES, FORMS, FRAGMENTS, DemoObjects, addresses, further_addresses

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
#: Reached by a signed link only; what is looked over is the page that says so.
UNSIGNED = {"reminder-by-mail", "reminder-calendar"}
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


def test_no_page_breaks_a_rule_of_wcag(page: Any, demo: dt.date, sign_in: Callable[[Any], Any]) -> None:
    person = Person.objects.get(username="anselm")
    objects = DemoObjects(person, demo)
    page.set_viewport_size(WIDE)
    wrong: list[str] = []
    page.goto("/sign-in/")
    wrong += looked_over(page, "sign-in")
    sign_in(person)
    seen = 0
    named = dict(addresses(objects))
    assert FILES | FRAGMENTS | set(FORMS) <= set(named)

    for name, address in named.items():
        if name in FILES or name in FRAGMENTS:
            answer = page.request.get(address)
            assert name in FRAGMENTS or not answer.headers["content-type"].startswith("text/html"), name
            assert "<html" not in answer.text() if name in FRAGMENTS else True, name
            continue
        answer = page.goto(address)
        assert answer.status == (404 if name in UNSIGNED else 200), f"{name} answered {answer.status}"
        wrong += looked_over(page, name)
        seen += 1
    for name in FORMS:
        page.goto(named[name])
        page.locator("form.entry").evaluate("form => form.requestSubmit()")
        page.wait_for_selector("[role=alert]")
        wrong += looked_over(page, f"{name}, refused")
    for address in further_addresses():
        page.goto(address)
        wrong += looked_over(page, address)

    assert not wrong, f"{len(wrong)} offences:\n" + "\n".join(wrong)
    assert seen > 60
