"""Finding and taking a pair, on the page and over the API."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from rest_framework.test import APIClient

from sites.services import record
from spectrum.models import ChannelPlan, Link, RadioMode
from spectrum.pair_drawing import LIMIT, pair_pictures
from spectrum.pair_rows import PairRow, pair_rows
from spectrum.services.links import save_link
from spectrum.services.pair_search import PairSearch, search_pairs, stations_to_search
from spectrum.services.reservations import take_pair
from tests.made import TESTS, Register, person, site
from tests.spectrum.pair_search.test_taking import made_plan, planned

pytestmark = pytest.mark.django_db
PLANNER = ("spectrum.view_link", "spectrum.add_link", "spectrum.change_link")


@pytest.fixture
def register() -> Register:
    return Register()


@pytest.fixture
def plan() -> ChannelPlan:
    return made_plan()


@pytest.fixture
def later() -> dt.date:
    return timezone.localdate() + dt.timedelta(days=30)


def holding(register: Register, plan: ChannelPlan, number: int, later: dt.date, code: str = "K-1") -> Link:
    anna = person(f"anna-{code}", "spectrum.add_link", first_name="Anna", last_name=f"Berg {code}")
    link = planned(register, code)
    link.responsible = anna
    record.change(link, by=TESTS)
    return take_pair(link, plan, number, by=TESTS, until=later)


def searched(link: Link, *plans: ChannelPlan, **changes: Any) -> tuple[PairSearch, list[PairRow]]:
    found = search_pairs(link, stations_to_search(link), plans, **changes)
    return found, pair_rows(found)


def test_the_order_is_clear_decide_rejected_and_then_the_margin(
    register: Register, plan: ChannelPlan, later: dt.date
) -> None:
    holding(register, plan, 20, later)
    _, rows = searched(planned(register, "NEW", 0.05), plan)
    standing = {"clear": 0, "decide": 1, "rejected": 2}
    keys = [(standing[r.verdict], -(r.worst_db if r.worst_db is not None else 99.0)) for r in rows]
    assert keys == sorted(keys)
    assert {r.verdict for r in rows} >= {"clear", "rejected"}
    assert [r.rank for r in rows] == list(range(1, 41))
    assert all(r.reasons for r in rows if r.verdict != "clear")


def test_a_held_pair_names_holder_person_and_day(
    register: Register, plan: ChannelPlan, later: dt.date
) -> None:
    holding(register, plan, 20, later)
    _, rows = searched(planned(register, "NEW", 0.05), plan)
    row = next(r for r in rows if r.number == 20)
    assert row.verdict == "rejected"
    assert [(h.link, h.person, h.until) for h in row.held] == [("K-1", "Anna Berg K-1", later)]
    assert f"K-1 holds it until {later} (Anna Berg K-1)." in row.reasons
    assert any("dB over the permitted I/N" in reason for reason in row.reasons)


def test_own_licences_that_nobody_uses_come_first_among_equals(register: Register, plan: ChannelPlan) -> None:
    link = planned(register, "NEW", 0.05)
    near, far = (s.site for s in stations_to_search(link))
    licence = register.licence("L-9", expires_on=timezone.localdate() + dt.timedelta(days=900))
    register.channel(licence, "A", frequency_hz=410_750_000, site=near)
    register.channel(licence, "B", frequency_hz=420_750_000, site=far)
    register.channel(licence, "C", frequency_hz=410_500_000, site=far)  # at the wrong end
    _, rows = searched(link, plan)
    assert rows[0].number == 31
    assert [name.rpartition("/")[2] for name in rows[0].licensed] == ["A", "B"]
    assert [r.number for r in rows if r.licensed] == [31]
    assert any("paid for and unused" in reason for reason in rows[0].reasons)


def test_a_plan_with_narrower_channels_is_tried_with_a_mode_that_serves(register: Register) -> None:
    narrow = made_plan("UHF-12", spacing_hz=12_500, channel_width_hz=12_500)
    link = planned(register, "NEW", required_bit_rate_kbps=9.0)
    _, rows = searched(link, narrow)
    assert all("needs 25 kHz" in r.reasons[0] and r.verdict == "rejected" for r in rows)
    mode = record.create(
        RadioMode(
            radio_type=register.radio, label="12.5 kHz", channel_width_hz=12_500, emission_designator="11K0F1D",
            occupied_bandwidth_hz=11_000, modulation="4-FSK", bit_rate_kbps=9.6, receiver_threshold_dbm=-110,
            required_ci_db=18,
        ),
        by=TESTS,
    )  # fmt: skip
    found, rows = searched(link, narrow)
    assert {r.verdict for r in rows} == {"clear"}
    assert rows[0].modes == [mode.label, mode.label]
    assert [(n.station, n.mode) for n in found.narrower] == [("A", mode), ("B", mode)]
    taken = take_pair(link, narrow, 3, by=TESTS)
    assert {s.mode for s in taken.stations.all()} == {mode}


def test_what_the_radio_cannot_tune_is_rejected_with_its_range(register: Register) -> None:
    high = made_plan("HIGH", first_go_hz=471_000_000)
    _, rows = searched(planned(register, "NEW"), high)
    assert all(r.verdict == "rejected" and "made for 380 to 480 MHz" in r.reasons[0] for r in rows)


def test_both_polarisations_are_searched_at_once(register: Register, plan: ChannelPlan) -> None:
    _, rows = searched(planned(register, "NEW"), plan, polarisations=("V", "H"))
    assert len(rows) == 80
    assert {(r.number, r.polarisation) for r in rows} == {(n, p) for n in range(1, 41) for p in "VH"}


def test_the_page_asks_the_same_number_of_questions_however_many_links_there_are(
    register: Register, plan: ChannelPlan, client: Client
) -> None:
    client.force_login(person("petra", *PLANNER))
    link = planned(register, "NEW", 0.05, channel_plan=plan)
    planned(register, "K-9", 0.08)
    address = reverse("link-pairs", args=[link.pk])
    client.get(address)
    with CaptureQueriesContext(connection) as few:
        client.get(address)
    for number in range(6):
        planned(register, f"K-{number}", 0.1 + 0.02 * number)
    with CaptureQueriesContext(connection) as many:
        assert client.get(address).status_code == 200
    assert len(many) == len(few)


def test_a_planner_takes_the_best_pair_and_the_next_one_is_told(
    register: Register, plan: ChannelPlan, client: Client, later: dt.date
) -> None:
    client.force_login(person("petra", *PLANNER, first_name="Petra", last_name="Nord"))
    one, two = planned(register, "ONE"), planned(register, "TWO", 0.05)
    page = client.get(reverse("link-pairs", args=[one.pk]), {"plans": plan.pk})
    best = page.context["rows"][0][0]
    value = f"{plan.pk}:{best.number}:{best.polarisation}:go"
    assert f'value="{value}"' in page.content.decode()
    sent = {"pair": value, "until": later.isoformat(), "version": one.version}
    answer = client.post(reverse("link-pair-take", args=[one.pk]), sent, follow=True)
    assert f"ONE holds channel {best.number} of UHF-25 until {later}." in answer.content.decode()

    question = f"plans={plan.pk}"
    sent = {"pair": value, "version": two.version, "question": question}
    answer = client.post(reverse("link-pair-take", args=[two.pk]), sent)
    assert answer["Location"] == f"{reverse('link-pairs', args=[two.pk])}?{question}"
    said = client.get(answer["Location"]).content.decode()
    assert f"ONE, which Petra Nord holds until {later}" in said
    assert f"held by ONE until {later}" in said


def test_without_a_plan_the_page_asks_for_one_and_a_viewer_cannot_take(
    register: Register, plan: ChannelPlan, client: Client
) -> None:
    client.force_login(person("vera", "spectrum.view_link"))
    link = planned(register, "ONE")
    address = reverse("link-pairs", args=[link.pk])
    assert "Choose the channel plans to search." in client.get(address).content.decode()
    page = client.get(address, {"plans": plan.pk}).content.decode()
    assert "Take</button>" not in page
    assert client.get(address, {"plans": "x"}).status_code == 422
    assert client.post(reverse("link-pair-take", args=[link.pk]), {}).status_code == 403


def test_a_pair_is_extended_and_released_on_the_page(
    register: Register, plan: ChannelPlan, client: Client, later: dt.date
) -> None:
    planner = person("petra", *PLANNER)
    client.force_login(planner)
    link = planned(register, "ONE")
    take_pair(link, plan, 3, by=record.Author.of(planner), until=later)
    day = later + dt.timedelta(days=5)
    client.post(reverse("link-pair-extend", args=[link.pk]), {"until": day.isoformat()})
    assert Link.objects.get(pk=link.pk).reserved_until == day
    client.post(reverse("link-pair-extend", args=[link.pk]), {"until": "soon"})
    client.post(reverse("link-pair-release", args=[link.pk]))
    assert Link.objects.get(pk=link.pk).status == Link.Status.LAPSED


def test_the_picture_stands_on_the_limit(register: Register, plan: ChannelPlan, later: dt.date) -> None:
    holding(register, plan, 20, later)
    _, rows = searched(planned(register, "NEW", 0.05), plan)
    (picture,) = pair_pictures(rows)
    assert picture.title == "UHF-25, polarisation V"
    by_side = {bars.side: bars.path for bars in picture.bars}
    clear = [float(part.split("V")[1]) for part in by_side["within"].split("M")[1:]]
    over = [float(part.split("V")[1]) for part in by_side["over"].split("M")[1:]]
    assert len(clear) + len(over) <= 40
    assert max(clear) < LIMIT < min(over)  # upward is smaller in a picture
    xs = [float(part.split(" ")[0]) for part in by_side["within"].split("M")[1:]]
    assert xs == sorted(xs)
    held = next(lane for lane in picture.lanes if lane.name == "held by")
    assert [mark.label for mark in held.marks] == ["K-1"]


def api(*permissions: str) -> APIClient:
    client = APIClient()
    client.force_authenticate(person("caller", *permissions))
    return client


def test_the_api_searches_a_stored_link_and_a_draft_alike(
    register: Register, plan: ChannelPlan, later: dt.date
) -> None:
    holding(register, plan, 20, later)
    link = planned(register, "NEW", 0.05)
    client = api("spectrum.view_link")
    stored = client.post("/api/v1/pair-search/", {"link": link.pk, "plans": [plan.pk], "limit": 40}).json()
    stations = [
        {
            "label": s.label, "role": s.role, "site": s.site_id, "antenna_type": s.antenna_type_id,
            "antenna_height_agl_m": s.antenna_height_agl_m, "polarisation": "V", "radio_type": s.radio_type_id,
            "mode": s.mode_id, "tx_power_dbm": s.tx_power_dbm, "tx_frequency_mhz": "410.0" if s.label == "A" else "420.0",
            "rx_frequency_mhz": "420.0" if s.label == "A" else "410.0",
        }
        for s in stations_to_search(link)
    ]  # fmt: skip
    record.remove(link, by=TESTS)
    draft = {"kind": "ptp", "holder": register.own.pk, "stations": stations}
    answer = client.post("/api/v1/pair-search/", {"draft": draft, "plans": [plan.pk], "limit": 40})
    assert answer.status_code == 200, answer.json()
    assert answer.json() == stored
    assert sum(stored["counts"].values()) == len(stored["pairs"]) == 40
    held = next(p for p in stored["pairs"] if p["number"] == 20)
    assert held["held"][0] == {
        "link_id": Link.objects.get(code="K-1").pk, "link": "K-1", "person": "Anna Berg K-1", "until": str(later),
    }  # fmt: skip


@pytest.mark.parametrize("body", [{}, {"plans": []}, {"link": 10**6, "plans": [1]}, {"plans": [10**6]}])
def test_a_search_without_link_or_plan_says_what_is_missing(register: Register, body: dict[str, Any]) -> None:
    answer = api("spectrum.view_link").post("/api/v1/pair-search/", body)
    assert answer.status_code == 400
    assert answer.json()["errors"]


def test_the_api_takes_extends_and_releases(register: Register, plan: ChannelPlan, later: dt.date) -> None:
    one, two = planned(register, "ONE"), planned(register, "TWO", 0.05)
    client = api(*PLANNER)
    body = {"plan": plan.pk, "number": 7, "until": str(later)}
    taken = client.post(f"/api/v1/links/{one.pk}/take-pair/", body | {"version": one.version})
    assert taken.status_code == 200, taken.json()
    assert taken.json()["reserved_until"] == str(later)
    assert taken.json()["stations"][0]["tx_frequency_mhz"] == "410.15000"
    refused = client.post(f"/api/v1/links/{two.pk}/take-pair/", body)
    assert refused.status_code == 409
    assert refused.json()["title"] == "Somebody else was faster"
    assert f"holds until {later}" in refused.json()["detail"]
    stale = client.post(f"/api/v1/links/{one.pk}/take-pair/", body | {"version": one.version})
    assert stale.status_code == 409
    day = str(later + dt.timedelta(days=3))
    assert client.post(f"/api/v1/links/{one.pk}/extend-pair/", {"until": day}).json()["reserved_until"] == day
    assert client.post(f"/api/v1/links/{one.pk}/release-pair/", {}).json()["status"] == "lapsed"
    assert client.post(f"/api/v1/links/{two.pk}/take-pair/", body).status_code == 200


def test_a_site_that_transmits_high_is_fitted(register: Register, plan: ChannelPlan) -> None:
    near, far = site("N", 47.0, 14.0), site("F", 47.1, 14.15)
    turned = register.stations(near, site("G", 48.5, 14.0))
    turned[0].tx_frequency_hz, turned[0].rx_frequency_hz = 420_975_000, 410_975_000
    turned[1].tx_frequency_hz, turned[1].rx_frequency_hz = 410_975_000, 420_975_000
    save_link(Link(code="T-1", holder=register.own), turned, by=TESTS)
    link = register.link("NEW", near, far)
    _, rows = searched(link, plan)
    assert not any(r.first_sends_go or r.half_clash for r in rows)
    _, rows = searched(link, plan, first_sends="go")
    assert all(r.half_clash and r.verdict != "clear" for r in rows)
    assert any("T-1/A transmits at the same site" in reason for reason in rows[0].reasons)
