"""The map in a real browser: what is drawn, chosen by hand and by keyboard, filtered, and how fluid it stays."""

from __future__ import annotations

import json
import re
import statistics
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from sites.models import MapLayer
from sites.services import record
from spectrum.models import Link
from spectrum.services import checks
from tests.made import TESTS, Register, site
from tests.small_register import person_of_role

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
#: Where things are in the picture: the middle of the canvas, and pixels a degree of longitude at the address' zoom.
ZOOM = 11.0
PIXELS_A_DEGREE = 256 * 2**ZOOM / 360


@pytest.fixture
def network(transactional_db: None) -> dict[str, Link]:
    """Two links 0.05° either side of 47 N 14 E, on the same channel, checked against each other."""
    register = Register()
    west = register.link("WEST", site("W1", 47.0, 13.95), site("W2", 47.02, 13.95), status="on_air")
    east = register.link("EAST", site("E1", 47.0, 14.05), site("E2", 47.02, 14.05))
    site("ALONE", 47.0, 14.0)
    checks.check_network()
    return {"west": west, "east": east}


@pytest.fixture
def open_map(page: Any, network: dict[str, Link], sign_in: Callable[[Any], Any]) -> Callable[..., Any]:
    def open_map(role: str = "planner", query: str = "", zoom: float = ZOOM) -> Any:
        sign_in(person_of_role(role))
        page.goto(f"/map/{query}#47.00000,14.00000,{zoom:.2f}")
        page.wait_for_selector("#map[data-drawn]")
        page.wait_for_timeout(300)
        return page

    return open_map


def press(page: Any, east_deg: float = 0.0, north_px: float = 0.0) -> None:
    """Press the map so far from its middle."""
    box = page.locator("#map-picture").bounding_box()
    page.locator("#map-picture").click(
        position={
            "x": box["width"] / 2 + east_deg * PIXELS_A_DEGREE,
            "y": box["height"] / 2 - north_px,
        }
    )


def inked(page: Any) -> int:
    """How many points of the picture are not bare."""
    script = """() => {
        const c = document.getElementById("map-picture");
        const d = c.getContext("2d").getImageData(0, 0, c.width, c.height).data;
        let n = 0;
        for (let i = 3; i < d.length; i += 4) if (d[i]) n++;
        return n;
    }"""
    return int(page.evaluate(script))


def test_the_map_is_reached_from_anywhere_and_shows_the_network(
    page: Any, network: dict[str, Link], sign_in: Callable[[Any], Any]
) -> None:
    from playwright.sync_api import expect

    sign_in(person_of_role("viewer"))
    page.goto("/")
    page.get_by_role("link", name="Map", exact=True).click()

    expect(page.get_by_role("heading", level=1)).to_have_text("Map: what stands where?")
    expect(page.locator("#map[data-drawn]")).to_be_visible()
    expect(page.locator("#map-said")).to_contain_text(
        "Of 2 links at 5 sites, 2 have something that must be fixed"
    )
    expect(page.locator("#results tbody tr")).to_have_count(2)
    expect(page.locator("#results .mark.must_fix")).to_have_count(2)
    expect(page.get_by_role("button", name="Start a link between two sites")).to_have_count(0)
    assert inked(page) > 500


def test_a_press_tells_of_a_site_of_a_link_and_of_an_empty_place(open_map: Callable[..., Any]) -> None:
    from playwright.sync_api import expect

    page = open_map()
    sheet = page.locator("#map-sheet")
    press(page, east_deg=-0.05)
    expect(sheet.get_by_role("heading")).to_have_text("Site W1 Place W1")
    press(page, east_deg=0.05, north_px=20)
    expect(sheet.get_by_role("heading")).to_contain_text("Link EAST")
    expect(sheet).to_contain_text("WEST")  # who disturbs whom
    press(page, east_deg=0.02, north_px=0)
    expect(sheet.get_by_role("heading")).to_have_text("A place without a site")

    sheet.get_by_role("link", name="Enter a site here").click()
    typed = page.locator("[name=position_typed]").input_value()
    latitude, longitude = (float(figure) for figure in typed.split(","))
    assert latitude == pytest.approx(47.0, abs=0.001)
    assert longitude == pytest.approx(14.02, abs=0.001)


def test_two_sites_start_a_link(open_map: Callable[..., Any]) -> None:
    from playwright.sync_api import expect

    page = open_map()
    page.get_by_role("button", name="Start a link between two sites").click()
    expect(page.locator("#map-step")).to_have_text("Choose the site of the first end.")
    press(page, east_deg=0.02)
    expect(page.locator("#map-step")).to_contain_text("There is no site.")
    press(page)
    expect(page.locator("#map-step")).to_contain_text("From ALONE: choose the site of the other end")
    press(page)
    expect(page.locator("#map-step")).to_contain_text("Choose another site")
    press(page, east_deg=0.05)

    expect(page.get_by_role("heading", level=1)).to_have_text("Enter a point-to-point link")
    expect(page.locator("[name=a-site]")).to_have_value("ALONE")
    expect(page.locator("[name=b-site]")).to_have_value("E1")


def test_the_keyboard_does_what_the_hand_does(open_map: Callable[..., Any]) -> None:
    from playwright.sync_api import expect

    page = open_map()
    page.get_by_role("button", name="Start a link between two sites").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#map-picture")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("#map-step")).to_contain_text("From ALONE")
    page.keyboard.press("Escape")
    expect(page.locator("#map-step")).to_have_text("")

    page.keyboard.press("Enter")
    expect(page.locator("#map-sheet").get_by_role("heading")).to_have_text("Site ALONE Place ALONE")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("+")
    expect(page).to_have_url(re.compile(r",11\.68$"))
    longitude = float(page.evaluate("location.hash").split(",")[1])
    assert longitude == pytest.approx(14.0 + 90 / PIXELS_A_DEGREE, abs=1e-4)


def test_every_way_of_moving_has_a_button(open_map: Callable[..., Any]) -> None:
    """WCAG 2.2, 2.5.7: what a drag does can be done by single presses as well."""
    page = open_map()
    for name, change in (("East", (0, 1)), ("North", (1, 0)), ("West", (0, -1)), ("South", (-1, 0))):
        before = [float(part) for part in page.evaluate("location.hash.slice(1)").split(",")]
        page.get_by_role("button", name=name).click()
        page.wait_for_timeout(400)
        after = [float(part) for part in page.evaluate("location.hash.slice(1)").split(",")]
        for axis in (0, 1):
            assert np.sign(round(after[axis] - before[axis], 4)) == change[axis], name


def test_a_drag_moves_and_the_wheel_zooms_at_the_pointer(open_map: Callable[..., Any]) -> None:
    from playwright.sync_api import expect

    page = open_map()
    box = page.locator("#map-picture").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x - 100, y, steps=4)
    page.mouse.up()
    page.mouse.move(x - 100, y)
    page.mouse.wheel(0, -400)
    expect(page).to_have_url(re.compile(r",12\.00$"))
    longitude = float(page.evaluate("location.hash").split(",")[1])
    # 14° E was drawn under the pointer, 100 pixels west of the middle, and stays there at twice the scale
    assert longitude == pytest.approx(14.0 + 100 / (2 * PIXELS_A_DEGREE), abs=2e-4)


def test_a_filter_changes_picture_list_and_address_together(open_map: Callable[..., Any]) -> None:
    from playwright.sync_api import expect

    page = open_map()
    page.get_by_label("status").select_option("on_air")
    expect(page.locator("#map-said")).to_contain_text("Of 1 link at 2 sites")
    expect(page.locator("#results tbody tr")).to_have_count(1)
    expect(page).to_have_url(re.compile(r"status=on_air.*#47\.00000,14\.0"))
    press(page)
    expect(page.locator("#map-sheet").get_by_role("heading")).to_have_text("A place without a site")

    page.reload()
    page.wait_for_selector("#map[data-drawn]")
    expect(page.locator("#map-said")).to_contain_text("Of 1 link at 2 sites")


def test_the_administrators_layer_is_drawn_and_its_source_named(
    page: Any, network: dict[str, Link], sign_in: Callable[[Any], Any]
) -> None:
    from playwright.sync_api import expect

    ring = [[13.9, 46.9], [14.1, 46.9], [14.1, 47.1], [13.9, 47.1], [13.9, 46.9]]
    shapes = json.dumps({"type": "Polygon", "coordinates": [ring]})
    sign_in(person_of_role("viewer"))
    page.goto("/map/#47.00000,14.00000,11.00")
    page.wait_for_selector("#map[data-drawn]")
    page.wait_for_timeout(500)
    bare = inked(page)
    record.create(MapLayer(name="Supply area", source="own survey", shapes=shapes), by=TESTS)
    page.reload()
    expect(page.locator("#map-sources")).to_have_text("Supply area: own survey")
    page.wait_for_timeout(500)

    assert inked(page) > 2 * bare


def test_data_that_do_not_come_are_said(
    page: Any, network: dict[str, Link], sign_in: Callable[[Any], Any], page_faults: list[str]
) -> None:
    from playwright.sync_api import expect

    sign_in(person_of_role("viewer"))
    page.route("**/map/data/**", lambda route: route.abort())
    page.goto("/map/")
    expect(page.locator("#map-step")).to_contain_text("The map's data did not come")
    expect(page.locator("#results tbody tr")).to_have_count(2)
    assert page_faults.pop() == "Failed to load resource: net::ERR_FAILED"


@pytest.mark.parametrize("size", [{"width": 1440, "height": 900}, {"width": 390, "height": 844}])
def test_the_page_is_no_wider_than_the_screen(
    open_map: Callable[..., Any], page: Any, size: dict[str, int]
) -> None:
    page.set_viewport_size(size)
    open_map()
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def test_on_a_phone_the_map_comes_before_its_filters(open_map: Callable[..., Any], page: Any) -> None:
    from playwright.sync_api import expect

    page.set_viewport_size({"width": 390, "height": 844})
    open_map()
    assert page.locator("#map-picture").bounding_box()["y"] < 844 / 2
    status = page.get_by_label("Status")
    expect(status).to_be_hidden()
    page.get_by_label("Filter what is shown").check()
    expect(status).to_be_visible()
    page.goto("/map/?status=planned")
    expect(status).to_be_visible()


LINKS, FRAMES = 10_000, 90
# While the map is dragged and zoomed, one step a frame: how long the script of each frame took, and the frames apart.
MEASURED = """async (frames) => {
    const canvas = document.getElementById("map-picture");
    const box = canvas.getBoundingClientRect();
    const [x, y] = [box.left + box.width / 2, box.top + box.height / 2];
    const send = (type, more) => canvas.dispatchEvent(new (type === "wheel" ? WheelEvent : PointerEvent)(type, {
        bubbles: true, cancelable: true, clientX: x, clientY: y, pointerId: 1, button: 0, pointerType: "mouse", ...more }));
    canvas.setPointerCapture = () => {};
    const apart = [];
    let last = 0;
    send("pointerdown", {});
    for (let i = 0; i < frames; i++) {
        await new Promise((done) => requestAnimationFrame((now) => { if (last) apart.push(now - last); last = now; done(); }));
        if (i < frames / 2) send("pointermove", { clientX: x + 6 * i, clientY: y + 3 * i });
        else {
            if (i === Math.ceil(frames / 2)) send("pointerup", {});
            send("wheel", { deltaY: i % 20 < 10 ? -40 : 40 });
        }
    }
    return apart;
}"""


def many_links(links: int) -> dict[str, Any]:
    """An answer of the register with so many links, invented: neighbours on a hilly plain."""
    rng = np.random.default_rng(11)
    latitude, longitude = 47 + 2 * rng.random(links), 14 + 3 * rng.random(links)
    to = (np.arange(links) + rng.integers(1, 40, links)) % links
    order = np.argsort(np.round(latitude, 1) * 100 + longitude)
    return {
        "kind": "each",
        "complete": True,
        "bounds": [14, 47, 17, 49],
        "first_view": [14, 47, 17, 49],
        "said": "",
        "sites": {
            "id": list(range(links)),
            "code": [f"S{i}" for i in range(links)],
            "latitude": latitude[order].tolist(),
            "longitude": longitude[order].tolist(),
            "own": (rng.random(links) < 0.5).astype(int).tolist(),
            "worst": [3] * links,
        },
        "lines": {
            "link": list(range(links)),
            "code": [f"L{i}" for i in range(links)],
            "from": list(range(links)),
            "to": to.tolist(),
            "look": rng.integers(0, 5, links).tolist(),
            "worst": rng.choice([0, 1, 2, 3], links, p=[0.05, 0.1, 0.3, 0.55]).tolist(),
        },
    }


def answering(body: str) -> Callable[[Any], None]:
    """What a request is answered with instead of the register's own answer."""
    return lambda route: route.fulfill(body=body, content_type="application/json")


def test_ten_thousand_links_stay_fluid(
    page: Any,
    network: dict[str, Link],
    sign_in: Callable[[Any], Any],
    record_property: Callable[[str, Any], None],
) -> None:
    """Frames while dragging and zooming 10,000 links come about as fast as those of an empty map in the same run."""
    sign_in(person_of_role("viewer"))
    medians, late = {}, {}
    for name, answer in (("empty", many_links(0)), ("10,000 links", many_links(LINKS))):
        page.unroute_all()
        page.route("**/map/data/**", answering(json.dumps(answer)))
        page.goto("about:blank")
        page.goto("/map/")
        page.wait_for_selector("#map[data-drawn]")
        page.wait_for_timeout(1000)
        apart = page.evaluate(MEASURED, FRAMES)
        medians[name] = statistics.median(apart)
        late[name] = float(np.percentile(apart, 95))
    record_property("frame medians, ms", medians)
    record_property("frame 95th percentiles, ms", late)

    assert medians["10,000 links"] < 4 * max(medians["empty"], 1000 / 60), (medians, late)
