"""The map as of a day: its picture, its list and its sheet agree with a replay of the change record."""

from __future__ import annotations

import datetime as dt
import json
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from sites.models import Site
from sites.services import record
from spectrum.models import Finding, Link
from spectrum.services import map_columns
from spectrum.services.links import remove_link, save_link
from spectrum.services.register_columns import revision_now
from tests.made import DAY, TESTS, Register, site
from tests.replaying import replayed
from tests.small_register import person_of_role
from tests.spectrum.test_pages_of_a_day import on

pytestmark = pytest.mark.django_db
START = dt.date(2026, 1, 10)
FIRST, NOW = START + 5 * DAY, START + 30 * DAY


@pytest.fixture
def client() -> Any:
    """Two links entered on the 10th; on the 20th a site moved and a link was added; on the 25th one was removed."""
    with on(START):
        planner = person_of_role("planner")
        register = Register()
        register.link("KEPT", site("S1", 47.0), site("S2", 47.2), reserved_until=START + 60 * DAY)
        gone = register.link("GONE", site("S3", 47.4), site("S4", 47.6))
    with on(START + 10 * DAY):
        moved = Site.objects.get(code="S1")
        moved.latitude_deg = 46.5
        record.change(moved, by=TESTS)
        register.link("ADDED", moved, site("S5", 47.8))
        Finding.objects.create(
            identity="now", kind="co_channel", severity="must_fix", rank=0, headline="now",
            first_seen_at=timezone.now(), last_seen_at=timezone.now(), link=Link.objects.get(code="KEPT"),
        )  # fmt: skip
    with on(START + 15 * DAY):
        remove_link(Link.objects.get(pk=gone.pk), by=TESTS)
    with on(NOW):
        made = Client()
        made.force_login(planner)
        yield made


def data(client: Client, **query: str) -> dict[str, Any]:
    answer = client.get(reverse("map-data"), query)
    assert answer.status_code == 200, answer.content
    values: dict[str, Any] = json.loads(answer.content)
    return values


def drawn(values: dict[str, Any]) -> tuple[dict[str, float], set[str]]:
    sites = values["sites"]
    return dict(zip(sites["code"], sites["latitude"], strict=True)), set(values["lines"]["code"])


def test_the_picture_is_that_of_a_replay_of_the_change_record(client: Client) -> None:
    assert data(client, as_of=str(START - DAY))["said"] == "Nothing in the register fits what was chosen.", (
        "before anything was entered"
    )
    for days in (0, 5, 12, 16, 30):
        day = START + days * DAY
        stood = replayed(day)
        places = {row["code"]: row["latitude_deg"] for row in stood["places.site"].values()}
        lines = {row["code"] for row in stood["spectrum.link"].values()}
        assert drawn(data(client, as_of=str(day))) == (places, lines)
        listed = client.get(reverse("map"), {"as_of": str(day)}).context
        assert {row.code for row, _ in listed["body"]} == lines
        assert listed["said"].startswith(f"{len(lines)} link")


def test_another_day_leaves_nothing_in_the_picture_of_today(client: Client) -> None:
    """What is kept in memory of a day must not be taken for the present, nor the other way round."""
    map_columns._kept = None
    assert drawn(data(client, as_of=str(FIRST)))[1] == {"KEPT", "GONE"}
    assert drawn(data(client))[1] == {"KEPT", "ADDED"}
    assert drawn(data(client, as_of=str(FIRST)))[1] == {"KEPT", "GONE"}
    assert drawn(data(client))[0]["S1"] == 46.5


def test_a_coming_day_draws_what_will_have_lapsed_as_ended(client: Client) -> None:
    ahead = data(client, as_of=str(START + 90 * DAY))
    assert ahead["lines"]["code"] == ["ADDED"]
    everything = data(client, as_of=str(START + 90 * DAY), status="any")
    assert dict(zip(everything["lines"]["code"], everything["lines"]["look"], strict=True)) == {
        "ADDED": 1,
        "KEPT": 2,
    }


def test_findings_are_not_kept_by_day_and_the_map_says_so(client: Client) -> None:
    assert 0 in data(client)["lines"]["worst"]
    then = data(client, as_of=str(FIRST))
    assert set(then["lines"]["worst"]) == {3}
    assert then["said"] == "2 links at 4 sites. Findings are not kept by day."
    page = client.get(reverse("map"), {"as_of": str(FIRST)})
    assert [head.column.title for head in page.context["heads"]][-1] == "holder"
    assert 'name="worst"' not in page.content.decode()


def test_nothing_can_be_entered_from_the_map_of_a_day_and_it_leads_on_to_that_day(client: Client) -> None:
    page = client.get(reverse("map"), {"as_of": str(FIRST)}).content.decode()
    assert page.count(f"As it stood at the end of {FIRST} (UTC)") == 1
    assert f'data-day="{FIRST}"' in page
    assert "map-new-link" not in page and "map-new-link" in client.get(reverse("map")).content.decode()
    kept = Link.objects.get(code="KEPT")
    at = Site.objects.get(code="S3")
    of_link = client.get(reverse("map-link", args=[kept.pk]), {"as_of": str(FIRST)}).content.decode()
    of_site = client.get(reverse("map-site", args=[at.pk]), {"as_of": str(FIRST)}).content.decode()
    of_place = client.get(
        reverse("map-place"), {"latitude": "47.25", "longitude": "14.125", "as_of": str(FIRST)}
    ).content.decode()
    assert f'href="{reverse("link", args=[kept.pk])}?as_of={FIRST}"' in of_link
    assert (
        "Findings are not kept by day." in of_link and "now" not in of_link.split("<table")[0].lower().split()
    )
    assert "GONE" in of_site and f"?as_of={FIRST}" in of_site and "data-from" not in of_site
    assert "GONE" not in client.get(reverse("map-site", args=[at.pk])).content.decode()
    assert "/sites/add/" not in of_place and "47.25000" in of_place


def test_what_is_no_day_is_refused_with_a_sentence(client: Client) -> None:
    answer = client.get(reverse("map-data"), {"as_of": "soon"})
    assert answer.status_code == 400 and answer["Content-Type"] == "application/problem+json"
    assert "was given as a day" in answer.json()["detail"]
    page = client.get(reverse("map"), {"as_of": "soon"}).content.decode()
    assert "was given as a day" in page and "data-day" not in page
    sheet = client.get(reverse("map-site", args=[Site.objects.get(code="S1").pk]), {"as_of": "soon"})
    assert sheet.status_code == 400 and "was given as a day" in sheet.content.decode()


def test_a_browser_keeps_the_picture_of_a_day_and_the_register_of_it_is_put_together_once(
    client: Client,
) -> None:
    first = client.get(reverse("map-data"), {"as_of": str(FIRST)})
    with CaptureQueriesContext(connection) as queries:
        again = client.get(
            reverse("map-data"), {"as_of": str(FIRST)}, headers={"If-None-Match": first["ETag"]}
        )
        kept = client.get(reverse("map-data"), {"as_of": str(FIRST)})
    assert again.status_code == 304 and kept.content == first.content
    assert not [q for q in queries if "TEMPORARY" in q["sql"]]
    assert client.get(reverse("map-data"))["ETag"] != first["ETag"]
    site("LATER")
    assert client.get(reverse("map-data"), {"as_of": str(FIRST)})["ETag"] != first["ETag"]


def test_the_columns_of_a_day_are_read_once_for_all_parts_of_the_map(client: Client) -> None:
    from sites.on_day import register_on

    with register_on(FIRST):
        once = map_columns.columns_at(revision_now())
    with register_on(FIRST), CaptureQueriesContext(connection) as queries:
        assert map_columns.columns_at(revision_now()) is once
    assert len(queries) == 1  # the revision


@pytest.mark.parametrize("name", ["map", "map-data"])
def test_the_number_of_queries_does_not_grow_with_the_network(name: str, client: Client) -> None:
    """What was written since the day is restored in portions of 500, whatever it is."""

    def count(q: str) -> int:
        with CaptureQueriesContext(connection) as queries:
            assert client.get(reverse(name), {"as_of": str(NOW - 2 * DAY), "q": q}).status_code == 200
        return len(queries)

    few = count("K")
    kept = Link.objects.get(code="KEPT")
    with on(NOW - 3 * DAY):
        for number in range(8):
            stations = list(kept.stations.order_by("label"))
            ends = site(f"A{number}", 47 + number / 50, 14.2), site(f"B{number}", 47 + number / 50, 14.4)
            for station, place in zip(stations, ends, strict=True):
                station.pk, station.site, station._state.adding = None, place, True
            save_link(
                Link(code=f"K{number}", holder=kept.holder), stations, by=TESTS, clashes_are_findings=True
            )
    assert count("K") == few
