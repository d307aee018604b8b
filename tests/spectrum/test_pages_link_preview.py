"""The live judgement beside the form of a link: partial and bad input are said quietly, and nothing is saved."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from sites.models import ChangeRecord
from spectrum.models import Link, Station
from tests.made import Register, site
from tests.small_register import person_of_role

from .link_pages import link_typed, text

pytestmark = pytest.mark.django_db
LIVE = {"HX-Request": "true"}


@pytest.fixture
def client() -> Client:
    signed_in = Client()
    signed_in.force_login(person_of_role("planner"))
    return signed_in


@pytest.fixture
def register() -> Register:
    made = Register()
    made.link("N-1", site("N-01", 47.05, 14.02), site("N-02", 47.12, 14.1), status="on_air")
    site("K-01"), site("K-02", 47.2)
    return made


def previewed(client: Client, typed: dict[str, str], address: str = "", **headers: str) -> Any:
    return client.post(address or reverse("link-add"), {**typed, "preview": "1"}, headers={**LIVE, **headers})


def test_everything_that_is_asked_of_a_link_is_answered_without_saving_it(
    client: Client, register: Register
) -> None:
    changes = ChangeRecord.objects.count()

    answer = previewed(client, link_typed(register))

    shown = text(answer)
    assert answer.status_code == 200
    for words in (
        "22.23 km",  # 0.2 degree of latitude: 111.17 km a degree at 47.1 degrees north on WGS 84
        "azimuth",
        "first Fresnel zone",
        "<svg",
        "fade margin",
        "availability",
        "round trip",
        "Missing for a judgement of the path",
        "Findings against the register as it stands",
        "The arithmetic, added from top to bottom",
        "hx-swap-oob",
    ):
        assert words in shown, words
    assert "<html" not in shown
    assert not Link.objects.filter(code="L-1").exists()
    assert ChangeRecord.objects.count() == changes


def test_more_power_gives_as_much_more_margin(client: Client, register: Register) -> None:
    def margin_at_b(power: str) -> float:
        answer = previewed(client, link_typed(register, **{"a-tx_power_dbm": power, "b-tx_power_dbm": "30"}))
        margin = answer.context["preview"].report.ends[1].fade_margin_db
        assert isinstance(margin, float)
        return margin

    assert margin_at_b("40") - margin_at_b("37") == pytest.approx(3.0)


@pytest.mark.parametrize(
    ("field", "value", "label"),
    [
        ("a-site", "K-91", "End A, site"),
        ("a-antenna_height_agl_m", "2o", "End A, antenna height (m)"),
        ("a-antenna_height_agl_m", "901", "End A, "),
        ("a-antenna_height_agl_m", "9" * 30, "End A, "),
        ("a-azimuth_deg", "400", "End A, "),
        ("a-feeder_loss_db", "-5", "End A, "),
        ("a-tx_power_dbm", "", "End A, "),
        ("a-tx_power_dbm", "900 dBm", "End A, "),
        ("a-tx_frequency_mhz", "-410", "End A, "),
        ("a-antenna_type", "987654", "End A, antenna type"),
        ("a-azimuth_deg", "north", "End A, azimuth (°)"),
        ("a-tilt_deg", "-", "End A, tilt (°)"),
        ("a-polarisation", "X", "End A, polarisation"),
        ("a-feeder_loss_db", "1.5.", "End A, feeder loss (dB)"),
        ("a-duplexer_loss_db", "x", "End A, duplexer loss (dB)"),
        ("a-duplexer_isolation_db", "x", "End A, duplexer isolation (dB)"),
        ("a-antenna_spacing_m", "x", "End A, antenna spacing, horizontal (m)"),
        ("a-antenna_spacing_vertical_m", "x", "End A, antenna spacing, vertical (m)"),
        ("a-mode", "x", "End A, radio and mode"),
        ("a-tx_frequency_mhz", "41o", "End A, transmits (MHz)"),
        ("a-rx_frequency_mhz", "4e99", "End A, receives (MHz)"),
        ("a-tx_power_dbm", "3x", "End A, transmitter output"),
        ("a-licensed_channel", "nothing", "End A, licensed channel"),
        ("holder", "98765", "Link, holder"),
        ("status", "x", "Link, status"),
        ("channel_plan", "x", "Link, channel plan"),
        ("channel_number", "x", "Link, channel"),
        ("starts_on", "tomorrow", "Link, on the air from"),
        ("ends_on", "2026", "Link, last day on the air"),
        ("b-site", "\x00", "End B, site"),
        ("b-tx_power_dbm", "1e999", "End B, transmitter output"),
    ],
)
def test_what_cannot_be_read_yet_is_named_and_keeps_the_findings_back(
    client: Client, register: Register, field: str, value: str, label: str
) -> None:
    answer = previewed(client, link_typed(register, **{field: value}))

    assert answer.status_code == 200
    assert label in [f"{one.whose}, {one.label}" for one in answer.context["unread"]]
    assert answer.context["preview"].findings is None
    assert "Not yet judged" in text(answer)


@pytest.mark.parametrize(
    ("field", "value"),
    [("code", ""), ("code", "N-1"), ("responsible", "x"), ("required_bit_rate_kbps", "x"), ("required_round_trip_ms", "x")],
)  # fmt: skip
def test_what_says_nothing_about_the_radio_does_not_keep_it_from_being_judged(
    client: Client, register: Register, field: str, value: str
) -> None:
    answer = previewed(client, link_typed(register, **{field: value}))

    assert answer.status_code == 200
    assert answer.context["preview"].findings
    assert "Missing before it can be saved" in text(answer)


def test_an_empty_form_and_one_site_alone_are_no_error(client: Client, register: Register) -> None:
    for typed in ({}, {"a-site": "K-01"}, {"b-site": "K-02"}, {"a-site": "K-01", "b-site": "K-01"}):
        for address in (reverse("link-add"), reverse("link-add") + "?kind=ptmp"):
            answer = previewed(client, typed, address)
            assert answer.status_code == 200
            assert answer.context["preview"].findings is None


def test_a_hub_is_judged_with_the_remotes_that_are_complete(client: Client, register: Register) -> None:
    site("K-03", 47.05, 14.2)
    typed = {
        k.replace("a-", "hub-", 1) if k.startswith("a-") else k: v for k, v in link_typed(register).items()
    }
    typed = {k: v for k, v in typed.items() if not k.startswith("b-")}
    typed |= {"remotes": "2", "r0-label": "1", "r0-site": "K-02", "r0-antenna_height_agl_m": "10"}
    typed |= {"r1-label": "2", "r1-site": "K-03", "r1-antenna_height_agl_m": "10", "preview_path": "2"}
    address = reverse("link-add") + "?kind=ptmp"

    both = previewed(client, typed, address)
    half = previewed(client, {**typed, "r1-antenna_height_agl_m": ""}, address)

    assert both.context["preview"].findings is not None
    assert both.context["path_to"].site.code == "K-03"
    assert half.context["preview"].findings is None
    assert half.context["path_to"].site.code == "K-03"
    assert "Remote 2, antenna height (m)" in text(half)


def test_without_a_script_the_page_comes_back_with_everything_typed_and_the_judgement(
    client: Client, register: Register
) -> None:
    typed = link_typed(register, **{"a-tx_power_dbm": "3x"})

    answer = client.post(reverse("link-add"), {**typed, "preview": "1"})

    shown = text(answer)
    assert answer.status_code == 200
    assert "<html" in shown and 'value="3x"' in shown
    assert "End A, transmitter output: “3x” was typed" in shown
    assert "Nothing was saved yet" not in shown
    assert not Link.objects.filter(code="L-1").exists()


def test_a_stored_link_stays_as_it_is_while_its_change_is_judged(client: Client, register: Register) -> None:
    client.post(reverse("link-add"), link_typed(register))
    link = Link.objects.get(code="L-1")
    before = {s.pk: (s.version, s.tx_power_dbm) for s in Station.objects.filter(link=link)}

    answer = previewed(
        client,
        link_typed(register, **{"a-tx_power_dbm": "11", "version": "1"}),
        reverse("link-change", args=[link.pk]),
    )

    assert answer.context["preview"].findings is not None
    assert {s.pk: (s.version, s.tx_power_dbm) for s in Station.objects.filter(link=link)} == before


@pytest.mark.parametrize(
    ("role", "adding", "changing"),
    [("planner", 200, 200), ("field engineer", 403, 403), ("viewer", 403, 403), ("manager", 403, 403)],
)
def test_who_may_enter_or_change_a_link_may_have_it_judged(
    client: Client, register: Register, role: str, adding: int, changing: int
) -> None:
    link = Link.objects.get(code="N-1")
    other = Client()
    other.force_login(person_of_role(role) if role != "planner" else person_of_role("administrator"))

    typed = link_typed(register)
    assert previewed(other, typed).status_code == adding
    assert previewed(other, typed, reverse("link-change", args=[link.pk])).status_code == changing


def test_a_session_that_ended_does_not_lead_away_from_what_was_typed(register: Register) -> None:
    answer = previewed(Client(), link_typed(register))

    assert answer.status_code == 200
    assert "HX-Redirect" not in answer.headers
    assert "You are no longer signed in. What you typed is still here" in text(answer)
