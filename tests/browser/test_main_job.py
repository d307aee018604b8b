"""The main job in a real browser: sign in, enter a planned link, read what stands against it, decide."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from spectrum.models import Finding, Link
from spectrum.services import checks
from tests.made import Register, site
from tests.small_register import PASSWORD, person_of_role

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
WIDE, PHONE = {"width": 1440, "height": 900}, {"width": 390, "height": 844}


@pytest.fixture
def neighbour(transactional_db: None) -> Link:
    """A link on the air beside the two free sites K-01 and K-02."""
    register = Register()
    site("K-01"), site("K-02", 47.1)
    return register.link("N-1", site("N-01", 47.05, 14.02), site("N-02", 47.12, 14.1), status="on_air")


def fill(page: Any, **typed: str) -> None:
    for name, value in typed.items():
        page.locator(f"[name='{name.replace('__', '-')}']").fill(value)


def choose(page: Any, name: str, label: str) -> None:
    option = page.locator(f"select[name='{name}'] option", has_text=label).first
    page.locator(f"select[name='{name}']").select_option(value=option.get_attribute("value"))


def test_from_sign_in_to_a_planned_link_with_its_findings(page: Any, neighbour: Link) -> None:
    from playwright.sync_api import expect

    person_of_role("planner")
    page.goto("/")
    expect(page).to_have_title("Sign in")
    fill(page, username="planner", password=PASSWORD)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("What needs attention")

    page.get_by_role("link", name="Links", exact=True).click()
    page.get_by_role("link", name="Enter a link").click()
    fill(
        page,
        code="T-014",
        a__site="K-01",
        a__antenna_height_agl_m="20",
        b__site="K-02",
        b__antenna_height_agl_m="15",
    )
    choose(page, "a-antenna_type", "Whip")
    choose(page, "a-mode", "25 kHz")
    fill(page, a__tx_frequency_mhz="410", a__rx_frequency_mhz="420", a__tx_power_dbm="plenty")
    page.get_by_role("button", name="Save and check").click()
    expect(page.get_by_role("alert")).to_contain_text("what you typed is kept")
    expect(page.locator("[name='a-tx_power_dbm']")).to_have_value("plenty")

    fill(page, a__tx_power_dbm="5 W")
    page.get_by_role("button", name="Save and check").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Link T-014: may it be filed?")
    page.get_by_role("button", name="Check now").click()
    expect(page.locator("#answer")).to_contain_text("must be fixed")
    expect(page.locator("#findings")).to_contain_text("N-1")
    expect(page.locator("tr.margin").first).to_be_visible()
    expect(page.locator("svg.scale").first).to_be_visible()


def test_a_finding_is_accepted_where_it_stands(
    page: Any, neighbour: Link, sign_in: Callable[[Any], Any]
) -> None:
    from playwright.sync_api import expect

    checks.check_network()
    finding = Finding.objects.filter(kind="station_without_licence")[0]
    sign_in(person_of_role("planner"))
    page.goto(f"/findings/{finding.pk}/")

    page.get_by_label("Accept it, because").fill("The grant is on its way.")
    page.get_by_role("button", name="Accept with this reason").click()

    expect(page.locator(".finding")).to_contain_text("Accepted by planner")
    expect(page.locator(".finding")).to_contain_text("The grant is on its way.")
    assert page.url.endswith(f"/findings/{finding.pk}/")


def test_a_list_is_filtered_live_and_the_address_keeps_the_filter(
    page: Any, neighbour: Link, sign_in: Callable[[Any], Any]
) -> None:
    from playwright.sync_api import expect

    sign_in(person_of_role("viewer"))
    page.goto("/sites/")
    expect(page.locator("#results tbody tr")).to_have_count(4)

    page.get_by_label("search", exact=True).fill("N-0")
    page.keyboard.press("Enter")

    expect(page.locator("#results tbody tr")).to_have_count(2)
    assert "q=N-0" in page.url
    page.reload()
    expect(page.locator("#results tbody tr")).to_have_count(2)


def test_another_remote_is_added_without_losing_what_was_typed(
    page: Any, neighbour: Link, sign_in: Callable[[Any], Any]
) -> None:
    from playwright.sync_api import expect

    sign_in(person_of_role("planner"))
    page.goto("/links/add/?kind=ptmp")
    fill(page, code="M-1", r0__site="K-01")
    page.get_by_role("button", name="Add a remote").click()

    expect(page.locator(".remote")).to_have_count(3)
    expect(page.locator("[name='r0-site']")).to_have_value("K-01")
    expect(page.locator("[name='code']")).to_have_value("M-1")


def test_the_keyboard_reaches_search_from_anywhere_and_skips_the_navigation(
    page: Any, neighbour: Link, sign_in: Callable[[Any], Any]
) -> None:
    from playwright.sync_api import expect

    sign_in(person_of_role("viewer"))
    page.goto("/sites/")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the page's content")).to_be_focused()

    page.keyboard.press("/")
    expect(page.locator("#find")).to_be_focused()
    page.keyboard.type("410.0")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Stations on this frequency")).to_be_visible()
    expect(page.get_by_role("link", name="N-1/A")).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [WIDE, PHONE], ids=["wide", "phone"])
def test_no_page_is_wider_than_its_screen_and_all_text_is_readable(
    page: Any, neighbour: Link, sign_in: Callable[[Any], Any], size: dict[str, int], scheme: str
) -> None:
    """Contrast by the formula of WCAG 2.1 (relative luminance), at least 4.5:1 for every text on these pages."""
    checks.check_network()
    sign_in(person_of_role("administrator", is_staff=True))
    page.set_viewport_size(size)
    page.emulate_media(color_scheme=scheme)
    finding = Finding.objects.order_by("rank", "pk")[0]
    for address in (
        "/",
        "/links/",
        f"/links/{neighbour.pk}/",
        f"/findings/{finding.pk}/",
        "/findings/",
        "/links/add/",
        f"/sites/{neighbour.stations.all()[0].site_id}/",
        "/sites/add/",
    ):
        page.goto(address)
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"], address
        assert page.evaluate(FAINT_TEXT) == [], address


FAINT_TEXT = """() => {
  const parse = (text) => (text.match(/[\\d.]+/g) || []).map(Number);
  const luminance = ([r, g, b]) => {
    const [x, y, z] = [r, g, b].map((v) => {
      const s = v / 255;
      return s <= 0.03928 ? s / 12.92 : ((s + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * x + 0.7152 * y + 0.0722 * z;
  };
  const behind = (element) => {
    for (let e = element; e; e = e.parentElement) {
      const colour = parse(getComputedStyle(e).backgroundColor);
      if (colour.length === 3 || colour[3] > 0) return colour;
    }
    return [255, 255, 255];
  };
  const faint = [];
  for (const e of document.querySelectorAll("body *")) {
    const says = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
    if (!says || e.closest("script, option, datalist") || !e.getClientRects().length) continue;
    const style = getComputedStyle(e);
    const colour = e instanceof SVGElement ? style.fill : style.color;
    const [a, b] = [luminance(parse(colour)), luminance(behind(e))].sort((x, y) => y - x);
    if ((a + 0.05) / (b + 0.05) < 4.5) faint.push(`${e.tagName} ${e.textContent.trim().slice(0, 30)} ${colour}`);
  }
  return faint;
}"""
