"""Pages of links: entered on one page, judged in the first line, the same few queries whatever the size."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from django.contrib.contenttypes.models import ContentType
from django.test import Client
from django.urls import reverse
from pytest_django.fixtures import DjangoAssertNumQueries

from licences.models import Application
from sites.services import record
from spectrum.models import Link, RadioMode, Station
from spectrum.services import checks
from spectrum.services import links as links_service
from tests.made import TESTS, Register, site
from tests.sites.terrain.rasters import write_tiff
from tests.small_register import person_of_role
from tests.spectrum.link_pages import small_links, text

pytestmark = pytest.mark.django_db


@pytest.fixture
def client() -> Client:
    signed_in = Client()
    signed_in.force_login(person_of_role("planner"))
    return signed_in


@pytest.fixture
def register() -> Register:
    return small_links()


def test_the_first_line_answers_the_heading(client: Client, register: Register) -> None:
    link = register.link("L-1", site("K-11"), site("K-12", 47.1))
    address = reverse("link", args=[link.pk])
    page = text(client.get(address))
    assert "<title>Link L-1: may it be filed?</title>" in page

    register.link("L-2", site("K-13", 47.05, 14.02), site("K-14", 47.06, 14.1), status="on_air")
    checks.check_link(link.pk)
    page = text(client.get(address))
    assert "must be fixed. First:" in page
    assert "L-2" in page
    assert "The arithmetic, added from top to bottom" in page
    assert "Frequency-dependent rejection" in page
    assert "A predicted clear channel is not a permission to transmit." in page


def test_a_reservation_without_an_end_is_said_on_the_page_and_in_the_form(
    client: Client, register: Register
) -> None:
    link = register.link("L-1", site("K-11"), site("K-12", 47.1))
    page = text(client.get(reverse("link", args=[link.pk])))
    assert "<dt>pair reserved</dt><dd>without an end</dd>" in page
    assert "Empty: its pair is held without an end." in text(client.get(reverse("link-add")))


def test_check_now_answers_in_place_and_without_a_script(client: Client, register: Register) -> None:
    link = register.link("L-1", site("K-11"), site("K-12", 47.1))
    address = reverse("link-check", args=[link.pk])

    part = text(client.post(address, headers={"HX-Request": "true"}))
    whole = client.post(address)

    assert '<section id="answer"' in part
    assert '<section id="findings" hx-swap-oob="true">' in part
    assert "<html" not in part
    assert (whole.status_code, whole["Location"]) == (302, reverse("link", args=[link.pk]))
    assert link.checks.count() >= 2


def test_the_licence_comparison_shows_each_limit(client: Client, register: Register) -> None:
    near, far = site("K-11"), site("K-12", 47.1)
    channel = register.channel(
        register.licence("N-1"), site=near, power_limit_dbm=40.0, antenna_height_max_m=15.0
    )
    ends = register.stations(near, far)
    ends[0].licensed_channel = channel
    from spectrum.services.links import save_link

    link = save_link(Link(code="L-1", holder=register.own), ends, by=TESTS)

    page = text(client.get(reverse("link", args=[link.pk])))

    # 37 dBm + 6 dBi − 2.15 dB = 40.85 dBm e.r.p., 0.85 dB over 40 dBm
    row = page[page.index("power (e.r.p.)") :][:500]
    assert "40.0 dBm" in row
    assert "40.9 dBm" in row or "40.8 dBm" in row
    assert "outside" in row
    assert "2 limits exceeded" in page
    assert "No licensed channel is named for" in page


def test_a_status_is_changed_by_whoever_saw_the_latest(client: Client, register: Register) -> None:
    link = register.link("L-1", site("K-11"), site("K-12", 47.1))
    address = reverse("link-status", args=[link.pk])

    stale = client.post(address, {"status": "filed", "version": "0"}, follow=True)
    wrong = client.post(address, {"status": "flying", "version": link.version}, follow=True)
    done = client.post(address, {"status": "filed", "version": link.version}, follow=True)

    assert "was changed by" in text(stale)
    assert "is no status of a link" in text(wrong)
    assert "L-1 is now filed with the authority." in text(done)


def test_search_finds_codes_names_and_frequencies(client: Client, register: Register) -> None:
    register.link("L-1", site("K-11"), site("K-12", 47.1), name="Backbone north")

    application = Application(
        number="A-77", authority=register.authority, holder=register.own, authority_reference="F/2210"
    )
    record.create(application, by=TESTS)

    def found(query: str) -> str:
        return text(client.get(reverse("search"), {"q": query}))

    assert "A-77</a>" in found("a-77")
    assert "A-77</a>" in found("f/2210")

    assert "L-1</a>" in found("backbone")
    assert "K-11 Place K-11" in found("k-11")
    assert "Stations on this frequency" in found("410.01")
    assert "Stations on this frequency" in found("410,01 MHz")
    assert "No station and no licensed channel covers 450.00000 MHz." in found("450.0")
    assert "Nothing in the register carries this." in found("\x00zzz")


# The page: session, person and permissions 4, link and stations 2, findings 1, last check 1, job under way 1, masks,
# modes and stations for the comparison 3, applications 1, documents 1, changes 1 and the 6 kinds of objects named in them.
# The list: session, person and permissions 4, count 1, links and stations 2, channel plans of the filter 1.
LINK_PAGE_QUERIES, LINK_LIST_QUERIES = 23, 8


def _network(register: Register, links: int) -> Link:
    """Links on one pair around each other, all checked, so that findings grow with their square."""
    first = None
    for n in range(links):
        made = register.link(
            f"L-{n}", site(f"N-{n}", 47 + n * 0.01), site(f"M-{n}", 47 + n * 0.01, 14.1), status="on_air"
        )
        first = first or made
    checks.check_network(as_of=dt.date(2026, 6, 1))
    assert first is not None
    return first


@pytest.mark.parametrize("links", [3, 12])
def test_the_page_of_a_link_asks_a_fixed_number_of_queries(
    client: Client, register: Register, links: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    link = _network(register, links)
    address = reverse("link", args=[link.pk])
    assert RadioMode.objects.count() == 1
    ContentType.objects.get_for_model(Link)  # kept by the process once it is known
    with django_assert_num_queries(LINK_PAGE_QUERIES):
        answer = client.get(address)
    assert len(answer.context["findings"]) >= links


@pytest.mark.parametrize("links", [3, 12])
def test_the_list_of_links_asks_a_fixed_number_of_queries(
    client: Client, register: Register, links: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    _network(register, links)
    with django_assert_num_queries(LINK_LIST_QUERIES):
        client.get(reverse("link-list"))


def test_the_page_of_a_link_shows_its_path(client: Client, register: Register) -> None:
    link = register.link("L-1", site("N-1"), site("M-1", 47.2), required_bit_rate_kbps=64.0)
    page = text(client.get(reverse("link", args=[link.pk])))
    report = client.get(reverse("link", args=[link.pk])).context["path"]
    assert 'class="profile"' in page and 'class="zone"' in page
    assert f"{report.length_km:.2f}</td>" in page
    for end in report.ends:
        assert f"−{-end.wanted_dbm:.1f}</td>" in page
    assert "Smooth earth, not the ground" in page
    assert "■ more: </span>64.0" in page
    assert "What round trip the service needs is not entered." in page


def test_of_a_hub_the_path_to_the_remote_asked_for_is_shown(client: Client, register: Register) -> None:
    hub, *remotes = (
        register.stations(site("H-1"), site("R-1", 47.1))
        + register.stations(site("H-2"), site("R-2", 47.3))[1:]
    )
    hub.role, hub.label = Station.Role.HUB, "hub"
    for number, remote in enumerate(remotes, start=1):
        remote.role, remote.label = Station.Role.REMOTE, f"R{number}"
    link = links_service.save_link(
        Link(code="P-1", kind="ptmp", holder=register.own), [hub, *remotes], by=TESTS
    )
    address = reverse("link", args=[link.pk])
    assert "Path H-1 to R-1" in text(client.get(address))
    asked = text(client.get(address, {"remote": "R2"}))
    assert "Path H-1 to R-2" in asked and "?remote=R2#path" in asked
    assert "Path H-1 to R-1" in text(client.get(address, {"remote": "none of these"}))


def test_the_availability_of_a_path_counts_with_the_maps_figures_in_the_settings(
    client: Client, register: Register, settings: Any, tmp_path: Path
) -> None:
    write_tiff(tmp_path / "level.tif", np.full((720, 240), 400, dtype=np.int16), 13.9, 47.4, 1 / 1200)
    settings.TERRAIN_DIR = str(tmp_path)
    pair = {"antenna_height_agl_m": 90.0, "tx_frequency_hz": 7_400_000_000, "rx_frequency_hz": 7_400_000_000}
    link = register.link("L-1", site("N-1"), site("M-1", 47.2), stations=pair)
    address = reverse("link", args=[link.pk])
    assert "are not stated in the settings" in text(client.get(address))
    settings.RADIO_FADING = {"log_k": -3.0, "refractivity_gradient_dn75": 50.0}
    answer = client.get(address)
    given = answer.context["path"].ends[0].availability_percent
    assert 90.0 < given < 100.0 and f"{given:.4f}</td>" in text(answer)
