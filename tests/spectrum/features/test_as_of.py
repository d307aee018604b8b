"""Features as of a day: the same as a replay of the change record, the links lead on to it, findings are refused."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from sites.models import Site
from sites.services import record
from spectrum.models import Link
from spectrum.services.links import remove_link
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
        viewer = person_of_role("viewer")
        register = Register()
        register.link("KEPT", site("S1", 47.0), site("S2", 47.2), reserved_until=START + 60 * DAY)
        gone = register.link("GONE", site("S3", 47.4), site("S4", 47.6), starts_on=START + 100 * DAY)
    with on(START + 10 * DAY):
        moved = Site.objects.get(code="S1")
        moved.latitude_deg = 46.5
        record.change(moved, by=TESTS)
        register.link("ADDED", moved, site("S5", 47.8))
    with on(START + 15 * DAY):
        remove_link(Link.objects.get(pk=gone.pk), by=TESTS)
    with on(NOW):
        made = Client()
        made.force_login(viewer)
        yield made


def items(client: Client, name: str, **asked: Any) -> list[dict[str, Any]]:
    answer = client.get(f"/ogc/collections/{name}/items", asked)
    assert answer.status_code == 200, answer.content
    found: list[dict[str, Any]] = answer.json()["features"]
    return found


def codes(client: Client, name: str, **asked: Any) -> set[str]:
    return {feature["properties"]["code"] for feature in items(client, name, **asked)}


def test_the_features_are_those_of_a_replay_of_the_change_record(client: Client) -> None:
    for days in (-1, 0, 5, 12, 16, 30):
        day = START + days * DAY
        stood = replayed(day)
        sites = items(client, "sites", as_of=str(day))
        assert {f["properties"]["code"]: f["geometry"]["coordinates"][1] for f in sites} == {
            row["code"]: row["latitude_deg"] for row in stood["places.site"].values()
        }
        assert {f["id"] for f in items(client, "links", as_of=str(day))} == set(stood["spectrum.link"])


def test_a_feature_says_the_day_and_leads_to_the_page_of_it_without_what_is_not_kept(client: Client) -> None:
    (then,) = [f for f in items(client, "links", as_of=str(FIRST)) if f["properties"]["code"] == "KEPT"]
    (now,) = [f for f in items(client, "links") if f["properties"]["code"] == "KEPT"]
    assert then["properties"]["as_of"] == str(FIRST)
    assert then["properties"]["page"] == f"{now['properties']['page']}?as_of={FIRST}"
    assert "must_fix" in now["properties"] and "must_fix" not in then["properties"]
    assert "as_of" not in now["properties"]


def test_the_links_of_every_answer_lead_on_to_the_same_day(client: Client) -> None:
    seen, addresses = set(), [f"/ogc/?as_of={FIRST}"]
    while addresses:
        address = addresses.pop()
        if address in seen:
            continue
        seen.add(address)
        answer = client.get(address)
        assert answer.status_code == 200, address
        document = answer.json()
        for part in [document, *document.get("collections", [])]:
            for link in part.get("links", []):
                assert link["href"].count(f"as_of={FIRST}") == 1
                addresses.append(link["href"].removeprefix("http://testserver"))
    assert len(seen) > 6
    part = client.get(f"/ogc/collections/sites/items?as_of={FIRST}&limit=3").json()
    (onward,) = [link["href"] for link in part["links"] if link["rel"] == "next"]
    assert len(client.get(onward).json()["features"]) == 1


def test_the_extent_is_of_the_day_and_a_box_and_a_time_select_in_it(client: Client) -> None:
    then = client.get(f"/ogc/collections/sites?as_of={FIRST}").json()["extent"]["spatial"]["bbox"][0]
    now = client.get("/ogc/collections/sites").json()["extent"]["spatial"]["bbox"][0]
    assert (then[1], then[3]) == (47.0, 47.6) and (now[1], now[3]) == (46.5, 47.8)
    assert codes(client, "sites", as_of=str(FIRST), bbox="13,46.9,15,47.1") == {"S1"}
    assert codes(client, "sites", bbox="13,46.9,15,47.1") == set()
    assert codes(client, "links", as_of=str(FIRST), bbox="13,47.39,15,47.5") == {"GONE"}
    # The time is the features' own, whatever day's register is read: GONE was to begin in April.
    assert codes(client, "links", as_of=str(FIRST), datetime=str(FIRST)) == {"KEPT"}
    assert codes(client, "links", as_of=str(FIRST), datetime="2026-05-01") == {"KEPT", "GONE"}
    assert codes(client, "links", datetime="2026-05-01") == {"KEPT", "ADDED"}


def test_a_coming_day_takes_the_dates_into_account(client: Client) -> None:
    ahead = {
        f["properties"]["code"]: f["properties"]["status"] for f in items(client, "links", as_of="2026-06-01")
    }
    assert ahead == {"KEPT": "reservation lapsed", "ADDED": "planned"}


def test_findings_are_refused_on_a_day_with_a_sentence(client: Client) -> None:
    for path in ("findings", "findings/items", "findings/items/1"):
        answer = client.get(f"/ogc/collections/{path}?as_of={FIRST}")
        assert answer.status_code == 400
        assert "Findings are not kept by day" in answer.json()["detail"]
        assert answer.json()["errors"][0]["field"] == "as_of"
    listed = client.get(f"/ogc/collections?as_of={FIRST}").json()["collections"]
    assert [each["id"] for each in listed] == ["sites", "links"]


def test_a_feature_that_was_not_there_says_why(client: Client) -> None:
    added = Link.objects.get(code="ADDED").pk
    answer = client.get(f"/ogc/collections/links/items/{added}?as_of={FIRST}")
    assert answer.status_code == 404
    assert "ADDED did not exist yet on 2026-01-15: it was entered on 2026-01-20" in answer.json()["detail"]
    assert client.get(f"/ogc/collections/links/items/{10**30}?as_of={FIRST}").status_code == 404


@pytest.mark.parametrize(
    "path", ["", "collections", "collections/sites", "collections/sites/items", "conformance"]
)
@pytest.mark.parametrize("typed", ["soon", "2026-02-30", "1800-01-01", ""])
def test_what_is_no_day_is_refused(path: str, typed: str, client: Client) -> None:
    answer = client.get(f"/ogc/{path}", {"as_of": typed})
    assert answer.status_code == 400
    assert answer["Content-Type"] == "application/problem+json"
    assert answer.json()["errors"][0]["field"] == "as_of"


def test_a_day_is_not_opened_for_who_may_not_read(client: Client) -> None:
    assert Client().get(f"/ogc/collections/links/items?as_of={FIRST}").status_code == 401


def test_the_number_of_queries_does_not_grow_with_the_features(client: Client) -> None:
    counts = []
    for number in range(8):
        with on(NOW - 3 * DAY):
            site(f"M{number}", 47.5 + number / 100)
        if number in (0, 7):
            with CaptureQueriesContext(connection) as queries:
                items(client, "sites", as_of=str(NOW - 2 * DAY), bbox="10,40,20,50")
            counts.append(len(queries))
    assert counts[0] == counts[1]
