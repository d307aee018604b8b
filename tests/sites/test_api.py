"""The API of sites, antenna types, people, changes and jobs."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from sites.models import ChangeRecord, Job, Site
from tests.small_register import SmallRegister, client_of, person_of_role, site, small_register

pytestmark = pytest.mark.django_db
NEW = {"code": "S9", "name": "New hill"}


@pytest.fixture
def register() -> SmallRegister:
    return small_register()


def test_a_site_entered_by_degrees_keeps_what_was_sent() -> None:
    answer = client_of("planner").post("/api/v1/sites/", NEW | {"latitude_deg": 47.5, "longitude_deg": 11.25})

    assert answer.status_code == 201
    body = answer.json()
    assert (body["latitude_deg"], body["longitude_deg"]) == (47.5, 11.25)
    assert body["position_typed"] == "47.5, 11.25"
    assert body["version"] == 1
    assert answer["ETag"] == '"1"'


def test_a_site_entered_as_typed_is_transformed_and_the_text_is_kept() -> None:
    """49°44'10.5" is 49 + 44/60 + 10.5/3600 = 49.736250 (sexagesimal arithmetic)."""
    typed = "49°44'10.5\"N 11°30'00\"E"

    body = client_of("planner").post("/api/v1/sites/", NEW | {"position": typed}).json()

    assert body["latitude_deg"] == pytest.approx(49.73625, abs=1e-9)
    assert body["longitude_deg"] == pytest.approx(11.5, abs=1e-9)
    assert body["position_typed"] == typed


def test_a_site_in_a_grid_keeps_the_grid() -> None:
    """EPSG:32632 (UTM 32N): easting 500 000 m is the central meridian, 9° E, by definition."""
    sent = NEW | {"position": "500000 5300000", "position_epsg": 32632}

    body = client_of("planner").post("/api/v1/sites/", sent).json()

    assert body["longitude_deg"] == pytest.approx(9.0, abs=1e-9)
    assert body["position_epsg"] == 32632


def test_a_changed_position_forgets_the_old_grid() -> None:
    client = client_of("planner")
    sent = NEW | {"position": "500000 5300000", "position_epsg": 32632}
    address = f"/api/v1/sites/{client.post('/api/v1/sites/', sent).json()['id']}/"

    body = client.patch(address, {"latitude_deg": 47.0, "longitude_deg": 9.0, "version": 1}).json()

    assert body["position_epsg"] is None
    assert body["position_typed"] == "47.0, 9.0"


def test_a_change_names_its_version_in_the_body_or_in_the_header(register: SmallRegister) -> None:
    client, address = client_of("planner"), f"/api/v1/sites/{register.near.pk}/"

    assert client.patch(address, {"name": "One", "version": 1}).json()["version"] == 2
    answer = client.patch(address, {"name": "Two"}, HTTP_IF_MATCH='"2"')
    assert answer.status_code == 200
    assert answer["ETag"] == '"3"'
    assert client.patch(address, {"name": "Three"}, HTTP_IF_MATCH='"2"').status_code == 409
    assert client.patch(address, {"name": "Four"}, HTTP_IF_MATCH="W/x").status_code == 400


def test_a_change_is_recorded_with_its_author_and_reason(register: SmallRegister) -> None:
    client_of("planner").patch(
        f"/api/v1/sites/{register.near.pk}/",
        {"name": "Renamed", "version": 1, "reason": "Found the old sign."},
    )

    rows = client_of("manager").get(
        "/api/v1/change-records/", {"object_type": "places.site", "by": str(_id("planner"))}
    )

    entry = rows.json()["results"][0]
    assert entry["changes"] == {"name": ["Hill S1", "Renamed"]}
    assert entry["reason"] == "Found the old sign."
    assert entry["by_name"] == "planner"


def _id(role: str) -> int:
    from sites.models import Person

    return Person.objects.get(groups__name=role).pk


def test_a_refused_entry_leaves_nothing_behind(register: SmallRegister) -> None:
    before = Site.objects.count(), ChangeRecord.objects.count()

    answer = client_of("planner").post(
        "/api/v1/sites/", NEW | {"code": "S1", "latitude_deg": 47, "longitude_deg": 11}
    )

    assert answer.status_code == 400
    assert answer.json()["errors"][0]["field"] == "code"
    assert (Site.objects.count(), ChangeRecord.objects.count()) == before


def test_a_removed_site_is_gone_and_recorded(register: SmallRegister) -> None:
    client, address = client_of("registrar"), f"/api/v1/sites/{register.unused_site.pk}/"

    assert client.delete(address).status_code == 204
    assert client.get(address).status_code == 404
    assert ChangeRecord.objects.latest("id").action == "remove"


def _codes(answer: Any) -> list[str]:
    assert answer.status_code == 200, answer.content
    return [row["code"] for row in answer.json()["results"]]


def test_sites_are_filtered_searched_and_ordered(register: SmallRegister) -> None:
    site("Z1", 48.5, 12.5, region="North", own=False)
    client = client_of("viewer")

    assert _codes(client.get("/api/v1/sites/", {"region": "north"})) == ["Z1"]
    assert _codes(client.get("/api/v1/sites/", {"own": "false"})) == ["Z1"]
    assert _codes(client.get("/api/v1/sites/", {"north_deg": 47.25, "west_deg": 11.25})) == ["S2"]
    assert _codes(client.get("/api/v1/sites/", {"search": "hill s3"})) == ["S3"]
    assert _codes(client.get("/api/v1/sites/", {"ordering": "-latitude_deg"})) == ["Z1", "S3", "S2", "S1"]


def test_lists_come_in_pages_of_the_size_asked_for(register: SmallRegister) -> None:
    client = client_of("viewer")

    first = client.get("/api/v1/sites/", {"page_size": 2}).json()
    second = client.get(first["next"]).json()

    assert first["count"] == 3
    assert [row["code"] for row in first["results"] + second["results"]] == ["S1", "S2", "S3"]
    assert client.get("/api/v1/sites/", {"page_size": 500}).status_code == 200
    assert client.get("/api/v1/sites/", {"page_size": 501}).status_code == 400


def test_a_misspelt_filter_is_refused_and_the_known_ones_are_named() -> None:
    answer = client_of("viewer").get("/api/v1/sites/", {"regoin": "North"})

    assert answer.status_code == 400
    assert "region" in answer.json()["detail"]


def test_people_are_shown_to_the_administrator_without_their_passwords(register: SmallRegister) -> None:
    client = client_of("administrator")

    answer = client.get("/api/v1/people/", {"role": "administrator"})

    assert answer.json()["results"][0]["roles"] == ["administrator"]
    assert "password" not in answer.content.decode()


def test_whoever_asked_for_a_job_may_cancel_it_and_others_may_not(register: SmallRegister) -> None:
    job = Job.objects.create(kind="check_network", asked_by=person_of_role("manager"))
    address = f"/api/v1/jobs/{job.pk}/cancel/"

    assert client_of("planner").post(address).status_code == 403
    assert client_of("manager").post(address).json()["state"] == "cancelled"
    assert client_of("manager").post(address).status_code == 400


LISTS = ["sites", "antenna-types", "people", "change-records", "jobs"]


@pytest.mark.parametrize("name", LISTS)
def test_a_list_takes_the_same_queries_whatever_its_length(name: str, register: SmallRegister) -> None:
    client = client_of("administrator")

    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as seen:
            assert client.get(f"/api/v1/{name}/", {"page_size": 500}).status_code == 200
        return len(seen)

    queries()  # permissions and content types are remembered from here on
    few = queries()
    for number in range(20):
        site(f"M{number:02}")
        Job.objects.create(kind="check_network", asked_by=register.responsible)
        person_of_role("viewer", username=f"viewer-{number}")

    assert queries() == few
    assert few <= 4  # count, rows, and for people their roles
