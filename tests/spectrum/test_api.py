"""The API of channel plans, radios, links, checks and findings."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from sites.models import ChangeRecord, Job
from sites.services import record
from spectrum.models import Check, Finding, Link, ProtectionCriterion, RadioMode, RadioType, Station
from tests.small_register import AUTHOR, SmallRegister, client_of, link, site, small_register

pytestmark = pytest.mark.django_db


@pytest.fixture
def register() -> SmallRegister:
    return small_register()


def _ends(register: SmallRegister) -> list[dict[str, Any]]:
    common = {
        "antenna_type": register.antenna_type.pk,
        "antenna_height_agl_m": 25,
        "radio_type": register.radio_type.pk,
        "mode": register.mode.pk,
        "tx_power_dbm": 33,
    }
    return [
        common
        | {
            "label": "A",
            "role": "a",
            "site": register.near.pk,
            "tx_frequency_mhz": "452.0125",
            "rx_frequency_mhz": "462.0125",
        },
        common
        | {
            "label": "B",
            "role": "b",
            "site": register.far.pk,
            "tx_frequency_mhz": "462.0125",
            "rx_frequency_mhz": "452.0125",
        },
    ]


def _link(register: SmallRegister, **values: Any) -> dict[str, Any]:
    return {"code": "K2", "holder": register.own.pk, "stations": _ends(register)} | values


def test_a_link_is_entered_with_its_stations_and_its_check_is_asked_for(register: SmallRegister) -> None:
    answer = client_of("planner").post("/api/v1/links/", _link(register))

    assert answer.status_code == 201, answer.content
    body = answer.json()
    assert [station["tx_frequency_mhz"] for station in body["stations"]] == ["452.01250", "462.01250"]
    assert Station.objects.get(link__code="K2", label="A").tx_frequency_hz == 452_012_500
    assert (
        Job.objects.filter(kind="check_link", state="waiting").count() == 2
    )  # K1's of the fixture, and this


def test_a_station_is_changed_through_its_link(register: SmallRegister) -> None:
    client, address = client_of("planner"), f"/api/v1/links/{register.link.pk}/"
    seen = client.get(address).json()
    seen["stations"][0]["tx_power_dbm"] = 27.5

    answer = client.put(address, seen)

    assert answer.status_code == 200, answer.content
    assert answer.json()["stations"][0]["tx_power_dbm"] == 27.5
    assert answer.json()["version"] == seen["version"] + 1
    assert [s["id"] for s in answer.json()["stations"]] == [s["id"] for s in seen["stations"]]
    assert ChangeRecord.objects.latest("id").changes == {"tx_power_dbm": [30.0, 27.5]}


def test_a_field_engineer_plans_nothing_of_a_link(register: SmallRegister) -> None:
    client, address = client_of("field engineer"), f"/api/v1/links/{register.link.pk}/"
    seen = client.get(address).json()
    seen["stations"][0]["tx_power_dbm"] = 27.5

    for answer in (client.put(address, seen), client.patch(address, {"version": 1, "name": "x"})):
        assert answer.status_code == 403
        assert "Your role does not include this; it needs spectrum.change_link" in answer.content.decode()
    assert client.get(address).json()["stations"][0]["tx_power_dbm"] == 30.0


def test_stations_are_found_by_their_label_where_no_id_is_sent(register: SmallRegister) -> None:
    client, address = client_of("planner"), f"/api/v1/links/{register.link.pk}/"
    before = [s["id"] for s in client.get(address).json()["stations"]]

    answer = client.patch(
        address, {"version": 1, "stations": [{"label": "A", "tx_power_dbm": 20}, {"label": "B"}]}
    )

    assert answer.status_code == 200, answer.content
    assert [s["id"] for s in answer.json()["stations"]] == before
    assert answer.json()["stations"][0]["tx_power_dbm"] == 20


def test_a_change_without_stations_leaves_them_alone(register: SmallRegister) -> None:
    answer = client_of("planner").patch(
        f"/api/v1/links/{register.link.pk}/", {"version": 1, "name": "Backbone"}
    )

    assert answer.status_code == 200
    assert len(answer.json()["stations"]) == 2


def test_a_station_left_out_of_the_list_is_removed(register: SmallRegister) -> None:
    client, address = client_of("planner"), f"/api/v1/links/{register.link.pk}/"

    answer = client.patch(address, {"version": 1, "stations": [{"label": "A"}]})

    assert answer.status_code == 200, answer.content
    assert [s["label"] for s in answer.json()["stations"]] == ["A"]
    assert ChangeRecord.objects.filter(action="remove", object_type="spectrum.station").count() == 1


def test_a_new_station_in_a_patch_must_be_whole(register: SmallRegister) -> None:
    answer = client_of("planner").patch(
        f"/api/v1/links/{register.link.pk}/", {"version": 1, "stations": [{"label": "A"}, {"label": "C"}]}
    )

    assert answer.status_code == 400
    fields = {row["field"] for row in answer.json()["errors"]}
    assert {"stations.1.site", "stations.1.mode", "stations.1.antenna_height_agl_m"} <= fields


def test_a_fault_of_a_station_is_named_with_its_place_and_nothing_is_kept(register: SmallRegister) -> None:
    sent = _link(register)
    sent["stations"][1]["azimuth_deg"] = 400

    before = Link.objects.count(), Station.objects.count(), ChangeRecord.objects.count(), Job.objects.count()
    answer = client_of("planner").post("/api/v1/links/", sent)

    assert answer.status_code == 400
    assert answer.json()["errors"] == [
        {"field": "stations.1", "detail": "The azimuth must lie from 0 to below 360 degrees."}
    ]
    assert before == (
        Link.objects.count(), Station.objects.count(), ChangeRecord.objects.count(), Job.objects.count(),
    )  # fmt: skip


def test_a_station_of_another_link_is_refused(register: SmallRegister) -> None:
    other = link("K7", register.far, register.near, register.mode, register.antenna_type, register.own)
    foreign = other.stations.get(label="A").pk

    answer = client_of("planner").patch(
        f"/api/v1/links/{register.link.pk}/", {"version": 1, "stations": [{"id": foreign}, {"label": "B"}]}
    )

    assert answer.json()["errors"][0]["field"] == "stations.0.id"


def test_one_station_named_twice_is_refused(register: SmallRegister) -> None:
    answer = client_of("planner").patch(
        f"/api/v1/links/{register.link.pk}/", {"version": 1, "stations": [{"label": "A"}, {"label": "A"}]}
    )

    assert answer.status_code == 400


def test_a_stale_change_of_a_link_changes_neither_it_nor_its_stations(register: SmallRegister) -> None:
    client, address = client_of("planner"), f"/api/v1/links/{register.link.pk}/"
    seen = client.get(address).json()
    client.patch(address, {"version": 1, "stations": [{"label": "A", "tx_power_dbm": 20}, {"label": "B"}]})
    seen["stations"][1]["tx_power_dbm"] = 10

    answer = client.put(address, seen)

    assert answer.status_code == 409
    assert register.link.stations.get(label="B").tx_power_dbm == 30


def test_another_partys_link_needs_the_role_for_it(register: SmallRegister) -> None:
    foreign = link("X1", register.near, register.far, register.mode, register.antenna_type, register.other)
    address = f"/api/v1/links/{foreign.pk}/"

    assert client_of("field engineer").patch(address, {"version": 1, "name": "x"}).status_code == 403
    assert client_of("planner").patch(address, {"version": 1, "name": "x"}).status_code == 200


def test_the_check_of_a_link_answers_with_its_findings(register: SmallRegister) -> None:
    """The end that transmits 451 MHz has no licensed channel: the first thing a check must say."""
    answer = client_of("planner").post(f"/api/v1/links/{register.link.pk}/check/", {"as_of": "2026-12-01"})

    assert answer.status_code == 200, answer.content
    body = answer.json()
    assert body["check"]["as_of"] == "2026-12-01"
    assert body["check"]["link_code"] == "K1"
    assert body["findings"]
    assert all(row["state"] == "open" for row in body["findings"])
    assert all(
        set(row) == {"name", "value", "unit", "source", "role"}
        for f in body["findings"]
        for row in f["evidence"]
    )
    listed = client_of("viewer").get("/api/v1/findings/", {"link": register.link.pk, "page_size": 500}).json()
    assert [row["id"] for row in listed["results"]] == [row["id"] for row in body["findings"]]


def test_the_check_of_the_network_is_a_job_that_can_be_polled(register: SmallRegister) -> None:
    client = client_of("manager")

    answer = client.post("/api/v1/network-check/", {"as_of": "2026-12-01"})

    assert answer.status_code == 202
    job = client.get(answer["Location"])
    assert job.status_code == 200
    assert job.json()["kind"] == "check_network"
    assert job.json()["payload"] == {"as_of": "2026-12-01"}
    assert {"state", "steps_done", "steps_total", "result", "error"} <= set(job.json())
    again = client.post("/api/v1/network-check/", {"as_of": "2026-12-01"})
    assert again["Location"] == answer["Location"]  # it still waits; a second one would find the same


def test_a_polled_job_shows_its_progress_and_its_result(
    register: SmallRegister, django_capture_on_commit_callbacks: Any
) -> None:
    client = client_of("manager")
    with django_capture_on_commit_callbacks(execute=True):
        answer = client.post("/api/v1/network-check/", {})

    job = client.get(answer["Location"]).json()

    assert job["state"] == "done", job["error"]
    assert job["steps_done"] == job["steps_total"] > 0
    check = client.get(f"/api/v1/checks/{job['result']['check']}/").json()
    assert check["scope"] == "network"
    assert check["job"] == job["id"]


def test_a_finding_is_accepted_with_a_reason_and_reopened(register: SmallRegister) -> None:
    client, address = client_of("planner"), f"/api/v1/findings/{register.finding.pk}/"

    assert client.post(f"{address}accept/", {"reason": "  "}).status_code == 400
    accepted = client.post(f"{address}accept/", {"reason": "Agreed in writing."}).json()
    assert (accepted["state"], accepted["accepted_by_name"]) == ("accepted", "planner")
    assert client.post(f"{address}accept/", {"reason": "Again."}).status_code == 409
    assert client.post(f"{address}reopen/").json()["state"] == "open"
    assert client.post(f"{address}reopen/").status_code == 409


def test_findings_are_listed_as_they_stand_now_unless_asked_otherwise(register: SmallRegister) -> None:
    Finding.objects.create(
        identity="g" * 64,
        kind="co_channel",
        severity="decide",
        rank=1,
        headline="was",
        other_link=register.link,
        first_seen_at=timezone.now(),
        last_seen_at=timezone.now(),
        gone_at=timezone.now(),
    )
    client = client_of("viewer")

    def headlines(**filters: Any) -> list[str]:
        rows = client.get("/api/v1/findings/", filters).json()["results"]
        return [row["headline"] for row in rows]

    assert headlines() == ["K1/A is disturbed"]
    assert headlines(state="gone") == ["was"]
    assert headlines(state="any", link=register.link.pk) == ["K1/A is disturbed", "was"]
    assert headlines(state="any", severity="decide") == ["was"]
    assert headlines(margin_max="-5") == []
    assert headlines(state="accepted") == []


def test_a_finding_shows_its_arithmetic_and_its_kind_in_words(register: SmallRegister) -> None:
    body = client_of("viewer").get(f"/api/v1/findings/{register.finding.pk}/").json()

    assert body["kind_title"] == "Co-channel interference"
    assert body["group"] == "interference"
    assert body["evidence"] == register.finding.evidence
    assert body["link_code"] == "K1"


def test_the_channels_of_a_plan_are_computed(register: SmallRegister) -> None:
    """Channel n: go = first go + (n − 1) · spacing, return = go + duplex spacing; computed by hand."""
    address = f"/api/v1/channel-plans/{register.plan.pk}/channels/"

    body = client_of("viewer").get(address, {"page_size": 3, "page": 2}).json()

    assert body["count"] == 200
    assert body["results"][0] == {"number": 4, "go_mhz": "450.04375", "return_mhz": "460.04375"}


def test_a_negative_duplex_spacing_and_none_are_taken(register: SmallRegister) -> None:
    sent = {
        "code": "P2", "name": "Low return", "first_go_mhz": "460", "spacing_khz": 25, "channel_width_khz": 25,
        "channel_count": 4, "duplex_spacing_mhz": "-10",
    }  # fmt: skip
    client = client_of("planner")

    assert client.post("/api/v1/channel-plans/", sent).json()["duplex_spacing_mhz"] == "-10.00000"
    assert (
        client.post("/api/v1/channel-plans/", sent | {"code": "P3", "duplex_spacing_mhz": 0}).status_code
        == 201
    )


def test_a_radio_type_shows_its_modes_and_masks(register: SmallRegister) -> None:
    body = client_of("viewer").get(f"/api/v1/radio-types/{register.radio_type.pk}/").json()

    assert body["modes"][0]["channel_width_khz"] == "12.5"
    assert body["masks"][0]["points"] == [[0, 0], [6.25, 0], [12.5, -60]]


def test_a_mask_that_cannot_be_read_is_refused_under_its_field(register: SmallRegister) -> None:
    answer = client_of("planner").post(
        "/api/v1/radio-masks/",
        {
            "radio_type": register.radio_type.pk,
            "kind": "selectivity",
            "channel_width_khz": 12.5,
            "points": [[12.5, -60], [0, 0]],
            "source": "invented",
        },
    )

    assert answer.json()["errors"][0]["field"] == "points"


def test_links_are_found_by_site_status_and_frequency(register: SmallRegister) -> None:
    link("K8", site("S8"), register.near, register.mode, register.antenna_type, register.own, status="on_air")
    client = client_of("viewer")

    def codes(**filters: Any) -> list[str]:
        return [row["code"] for row in client.get("/api/v1/links/", filters).json()["results"]]

    assert codes(site=register.near.pk) == ["K1", "K8"]
    assert codes(site=register.far.pk) == ["K1"]
    assert codes(status=["on_air", "retired"]) == ["K8"]
    assert codes(frequency_min_mhz="460.9") == ["K1", "K8"]
    assert codes(frequency_max_mhz="450") == []
    assert codes(ordering="-code") == ["K8", "K1"]


LISTS = [
    "channel-plans", "radio-types", "radio-modes", "radio-masks", "protection-criteria", "links", "stations",
    "findings", "checks", "extract-mappings", "extract-runs",
]  # fmt: skip


@pytest.mark.parametrize("name", LISTS)
def test_a_list_takes_the_same_queries_whatever_its_length(name: str, register: SmallRegister) -> None:
    client = client_of("viewer")

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert client.get(f"/api/v1/{name}/", {"page_size": 500}).status_code == 200
        return len(seen)

    queries()  # permissions are remembered from here on
    few = queries()
    for number in range(15):
        _one_more_of_each(register, number)

    assert queries() == few
    assert few <= 4  # count, rows, and what hangs on them


def _one_more_of_each(register: SmallRegister, number: int) -> None:
    radio_type = record.create(
        RadioType(
            name=f"Radio {number}", tuning_min_mhz=440, tuning_max_mhz=470, power_min_dbm=20, power_max_dbm=40
        ),
        by=AUTHOR,
    )
    mode = record.create(
        RadioMode(
            radio_type=radio_type,
            label="9.6",
            channel_width_hz=12_500,
            emission_designator="11K0F1D",
            occupied_bandwidth_hz=11_000,
            modulation="4CPFSK",
            bit_rate_kbps=9.6,
            receiver_threshold_dbm=-108,
            required_ci_db=15,
        ),
        by=AUTHOR,
    )
    record.create(
        ProtectionCriterion(
            name=f"Band {number}",
            authority=register.authority,
            frequency_min_mhz=440,
            frequency_max_mhz=470,
            source="x",
        ),
        by=AUTHOR,
    )
    entered = link(
        f"N{number}", site(f"N{number}"), register.far, mode, register.antenna_type, register.other
    )
    now = timezone.now()
    Check.objects.create(
        scope="link",
        link=entered,
        as_of=now.date(),
        started_at=now,
        asked_by=register.responsible,
        model_version="t",
    )
    Finding.objects.create(
        identity=str(number),
        kind="off_raster",
        severity="note",
        rank=2,
        headline="off",
        link=entered,
        other_link=register.link,
        licence=register.licence,
        site=register.near,
        first_seen_at=now,
        last_seen_at=now,
    )
