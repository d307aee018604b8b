"""The page: dates honoured, places narrowed, the question in the address, files of what it shows, bounded work."""

from __future__ import annotations

import csv
import datetime as dt
import io
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from sites.services import jobs, record
from spectrum.models import ChannelPlan, Link
from spectrum.occupancy import Band, State
from spectrum.services import occupancy as service
from spectrum.services.occupancy import Places, TooManyError, occupancy
from tests.made import DAY, TESTS, TODAY, Register, site
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db
ANYWHERE = Places()
BAND = [Band(409_000_000, 421_000_000)]
SQUARE = {"type": "Polygon", "coordinates": [[[13, 46], [15, 46], [15, 48], [13, 48], [13, 46]]]}


@pytest.fixture(autouse=True)
def no_checks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(jobs, "submit", lambda *args, **kwargs: None)


def states(day: dt.date = TODAY, places: Places = ANYWHERE) -> list[str]:
    return [holding.state.value for holding in occupancy(BAND, places, day).held]


@pytest.mark.parametrize(
    ("licence", "own", "day", "expected"),
    [
        ({}, {}, TODAY, ["unused"]),
        ({"in_force_from": TODAY}, {}, TODAY - DAY, []),
        ({"expires_on": TODAY}, {}, TODAY, ["unused"]),
        ({"expires_on": TODAY}, {}, TODAY + DAY, []),
        ({"ended_on": TODAY}, {}, TODAY - DAY, ["unused"]),
        ({"ended_on": TODAY}, {}, TODAY, []),
        ({}, {"in_force_from": TODAY}, TODAY - DAY, []),
        ({}, {"expires_on": TODAY}, TODAY + DAY, []),
        ({}, {"ended_on": TODAY}, TODAY, []),
    ],
)
def test_a_channel_counts_from_its_first_day_to_its_last(
    licence: Any, own: Any, day: dt.date, expected: Any
) -> None:
    register = Register()
    register.channel(register.licence("9", **licence), site=site("S1"), **own)
    assert states(day) == expected


@pytest.mark.parametrize(
    ("link", "day", "expected"),
    [
        ({"status": "on_air"}, TODAY, "unlicensed"),
        ({"status": "on_air", "starts_on": TODAY}, TODAY - DAY, "reserved"),
        ({"status": "on_air", "ends_on": TODAY}, TODAY, "unlicensed"),
        ({"status": "on_air", "ends_on": TODAY}, TODAY + DAY, None),
        ({"status": "retired", "ends_on": TODAY}, TODAY, "unlicensed"),
        ({"status": "retired", "ends_on": TODAY}, TODAY + DAY, None),
        ({"status": "retired"}, TODAY, None),
        ({"status": "planned"}, TODAY, "reserved"),
        ({"status": "filed", "reserved_until": TODAY}, TODAY, "reserved"),
        ({"status": "filed", "reserved_until": TODAY}, TODAY + DAY, None),
        ({"status": "granted"}, TODAY, "reserved"),
        ({"status": "lapsed"}, TODAY, None),
    ],
)
def test_a_link_counts_by_its_status_and_dates(link: Any, day: dt.date, expected: str | None) -> None:
    Register().link("L-1", site("S1"), site("S2", 47.2), **link)
    assert states(day) == ([expected] * 2 if expected else [])


def test_a_channel_is_used_by_the_station_that_sends_under_it() -> None:
    register = Register()
    a, b = site("S1"), site("S2", 47.2)
    go = register.channel(register.licence("9"), site=a)
    link = register.link("L-1", a, b, status="on_air")
    end = link.stations.get(label="A")
    end.licensed_channel = go
    record.change(end, by=TESTS)
    assert sorted(states()) == ["unlicensed", "used"]  # end B has no licence
    end.tx_frequency_hz = 410_050_000
    record.change(end, by=TESTS)
    assert sorted(states()) == ["unlicensed", "unlicensed", "unused"]


def test_an_area_channel_is_used_wherever_its_station_stands() -> None:
    register = Register()
    a, b = site("S1", region="North"), site("S2", 47.2, region="South")
    channel = register.channel(register.licence("9"), area=SQUARE, tolerance_m=None)
    link = register.link("L-1", a, b, status="on_air")
    end = link.stations.get(label="A")
    end.licensed_channel = channel
    record.change(end, by=TESTS)
    south = occupancy(BAND, Places("South"), TODAY)
    assert [(h.state, h.place) for h in south.held if h.channel_id] == [(State.USED, "an area")]
    far = occupancy(BAND, Places(around=(10.0, 10.0), within_km=5), TODAY)
    assert far.held == []


def test_places_are_narrowed_by_district_and_by_distance() -> None:
    register = Register()
    licence = register.licence("9")
    near, far = site("S1", 47.0, region="North"), site("S2", 47.2, region="South")
    register.channel(licence, "1", site=near)
    register.channel(licence, "2", site=far)
    assert [h.place for h in occupancy(BAND, Places("South"), TODAY).held] == ["S2"]
    # A degree of latitude at 47° is 111.18 km (WGS 84), so S2 lies 22.2 km north of S1.
    for within_km, found in ((22.0, ["S1"]), (22.4, ["S1", "S2"])):
        places = Places(around=(47.0, 14.0), within_km=within_km)
        assert [h.place for h in occupancy(BAND, places, TODAY).held] == found


def test_more_than_one_picture_can_hold_is_refused_with_what_to_narrow(
    monkeypatch: pytest.MonkeyPatch, client: Client
) -> None:
    monkeypatch.setattr(service, "MOST_ROWS", 1)
    register = Register()
    register.link("L-1", site("S1"), site("S2", 47.2))
    with pytest.raises(TooManyError, match=r"More than 1 stations .* Choose a district"):
        occupancy(BAND, Places(), TODAY)
    client.force_login(person_of_role("viewer"))
    page = client.get(reverse("occupancy"), {"from_mhz": "409", "to_mhz": "421"})
    assert "Choose a district" in page.content.decode()
    assert (
        client.get(reverse("occupancy"), {"from_mhz": "409", "to_mhz": "421", "format": "csv"}).status_code
        == 422
    )


@pytest.fixture
def register() -> Register:
    return Register()


@pytest.fixture
def shown(client: Client, register: Register) -> Client:
    record.create(
        ChannelPlan(
            code="P-25", name="Pairs", first_go_hz=410_000_000, spacing_hz=25_000, channel_width_hz=25_000,
            channel_count=4, duplex_spacing_hz=10_000_000,
        ),
        by=TESTS,
    )  # fmt: skip
    a, b = site("S1", region="North"), site("S2", 47.2, region="North")
    paid = register.licence("9", yearly_fee="120.50", fee_currency="EUR")
    register.channel(paid, "1", site=a, frequency_hz=410_025_000)
    register.channel(paid, "2", site=a, frequency_hz=410_050_000)
    register.link("L-1", a, b, status=Link.Status.ON_AIR)
    client.force_login(person_of_role("viewer"))
    return client


DEEP = {"plan": "P-25", "region": "North", "day": "2026-06-01", "entries": "today"}


def test_the_answer_counts_and_names_the_fee_once_for_each_licence(shown: Client) -> None:
    page = shown.get(reverse("occupancy"), DEEP).content.decode()
    assert "On 2026-06-01, in North, 3 of 4 channels of P-25 are held or used and 1 is free." in page
    assert "2 are held by us and not used (yearly fees of the licences concerned: 120.50 EUR)." in page
    assert "2 are used without a licence." in page


def test_the_table_is_exported_as_it_is_filtered(shown: Client) -> None:
    answer = shown.get(reverse("occupancy"), {**DEEP, "state": "unused", "sort": "-number", "format": "csv"})
    text = b"".join(answer.streaming_content).decode("utf-8-sig")  # type: ignore[attr-defined]
    rows = list(csv.DictReader(io.StringIO(text)))
    assert [(r["state"], r["channel"], r["go_mhz"], r["licence"], r["licence_yearly_fee"]) for r in rows] == [
        ("held, not used", "3", "410.05", "AUT 9/2", "120.50"),
        ("held, not used", "2", "410.025", "AUT 9/1", "120.50"),
    ]


@pytest.mark.parametrize(
    ("question", "said"),
    [
        ({"plan": "none"}, "There is no such channel plan"),
        ({"from_mhz": "410"}, "give both ends of a band"),
        ({"from_mhz": "420", "to_mhz": "410"}, "has to end above 420 MHz"),
        (
            {"plan": "P-25", "day": "yesterday"},
            "“yesterday” was given as a day; year, month and day were expected",
        ),
        ({"plan": "P-25", "day": "2026-6-1"}, "“2026-6-1” was given as a day"),
        ({"plan": "P-25", "day": "1800-01-01"}, "one from 1900-01-01 to 2200-12-31 was expected"),
        ({"plan": "P-25", "entries": "all"}, "all is not one of the available choices"),
        ({"plan": "P-25", "near": "nowhere"}, "neither the code of a site nor a position"),
        ({"plan": "P-25", "region": "North", "near": "S1"}, "not both"),
        ({"plan": "P-25", "region": "West"}, "West"),
        ({"plan": "P-25", "near": "S1", "within": "-4"}, "greater than or equal to 0.1"),
        ({"plan": "P-25", "state": "lost"}, "lost"),
    ],
)
def test_a_question_that_cannot_be_read_is_said_and_nothing_is_exported(
    shown: Client, question: dict[str, str], said: str
) -> None:
    page = shown.get(reverse("occupancy"), question)
    assert page.status_code == 200
    assert said in page.content.decode()
    assert shown.get(reverse("occupancy"), {**question, "format": "csv"}).status_code == 422


def test_sites_near_a_place_are_asked_for_by_code_or_position(shown: Client) -> None:
    for near in ("s1", "47.0, 14.0"):
        page = shown.get(
            reverse("occupancy"),
            {"plan": "P-25", "day": "2026-06-01", "entries": "today", "near": near, "within": "5"},
        )
        assert f"within 5 km of {near}" in page.content.decode()
        assert "L-1/A" in page.content.decode()
        assert "L-1/B" not in page.content.decode()


def test_a_live_update_carries_answer_and_picture(shown: Client) -> None:
    part = shown.get(reverse("occupancy"), DEEP, headers={"HX-Request": "true"}).content.decode()
    assert part.startswith("<section")
    assert 'class="occupied"' in part
    assert "channels of P-25" in part


def test_more_rows_need_no_more_queries(shown: Client, register: Register) -> None:
    def count() -> int:
        with CaptureQueriesContext(
            connection,
        ) as queries:
            assert shown.get(reverse("occupancy"), DEEP).status_code == 200
        return len(queries)

    count()
    before = count()
    for n in range(3):
        places = site(f"M{n}", 47.5 + n / 10, region="North"), site(f"N{n}", 47.55 + n / 10, region="North")
        register.link(f"M-{n}", *places, status=Link.Status.ON_AIR)
    assert count() == before
