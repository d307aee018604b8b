"""The whole path on the demo network, from two sites to a radio that is set: planner, registrar, field engineer.

Once with a pointer on a phone's screen, once by the keyboard alone on a desk's.
"""

from __future__ import annotations

import datetime as dt
import io
import math
import re
from dataclasses import dataclass
from typing import Any

import pytest
from django.utils import timezone

from spectrum.demo.people import PASSWORD
from spectrum.models import Finding, Link

from .hands import Hand, Keyboard, Pointer

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
WIDE, PHONE = {"width": 1440, "height": 900}, {"width": 390, "height": 844}
#: Two sites of the demo, and the pair of another party on the air who is near enough to be disturbed.
NEAR, FAR, TAKEN_MHZ, NEIGHBOUR = "V36", "H12", ("415.69375", "425.69375"), "O-041"


@dataclass
class Walk:
    """One person after another at one browser."""

    page: Any
    hand: Hand
    code: str

    def sign_in(self, username: str) -> None:
        if self.page.url == "about:blank":
            self.page.goto("/")
        else:
            self.hand.press(self.button("Sign out"))
        self.hand.fill(self.page.locator("[name=username]"), username)
        self.hand.fill(self.page.locator("[name=password]"), PASSWORD)
        self.hand.press(self.button("Sign in"))
        self.heading("What needs attention")

    def heading(self, text: str | re.Pattern[str]) -> None:
        from playwright.sync_api import expect

        expect(self.page.get_by_role("heading", level=1)).to_contain_text(text)

    def button(self, name: str) -> Any:
        return self.page.get_by_role("button", name=name, exact=True).first

    def link(self, name: str) -> Any:
        return self.page.locator("main").get_by_role("link", name=name, exact=True).first

    def menu(self, name: str) -> Any:
        return self.page.get_by_role("navigation", name="Register").get_by_role("link", name=name, exact=True)

    def field(self, name: str) -> Any:
        return self.page.locator(f"[name='{name}']")

    def fill(self, **typed: str) -> None:
        for name, text in typed.items():
            self.hand.fill(self.field(name.replace("__", "-")), text)

    def find(self, code: str) -> None:
        """Look an object up by its code, from wherever one stands."""
        self.hand.fill(self.page.locator("#find"), code)
        self.page.keyboard.press("Enter")
        self.hand.press(self.page.locator("main").get_by_role("link", name=re.compile(rf"^{code}\b")).first)

    def read(self, link: str) -> str:
        """The text of the PDF that a link of the page leads to."""
        from pypdf import PdfReader

        answer = self.page.request.get(self.link(link).get_attribute("href"))
        assert answer.headers["content-type"] == "application/pdf"
        return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.body())).pages)


@pytest.mark.parametrize("how", ["pointer", "keyboard"])
def test_from_two_sites_to_a_radio_that_is_set(page: Any, demo: dt.date, how: str) -> None:
    page.set_viewport_size(PHONE if how == "pointer" else WIDE)
    keyboard = Keyboard(page)
    walk = Walk(page, Pointer() if how == "pointer" else keyboard, "W-1" if how == "pointer" else "W-2")

    plan_a_link(walk)
    pair = take_a_pair(walk)
    number = apply_for_it(walk, pair)
    record_the_grant(walk, number, pair)
    set_the_radio(walk)

    assert not keyboard.faults, "\n".join(keyboard.faults)


def plan_a_link(walk: Walk) -> None:
    """The planner chooses two sites, types a link and reads what stands against it before and after saving."""
    from playwright.sync_api import expect

    page, hand = walk.page, walk.hand
    walk.sign_in("petra")
    if isinstance(hand, Pointer):
        choose_two_sites_on_the_map(walk)
    else:
        hand.press(walk.menu("Links"))
        hand.press(walk.link("Enter a link"))
        walk.fill(a__site=NEAR, b__site=FAR)
    walk.heading("Enter a point-to-point link")
    walk.fill(code=walk.code, a__antenna_height_agl_m="20", b__antenna_height_agl_m="30")
    expect(page.locator("#preview-summary")).to_contain_text("25.58 km")
    hand.choose(walk.field("a-antenna_type"), "Yagi 410, 8 elements")
    hand.choose(walk.field("a-mode"), "Ulmet 4, 12.5 kHz 4-FSK")
    walk.fill(a__tx_frequency_mhz=TAKEN_MHZ[0], a__rx_frequency_mhz=TAKEN_MHZ[1], a__tx_power_dbm="1 W")
    expect(page.locator("#preview-summary")).to_contain_text("must be fixed")
    expect(page.locator("#preview-body svg.profile")).to_be_visible()
    assert not Link.objects.filter(code=walk.code).exists()

    hand.set_day(walk.field("starts_on"), timezone.localdate() + dt.timedelta(days=120))
    hand.press(walk.button("Save and check"))
    walk.heading(f"Link {walk.code}: may it be filed?")
    expect(page.locator("#answer")).to_contain_text("must be fixed")

    worst = page.locator("#findings .finding").first
    expect(worst).to_contain_text(NEIGHBOUR)
    hand.press(worst.get_by_role("link", name="its own page"))
    expect(page.locator(".finding")).to_contain_text("dB over")
    expect(page.locator("tr.margin").first).to_be_visible()
    expect(page.locator("main svg").first).to_be_visible()
    hand.press(
        walk.link(f"{walk.code}/B") if walk.link(f"{walk.code}/B").count() else walk.link(f"{walk.code}/A")
    )
    walk.heading(f"Link {walk.code}: may it be filed?")


def choose_two_sites_on_the_map(walk: Walk) -> None:
    from sites.models import Site

    page = walk.page
    near, far = (Site.objects.get(code=code) for code in (NEAR, FAR))
    walk.hand.press(walk.menu("Map"))
    page.wait_for_selector("#map[data-drawn]")
    zoom = 10.0
    # Web Mercator in tiles of 256 pixels, as the address counts its zoom.
    scale = 256 * 2**zoom / (2 * math.pi)

    def pixels(place: Site) -> tuple[float, float]:
        turned = math.radians(place.latitude_deg)
        return scale * math.radians(place.longitude_deg), -scale * math.asinh(math.tan(turned))

    middle_latitude = (near.latitude_deg + far.latitude_deg) / 2
    middle_longitude = (near.longitude_deg + far.longitude_deg) / 2
    page.goto(f"/map/#{middle_latitude:.5f},{middle_longitude:.5f},{zoom:.2f}")
    page.reload()
    page.wait_for_selector("#map[data-drawn]")
    walk.hand.press(walk.button("Start a link between two sites"))
    (x0, y0), (x1, y1) = pixels(near), pixels(far)
    middle_x, middle_y = (x0 + x1) / 2, -scale * math.asinh(math.tan(math.radians(middle_latitude)))
    box = page.locator("#map-picture").bounding_box()
    for (x, y), step in (((x0, y0), f"From {NEAR}"), ((x1, y1), "")):
        page.locator("#map-picture").click(
            position={"x": box["width"] / 2 + x - middle_x, "y": box["height"] / 2 + y - middle_y}
        )
        if step:
            page.locator("#map-step").filter(has_text=step).wait_for()


def take_a_pair(walk: Walk) -> tuple[str, str]:
    """The planner looks for a clear pair and takes it; returns what end A sends and hears, in MHz."""
    from playwright.sync_api import expect

    page, hand = walk.page, walk.hand
    hand.press(walk.link("Find a pair"))
    walk.heading(f"Link {walk.code}: which pair can it take?")
    hand.choose(walk.field("plans"), "U41-12")
    hand.press(walk.button("Search"))
    expect(page.locator(".answer")).to_contain_text("pairs are clear")
    best = page.locator("table.pairs tbody tr").first
    sends, hears = (best.locator("td").nth(column).inner_text() for column in (1, 2))
    hand.press(best.get_by_role("button", name=re.compile("^Take")))
    walk.heading(f"Link {walk.code}: may it be filed?")
    expect(page.locator("main")).to_contain_text(sends)
    expect(page.locator("#answer")).not_to_contain_text(NEIGHBOUR)
    return sends, hears


def apply_for_it(walk: Walk, pair: tuple[str, str]) -> str:
    """The planner draws up the application and reads its data sheet; returns its number."""
    from playwright.sync_api import expect

    page, hand = walk.page, walk.hand
    hand.press(walk.link("Apply for a licence"))
    number = str(walk.field("number").input_value())
    hand.choose(walk.field("authority"), "TMRB")
    walk.fill(contact="Radio office, Mill Lane 3, Hethby; radio@orvask-power.example; +00 555 0147")
    hand.press(walk.button("Save"))
    walk.heading(f"Application {number}: may it be filed?")
    # This authority asks a figure of the antenna that nobody needed before: it is entered where it belongs.
    expect(page.locator(".answer")).to_contain_text(
        "Not yet: 1 field is missing. First: half-power beamwidth"
    )
    hand.press(walk.link("Go there"))
    hand.press(walk.link("Change"))
    walk.fill(beamwidth_deg="42")
    hand.press(walk.button("Save"))
    walk.find(number)
    walk.heading(f"Application {number}: may it be filed?")
    expect(page.locator(".answer")).to_contain_text("every field that the authority asks is filled")
    expect(page.locator("main")).to_contain_text(walk.code)
    printed = walk.read("Data sheet (PDF)")
    for figure in (number, walk.code, *pair):
        assert figure in printed
    return number


def record_the_grant(walk: Walk, number: str, pair: tuple[str, str]) -> None:
    """The registrar files, and records a grant with less power and another frequency; the link shows what is off."""
    from playwright.sync_api import expect

    page, hand = walk.page, walk.hand
    walk.sign_in("remi")
    walk.find(number)
    expect(page.locator("#file")).to_be_visible()
    walk.fill(reference="TMRB/F/77", despite="Agreed by telephone.")
    hand.press(walk.button("Record that it was filed"))
    expect(page.get_by_role("status").first).to_contain_text("is filed")
    hand.press(walk.link("Record the grant"))
    walk.heading("what was granted?")
    today = timezone.localdate()
    walk.fill(number=f"TM-9-{walk.code}")
    hand.set_day(walk.field("expires_on"), dt.date(today.year + 10, 6, 30))
    walk.fill(tolerance_m="100")
    power = page.locator("[name$='power_limit_dbm']").first
    asked_dbm = float(power.input_value().split()[0])
    frequency = page.locator("[name$='frequency_mhz']").first
    assert frequency.input_value() == pair[0]
    moved = f"{float(pair[0]) + 0.0125:.5f}"
    hand.fill(frequency, moved)
    hand.fill(power, f"{asked_dbm - 6:.2f}")
    hand.press(walk.button("Record the grant"))
    expect(page.get_by_role("status").first).to_contain_text("is granted")
    expect(page.locator("main")).to_contain_text("otherwise than asked")
    expect(page.locator("main")).to_contain_text(moved)

    hand.press(page.locator("main dl").get_by_role("link", name=re.compile(f"TM-9-{walk.code}")))
    walk.heading(f"TM-9-{walk.code}: what does it allow, until when?")
    expect(page.locator("main")).to_contain_text(moved)
    walk.find(walk.code)
    compared = page.locator("table.limits").first
    expect(compared).to_contain_text("outside")
    expect(page.locator("#findings")).to_contain_text("6.00 dB above the licensed")
    kinds = set(Finding.objects.filter(link__code=walk.code, gone_at=None).values_list("kind", flat=True))
    assert {"licence_frequency", "licence_power"} <= kinds


def set_the_radio(walk: Walk) -> None:
    """The field engineer reads what to set, and records a power that is not that; the register says so."""
    from playwright.sync_api import expect

    page, hand = walk.page, walk.hand
    walk.sign_in("falk")
    walk.find(walk.code)
    hand.press(walk.link("Commissioning sheet"))
    walk.heading(f"Link {walk.code}: what is each end set to?")
    expect(page.locator("main")).to_contain_text("Before anybody transmits or climbs")
    expect(page.locator("dl.block").first).to_contain_text("transmits")
    hand.press(walk.link("Enter what was found at A"))
    walk.heading("What was found at")
    sends = page.locator("[name=tx_frequency_mhz]")
    hand.fill(sends, TAKEN_MHZ[0])
    walk.fill(tx_power_dbm="5 W", received_level_dbm="-95")
    hand.press(walk.button("Save"))
    walk.heading(f"Link {walk.code}: what is each end set to?")
    off = page.locator("li.outside")
    expect(off.filter(has_text=TAKEN_MHZ[0]).first).to_be_visible()
    hand.press(page.locator("h1 a"))
    expect(page.locator("#findings")).to_contain_text("Found otherwise")
    assert Finding.objects.filter(link__code=walk.code, kind="as_built_differs", gone_at=None).exists()
