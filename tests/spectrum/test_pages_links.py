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
from spectrum.models import ChannelPlan, Link, RadioMode, Station
from spectrum.services import checks
from spectrum.services import links as links_service
from tests.made import TESTS, Register, person, site
from tests.sites.terrain.rasters import write_tiff
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db


@pytest.fixture
def client() -> Client:
    signed_in = Client()
    signed_in.force_login(person_of_role("planner"))
    return signed_in


@pytest.fixture
def register() -> Register:
    made = Register()
    site("K-01")
    site("K-02", 47.2)
    return made


def text(answer: Any) -> str:
    return str(answer.content.decode())


def link_typed(register: Register, **changes: str) -> dict[str, str]:
    """A point-to-point link as a planner types it: end B only where it differs."""
    return {
        "code": "L-1",
        "holder": str(register.own.pk),
        "status": "planned",
        "a-site": "k-01",
        "a-antenna_height_agl_m": "20",
        "a-antenna_type": str(register.antenna.pk),
        "a-polarisation": "V",
        "a-feeder_loss_db": "1,5",
        "a-duplexer_loss_db": "",
        "a-mode": str(register.mode.pk),
        "a-tx_frequency_mhz": "410.0125",
        "a-rx_frequency_mhz": "420.0125",
        "a-tx_power_dbm": "5 W",
        "b-site": "K-02",
        "b-antenna_height_agl_m": "12.5",
        **changes,
    }


def stations(code: str = "L-1") -> dict[str, Station]:
    return {station.label: station for station in Link.objects.get(code=code).stations.all()}


def test_end_b_takes_from_end_a_what_is_left_empty_with_frequencies_exchanged(
    client: Client, register: Register
) -> None:
    answer = client.post(reverse("link-add"), link_typed(register), follow=True)

    assert "L-1 is in the register." in text(answer)
    a, b = stations()["A"], stations()["B"]
    assert (a.tx_frequency_hz, a.rx_frequency_hz) == (410_012_500, 420_012_500)
    assert (b.tx_frequency_hz, b.rx_frequency_hz) == (420_012_500, 410_012_500)
    assert (b.mode, b.antenna_type, b.polarisation) == (register.mode, register.antenna, "V")
    assert a.tx_power_dbm == b.tx_power_dbm == 36.99
    assert (a.feeder_loss_db, b.feeder_loss_db, a.duplexer_loss_db) == (1.5, 1.5, 0.0)
    assert (a.antenna_height_agl_m, b.antenna_height_agl_m) == (20.0, 12.5)


@pytest.mark.parametrize(("go_at", "a_sends"), [("first", 410_025_000), ("other", 420_025_000)])
def test_a_channel_of_the_plan_fills_both_frequencies(
    client: Client, register: Register, go_at: str, a_sends: int
) -> None:
    plan = record.create(
        ChannelPlan(
            code="P", name="Plan", first_go_hz=410_000_000, spacing_hz=12_500, channel_width_hz=12_500,
            channel_count=10, duplex_spacing_hz=10_000_000,
        ),
        by=TESTS,
    )  # fmt: skip
    typed = link_typed(register, channel_plan=str(plan.pk), channel_number="3", go_at=go_at)
    typed |= {"a-tx_frequency_mhz": "", "a-rx_frequency_mhz": ""}

    client.post(reverse("link-add"), typed)
    beyond = client.post(reverse("link-add"), {**typed, "code": "L-2", "channel_number": "11"})

    assert stations()["A"].tx_frequency_hz == stations()["B"].rx_frequency_hz == a_sends
    assert {s.tx_frequency_hz for s in stations().values()} == {410_025_000, 420_025_000}
    assert "Channel 11 is not in P; it has channels 1 to 10." in text(beyond)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"code": ""}, "Give the code."),
        ({"a-site": "K-91"}, "“K-91” names no site in the register."),
        ({"b-site": ""}, "Give the site&#x27;s code."),
        ({"a-mode": ""}, "Choose the radio and its mode."),
        ({"a-antenna_type": "987654"}, "What was chosen is not in the register; choose from the list."),
        ({"a-antenna_height_agl_m": "tall"}, "“tall” was typed; a number was expected"),
        ({"b-antenna_height_agl_m": "901"}, "Antenna height must lie between 0 and 900 m"),
        ({"a-tx_frequency_mhz": "4 1 0 MHz x"}, "was typed; a figure in MHz was expected"),
        ({"a-tx_frequency_mhz": "-410"}, "The transmit frequency must be positive."),
        ({"a-tx_power_dbm": "plenty"}, "“plenty” was typed; a power in dBm or W was expected"),
        ({"a-tx_power_dbm": ""}, "A station that transmits needs its output power."),
        ({"a-tx_power_dbm": "200"}, "Power must lie between -60 and 100 dBm."),
        ({"a-licensed_channel": "AUT 7/1"}, "names no licensed channel"),
        ({"starts_on": "2027-01-02", "ends_on": "2027-01-01"}, "The last day on the air must not lie before"),
        ({"channel_number": "5"}, "A channel&#x27;s number needs its plan"),
        ({"a-azimuth_deg": "360"}, "The azimuth must lie from 0 to below 360 degrees."),
    ],
)
def test_a_link_that_cannot_be_keeps_everything_typed_and_writes_nothing(
    client: Client, register: Register, changes: dict[str, str], said: str
) -> None:
    typed = link_typed(register, notes="Typed with care.", **changes)

    answer = client.post(reverse("link-add"), typed)

    assert answer.status_code == 422
    assert said in text(answer)
    assert "Nothing was saved yet." in text(answer)
    for name in (
        "code",
        "a-site",
        "b-site",
        "a-tx_frequency_mhz",
        "a-tx_power_dbm",
        "b-antenna_height_agl_m",
    ):
        if typed[name]:
            assert f'value="{typed[name]}"' in text(answer)
    assert "Typed with care." in text(answer)
    assert not Link.objects.exists()
    assert not Station.objects.exists()


def test_what_end_a_lacks_is_asked_for_once(client: Client, register: Register) -> None:
    bare = {
        "code": "L-1",
        "holder": str(register.own.pk),
        "status": "planned",
        "a-site": "K-01",
        "b-site": "K-02",
    }

    page = text(client.post(reverse("link-add"), bare))

    assert page.count("Choose the antenna type.") == 1
    assert page.count("Choose the radio and its mode.") == 1
    assert page.count("A station needs a transmit or a receive frequency.") == 1
    assert page.count("Give the antenna height above ground.") == 2


def test_an_end_that_only_transmits_needs_power_though_the_other_has_none(
    client: Client, register: Register
) -> None:
    typed = link_typed(register, **{"a-tx_frequency_mhz": "", "a-tx_power_dbm": ""})

    refused = client.post(reverse("link-add"), typed)

    assert refused.status_code == 422
    assert "A station that transmits needs its output power." in text(refused)
    assert not Link.objects.exists()
    client.post(reverse("link-add"), typed | {"b-tx_power_dbm": "30"})
    assert (stations()["A"].tx_frequency_hz, stations()["B"].rx_frequency_hz) == (None, None)
    assert stations()["B"].tx_frequency_hz == 420_012_500


def test_a_hub_gets_any_number_of_remotes_and_one_row_more_when_asked(
    client: Client, register: Register
) -> None:
    site("K-03", 47.3)
    address = reverse("link-add") + "?kind=ptmp"
    typed = {
        name.replace("a-", "hub-", 1): value
        for name, value in link_typed(register).items()
        if name[:2] != "b-"
    }
    typed |= {"remotes": "1", "r0-label": "1", "r0-site": "K-02", "r0-antenna_height_agl_m": "8"}

    more = client.post(address, {**typed, "add_remote": "1"})
    assert 'name="remotes" value="2"' in text(more)
    assert 'value="K-02"' in text(more)
    assert "Nothing was saved yet." not in text(more)
    assert not Link.objects.exists()

    client.post(address, {**typed, "remotes": "2", "r1-site": "K-03", "r1-antenna_height_agl_m": "9"})
    made = stations()
    assert sorted(made) == ["1", "2", "hub"]
    assert {made["1"].tx_frequency_hz, made["2"].tx_frequency_hz} == {420_012_500}
    assert {station.role for station in made.values()} == {"hub", "remote"}

    link = Link.objects.get()
    typed |= {"version": str(link.version), "remotes": "2"}
    typed |= {f"r{n}-id": str(made[label].pk) for n, label in enumerate("12")}
    typed |= {"r1-label": "2", "r1-site": "K-03", "r1-antenna_height_agl_m": "9", "r0-gone": "on"}
    client.post(reverse("link-change", args=[link.pk]), typed)
    assert sorted(stations()) == ["2", "hub"]


def test_whoever_saves_a_link_second_keeps_what_was_typed(client: Client, register: Register) -> None:
    client.post(reverse("link-add"), link_typed(register))
    link = Link.objects.get()
    seen = link.version
    link.name = "Named by Bert"
    record.change(link, by=TESTS)

    typed = link_typed(register, name="Named by Anna", version=str(seen))
    answer = client.post(reverse("link-change", args=[link.pk]), typed)

    assert answer.status_code == 409
    assert "was changed by tests on" in text(answer)
    assert 'value="Named by Anna"' in text(answer)
    assert "In the register now: Named by Bert" in text(answer)
    link.refresh_from_db()
    assert link.name == "Named by Bert"


def test_a_change_of_a_station_is_saved_with_its_link(client: Client, register: Register) -> None:
    client.post(reverse("link-add"), link_typed(register))
    link = Link.objects.get()
    shown = text(client.get(reverse("link-change", args=[link.pk])))
    assert 'value="410.01250"' in shown
    assert 'value="36.99"' in shown
    assert 'value="K-01"' in shown

    typed = link_typed(
        register,
        version=str(link.version),
        **{"b-tx_power_dbm": "30 dBm", "b-mode": "", "b-antenna_type": ""},
    )
    client.post(reverse("link-change", args=[link.pk]), typed)

    assert stations()["B"].tx_power_dbm == 30.0
    assert stations()["A"].tx_power_dbm == 36.99
    assert Link.objects.get().version == link.version + 1


def test_a_field_engineer_changes_stations_and_adds_none(register: Register) -> None:
    link = register.link("L-1", *(site(code) for code in ("K-11", "K-12")))
    engineer = Client()
    engineer.force_login(person_of_role("field engineer"))
    typed = link_typed(register, version=str(link.version))
    address = reverse("link-change", args=[link.pk])

    assert engineer.get(reverse("link-add")).status_code == 403
    assert engineer.post(address, typed).status_code == 302
    record.remove(stations()["B"], by=TESTS)
    link.refresh_from_db()
    refused = engineer.post(address, typed | {"version": str(link.version)})
    assert refused.status_code == 422
    assert "a planner adds and removes stations" in text(refused)


def test_another_partys_link_needs_a_role_that_keeps_those(register: Register) -> None:
    own_only = Client()
    own_only.force_login(person("olga", "spectrum.view_link", "spectrum.add_link"))

    answer = own_only.post(reverse("link-add"), link_typed(register, holder=str(register.other.pk)))

    assert answer.status_code == 422
    assert "Your role does not include links of other parties" in text(answer)


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


def test_a_pair_that_another_planned_link_holds_is_refused_and_what_was_typed_is_kept(
    client: Client, register: Register
) -> None:
    client.post(reverse("link-add"), link_typed(register))
    first = Link.objects.get()
    answer = client.post(reverse("link-add"), link_typed(register, code="L-99", notes="Typed with care."))
    assert answer.status_code == 409
    assert f"with {first.code}, which" in text(answer)
    assert "Typed with care." in text(answer)
    assert Link.objects.count() == 1
