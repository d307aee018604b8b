"""Typing a link in a real browser: its judgement follows without a page load, and nothing typed is lost."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

from spectrum.models import Link
from tests.made import Register, site
from tests.small_register import person_of_role

from .test_main_job import PHONE, choose, fill

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def stored(transactional_db: None) -> Link:
    """A link on the air beside the two free sites K-01 and K-02."""
    register = Register()
    site("K-01"), site("K-02", 47.1)
    return register.link("N-1", site("N-01", 47.05, 14.02), site("N-02", 47.12, 14.1), status="on_air")


def margins(page: Any) -> list[float]:
    said = page.locator("#preview-summary").inner_text().replace("−", "-")
    return [float(number) for number in re.findall(r"(-?[\d.]+) dB at", said)]


def test_a_changed_power_moves_the_margin_while_the_cursor_stays_in_its_field(
    page: Any, stored: Link, sign_in: Callable[[Any], Any]
) -> None:
    from playwright.sync_api import expect

    loads: list[str] = []
    sign_in(person_of_role("planner"))
    page.goto(f"/links/{stored.pk}/change/")
    expect(page.locator("#preview-body svg.profile")).to_be_visible()
    before = margins(page)
    page.on("framenavigated", lambda frame: loads.append(frame.url))
    page.locator("[name='notes']").fill("Half a sent")
    power = page.locator("[name='a-tx_power_dbm']")

    power.fill("")
    power.press_sequentially("27")
    expect(page.locator("#preview-summary")).to_contain_text(f"{before[1] - 10.0:.1f} dB at B")

    expect(power).to_be_focused()
    expect(power).to_have_value("27")
    expect(page.locator("[name='notes']")).to_have_value("Half a sent")
    assert margins(page)[0] == pytest.approx(before[0])
    assert not loads
    stored.refresh_from_db()
    assert {s.tx_power_dbm for s in stored.stations.all()} == {37.0}


def test_a_half_typed_figure_is_named_quietly_and_the_profile_stays(
    page: Any, stored: Link, sign_in: Callable[[Any], Any]
) -> None:
    from playwright.sync_api import expect

    sign_in(person_of_role("planner"))
    page.goto(f"/links/{stored.pk}/change/")
    page.locator("[name='a-tx_power_dbm']").fill("3x")

    expect(page.locator("#preview-body .unread")).to_contain_text("End A, transmitter output: “3x” was typed")
    expect(page.locator("#preview-body svg.profile")).to_be_visible()
    expect(page.locator("#preview-summary")).to_contain_text("findings not judged yet")
    expect(page.locator("[name='a-tx_power_dbm']")).to_have_value("3x")


def test_a_finding_that_was_opened_stays_open_when_the_next_answer_comes(
    page: Any, stored: Link, sign_in: Callable[[Any], Any]
) -> None:
    from playwright.sync_api import expect

    sign_in(person_of_role("planner"))
    page.goto(f"/links/{stored.pk}/change/")
    first = page.locator("#preview-body .finding").first
    first.locator("summary").click()
    expect(first.locator("details")).to_have_attribute("open", "")
    name = first.get_attribute("id")
    before = margins(page)

    page.locator("[name='a-antenna_height_agl_m']").fill("21")
    page.locator("[name='a-tx_power_dbm']").fill("36")
    expect(page.locator("#preview-summary")).not_to_contain_text(f"{before[1]:.1f} dB at B")

    expect(page.locator(f"#{name} details")).to_have_attribute("open", "")


def test_a_new_link_is_judged_by_keyboard_alone_on_a_phone(
    page: Any, stored: Link, sign_in: Callable[[Any], Any]
) -> None:
    from playwright.sync_api import expect

    page.set_viewport_size(PHONE)
    sign_in(person_of_role("planner"))
    page.goto("/links/add/")
    page.locator("[name='a-site']").focus()
    page.keyboard.type("k-01")
    page.keyboard.press("Tab")
    page.keyboard.type("20")
    fill(page, b__site="K-02", b__antenna_height_agl_m="15")
    expect(page.locator("#preview-summary")).to_contain_text("11.12 km")
    choose(page, "a-antenna_type", "Whip")
    choose(page, "a-mode", "25 kHz")
    fill(page, a__tx_frequency_mhz="410", a__rx_frequency_mhz="420", a__tx_power_dbm="5 W")
    expect(page.locator("#preview-summary")).to_contain_text("must be fixed")
    expect(page.locator("#preview-summary")).to_be_in_viewport()

    page.locator("#preview-summary a").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#findings h2")).to_be_in_viewport()
    finding = page.locator("#preview-body .finding summary").first
    finding.focus()
    page.keyboard.press("Enter")
    expect(page.locator("#preview-body tr.margin").first).to_be_visible()
    # Nothing is wider than the phone.
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    assert not Link.objects.exclude(pk=stored.pk).exists()


def test_a_slow_older_answer_never_stands_over_a_newer_one(
    page: Any, stored: Link, sign_in: Callable[[Any], Any]
) -> None:
    from playwright.sync_api import expect

    sign_in(person_of_role("planner"))
    page.goto(f"/links/{stored.pk}/change/")
    expect(page.locator("#preview-body svg.profile")).to_be_visible()
    before = margins(page)
    held: list[Any] = []

    def hold_the_first(route: Any) -> None:
        if held or route.request.method != "POST":
            route.continue_()
        else:
            held.append(route)

    page.route("**/change/", hold_the_first)
    power = page.locator("[name='a-tx_power_dbm']")
    power.fill("20")
    page.wait_for_timeout(800)
    assert held
    power.fill("30")
    expect(page.locator("#preview-summary")).to_contain_text(f"{before[1] - 7.0:.1f} dB at B")
    # The browser gave the older question up; answering it now changes nothing.
    held[0].fulfill(status=200, content_type="text/html", body="<p>an older answer</p>")
    page.wait_for_timeout(800)

    expect(page.locator("#preview-summary")).to_contain_text(f"{before[1] - 7.0:.1f} dB at B")
    expect(page.locator("#preview-body")).not_to_contain_text("an older answer")
