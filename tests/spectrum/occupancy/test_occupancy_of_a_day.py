"""Occupancy on another day: by the register as it stood or will stand, as a replay of the change record has it."""

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

from licences.models import LicensedChannel
from sites.services import jobs, record
from spectrum.models import Link
from spectrum.services.links import remove_link
from tests.made import DAY, TESTS, Register, site
from tests.replaying import replayed
from tests.small_register import person_of_role
from tests.spectrum.test_pages_of_a_day import on

pytestmark = pytest.mark.django_db
START = dt.date(2026, 1, 10)
FIRST, NOW = START + 5 * DAY, START + 30 * DAY
BAND = {"from_mhz": "409", "to_mhz": "421"}


@pytest.fixture
def register(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Two links on the air since before the register began, with a channel at S1; changed on the 20th and the 25th."""
    monkeypatch.setattr(jobs, "submit", lambda *args, **kwargs: None)
    early: dict[str, Any] = {"status": "on_air", "starts_on": START - 400 * DAY}
    with on(START):
        made = Register()
        made.viewer = person_of_role("viewer")  # type: ignore[attr-defined]
        one, two = site("S1"), site("S2", 47.2)
        made.link("KEPT", one, two, **early)
        gone = made.link("GONE", site("S3", 47.4), site("S4", 47.6), **early)
        channel = made.channel(made.licence("9"), site=one)
        end = Link.objects.get(code="KEPT").stations.get(label="A")
        end.licensed_channel = channel
        record.change(end, by=TESTS)
    with on(START + 10 * DAY):
        moved = Link.objects.get(code="KEPT").stations.get(label="B")
        moved.tx_frequency_hz = 420_025_000
        record.change(moved, by=TESTS)
        made.link("LATER", site("S5", 47.8), site("S6", 48.0), **early)
        made.link("COMING", site("S7", 48.2), site("S8", 48.4), status="granted", starts_on=START + 60 * DAY)
    with on(START + 15 * DAY):
        remove_link(Link.objects.get(pk=gone.pk), by=TESTS)
        record.remove(LicensedChannel.objects.get(), by=TESTS)
    with on(NOW):
        yield made


@pytest.fixture
def client(register: Any) -> Client:
    made = Client()
    made.force_login(register.viewer)
    return made


def rows(client: Client, **question: str) -> list[dict[str, str]]:
    answer: Any = client.get(reverse("occupancy"), {**BAND, **question, "format": "csv"})
    assert answer.status_code == 200, answer.content
    return list(csv.DictReader(io.StringIO(b"".join(answer.streaming_content).decode("utf-8-sig"))))


def used(found: list[dict[str, str]]) -> set[tuple[str, float, str]]:
    """The station, what it sends on and under which licence, of what is on the air."""
    return {
        (station, float(row["transmit_mhz"]), row["licence"])
        for row in found
        for station in row["used_by"].split(", ")
        if station and not station.endswith(" (planned)")
    }


def as_replayed(day: dt.date) -> set[tuple[str, float, str]]:
    """Who used what on a day: the stations of links that were on the air, out of nothing but the change record."""
    stood = replayed(day)
    links, channels = stood["spectrum.link"], stood["licences.licensedchannel"]
    found = set()
    for row in stood["spectrum.station"].values():
        link = links[row["link_id"]]
        if link["status"] != "on_air" or link["starts_on"] > str(day):
            continue
        channel = channels.get(row["licensed_channel_id"])
        licence = f"AUT 9/{channel['label']}" if channel else ""
        found.add((f"{link['code']}/{row['label']}", row["tx_frequency_hz"] / 1e6, licence))
    return found


def test_who_used_what_is_that_of_a_replay_of_the_change_record(client: Client) -> None:
    seen = []
    for days in (-1, 0, 5, 12, 16, 29):
        day = START + days * DAY
        stood = as_replayed(day)
        assert used(rows(client, day=str(day))) == stood
        seen.append(frozenset(stood))
    assert len(set(seen)) == 4, "the days tell a difference"


def test_the_entries_of_today_can_be_asked_for_on_a_day_before_they_were_entered(client: Client) -> None:
    day = str(START - 100 * DAY)
    assert rows(client, day=day) == []
    of_today = used(rows(client, day=day, entries="today"))
    assert {station.partition("/")[0] for station, _mhz, _licence in of_today} == {"KEPT", "LATER"}
    page = client.get(reverse("occupancy"), {**BAND, "day": day}).content.decode()
    assert "entries=today" in page and "By the entries of today" in page


def test_the_band_is_of_the_day_too(client: Client, register: Register) -> None:
    """A channel plan that was entered or changed since is not what was asked of a day before."""
    from spectrum.models import ChannelPlan

    with on(START + 20 * DAY):
        plan = ChannelPlan(
            code="P-25", name="Pairs", first_go_hz=410_000_000, spacing_hz=25_000, channel_width_hz=25_000,
            channel_count=4, duplex_spacing_hz=10_000_000,
        )  # fmt: skip
        record.create(plan, by=TESTS)
    with on(NOW - 2 * DAY):
        plan.channel_count = 8
        record.change(plan, by=TESTS)
    address = reverse("occupancy")
    assert "of 8 channels" in client.get(address, {"plan": "P-25"}).content.decode()
    then = client.get(address, {"plan": "P-25", "day": str(START + 22 * DAY)}).content.decode()
    assert "of 4 channels" in then
    early = client.get(address, {"plan": "P-25", "day": str(FIRST)}).content.decode()
    assert "There is no such channel plan" in early and "By the entries of today" in early


def test_a_coming_day_puts_on_the_air_what_was_granted_until_then(client: Client) -> None:
    day = START + 70 * DAY
    assert ("COMING/A", 410.0, "") in used(rows(client, day=str(day)))
    page = client.get(reverse("occupancy"), {**BAND, "day": str(day)}).content.decode()
    assert f"As it will stand on {day}" in page


def test_a_day_is_marked_leads_on_to_itself_and_is_kept_by_the_filter(
    client: Client, register: Register
) -> None:
    page = client.get(reverse("occupancy"), {**BAND, "day": str(FIRST)}).content.decode()
    main = page[page.index("<main") :]
    assert f"As it stood at the end of {FIRST} (UTC)" in main
    assert "By the entries of that day" in main
    kept = Link.objects.get(code="KEPT")
    assert f'href="{reverse("link", args=[kept.pk])}?as_of={FIRST}"' in main
    assert f'name="day" value="{FIRST}"' in main and 'name="as_of"' not in main
    today = main[main.rindex("<a", 0, main.index(">As it stands today<")) :]
    assert "day=" not in today[: today.index(">")]
    answer = client.get(reverse("occupancy"), {**BAND, "day": str(FIRST), "format": "csv"})
    assert f"channel-occupancy-as-of-{FIRST}.csv" in answer["Content-Disposition"]


def test_today_is_asked_without_putting_a_day_together(client: Client) -> None:
    with CaptureQueriesContext(connection) as queries:
        page = client.get(reverse("occupancy"), {**BAND, "day": str(NOW)}).content.decode()
    assert not [q for q in queries if "TEMPORARY" in q["sql"]]
    assert "As it stood" not in page and "entries of" not in page.replace("by the entries", "")


def test_the_parameter_of_the_other_pages_is_refused_with_what_to_ask_instead(client: Client) -> None:
    answer = client.get(reverse("occupancy"), {**BAND, "as_of": str(FIRST)})
    assert answer.status_code == 422
    assert "ask for day instead of as_of" in answer.content.decode()


def test_more_rows_need_no_more_queries(client: Client, register: Register) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as queries:
            assert client.get(reverse("occupancy"), {**BAND, "day": str(NOW - 2 * DAY)}).status_code == 200
        return len(queries)

    few = count()
    with on(NOW - 3 * DAY):
        for n in range(4):
            register.link(
                f"M-{n}", site(f"M{n}", 46 + n / 10), site(f"N{n}", 46.05 + n / 10), status="on_air"
            )
    assert count() == few
