"""What was found at a station: who may enter it, what it is compared with, and the findings that come of it."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from sites.models import ChangeRecord, Job
from sites.services import record
from spectrum.commissioning import commissioning_sheet
from spectrum.conflicts.evidence import adds_up
from spectrum.models import CommissioningRecord, Finding, Link, Station
from spectrum.places import stations_in_order
from spectrum.services import checks
from spectrum.services.commissioning import record_found
from tests.made import TESTS, TODAY, Register
from tests.small_register import person_of_role
from tests.spectrum.commissioning.test_sheet import licensed_link

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _the_day():
    with time_machine.travel(dt.datetime.combine(TODAY, dt.time(12)), tick=True):
        yield


@pytest.fixture
def link() -> Link:
    return licensed_link(Register(), power_limit_dbm=42.0)  # e.r.p.; 37 + 6 − 2.15 = 40.85 dBm is planned


def sums(row: Finding) -> bool:
    return row.margin is not None and adds_up(row.evidence, row.margin)


def found(link: Link, label: str = "A", **figures: Any) -> CommissioningRecord:
    station = link.stations.get(label=label)
    values = {"found_on": TODAY, "found_by": "F. Engineer", **figures}
    return record_found(CommissioningRecord(station=station, **values), by=TESTS)


def findings(link: Link) -> dict[str, Finding]:
    checks.check_link(link.pk, as_of=TODAY)
    rows = Finding.objects.filter(kind="as_built_differs", gone_at=None)
    return {f"{row.station_label} {row.other_station_label}": row for row in rows}


def as_planned(link: Link) -> dict[str, Any]:
    a = commissioning_sheet(link, stations_in_order(link), [], TODAY).ends[0]
    level = next(line.value for line in a.expected if line.name == "received level, median")
    return {
        "tx_frequency_hz": 410_000_000,
        "rx_frequency_hz": 420_000_000,
        "tx_power_dbm": 37.0,
        "channel_width_hz": 25_000,
        "modulation": "4-FSK",
        "received_level_dbm": float(level.replace("−", "-").removesuffix(" dBm")),
    }


def test_what_is_found_as_planned_is_no_finding(link):
    found(link, **as_planned(link))
    assert findings(link) == {}


@pytest.mark.parametrize(
    ("figures", "aspect", "severity", "margin"),
    [
        ({"tx_power_dbm": 40.0}, "A power licensed", "must_fix", 42.0 - (40.0 + 6.0 - 2.15)),
        ({"tx_power_dbm": 38.1}, "A power", "decide", 1.0 - 1.1),
        ({"tx_power_dbm": 35.0}, "A power", "decide", 1.0 - 2.0),
        ({"tx_frequency_hz": 410_012_500}, "A tx licensed", "must_fix", None),
        ({"rx_frequency_hz": 419_987_500}, "A rx", "decide", -12.5),
        ({"channel_width_hz": 50_000}, "A width licensed", "must_fix", -25.0),
        ({"channel_width_hz": 12_500}, "A width", "decide", -12.5),
        ({"modulation": "16-QAM"}, "A modulation", "decide", None),
    ],
)
def test_a_setting_that_is_off_becomes_a_finding_that_adds_up(link, figures, aspect, severity, margin):
    found(link, **{**as_planned(link), **figures})
    rows = findings(link)
    assert list(rows) == [aspect]
    row = rows[aspect]
    assert row.severity == severity and "as found on 2026-06-01" in row.headline
    if margin is not None:
        assert row.margin == pytest.approx(margin)
        assert sums(row)


@pytest.mark.parametrize(("off_db", "expected"), [(-5.9, False), (5.9, False), (-6.3, True), (6.3, True)])
def test_a_level_further_than_the_tolerance_from_the_prediction_is_a_finding(link, off_db, expected):
    figures = as_planned(link)
    figures["received_level_dbm"] += off_db
    found(link, **figures)
    rows = findings(link)
    assert bool(rows) is expected
    for row in rows.values():
        assert sums(row) and row.margin == pytest.approx(6.0 - abs(off_db), abs=0.06)
        assert ("below the prediction" in row.headline) is (off_db < 0)


def test_isolation_is_held_against_what_is_needed_and_what_is_entered(link):
    radio = link.stations.get(label="A").radio_type
    radio.blocking_level_dbm = -20.0
    record.change(radio, by=TESTS)
    station = link.stations.get(label="A")
    station.duplexer_isolation_db = 70.0
    record.change(station, by=TESTS)
    found(link, isolation_db=55.0)
    rows = findings(link)
    assert rows["A isolation need"].margin == pytest.approx(
        55.0 - (37.0 + 20.0)
    )  # output less blocking level
    assert rows["A isolation"].margin == pytest.approx(3.0 - 15.0)
    assert all(sums(row) for row in rows.values())
    assert rows["A isolation"].evidence[1]["unit"] == "dB"


def test_round_trip_and_throughput_are_held_against_what_the_service_needs(link):
    link.required_round_trip_ms, link.required_bit_rate_kbps = 40.0, 19.2
    record.change(link, by=TESTS)
    found(link, round_trip_ms=52.5, throughput_kbps=17.0)
    rows = findings(link)
    assert rows["A round trip"].margin == pytest.approx(-12.5)
    assert rows["A throughput"].margin == pytest.approx(-2.2)
    assert all(sums(row) for row in rows.values())


def test_a_check_of_the_network_says_the_same_as_a_check_of_the_link(link):
    found(link, tx_power_dbm=40.0, received_level_dbm=-40.0)
    of_link = {name: (row.identity, row.margin) for name, row in findings(link).items()}
    assert len(of_link) == 2
    Finding.objects.filter(kind="as_built_differs").update(gone_at=dt.datetime(2026, 6, 1, tzinfo=dt.UTC))
    checks.check_network(as_of=TODAY)
    rows = Finding.objects.filter(kind="as_built_differs", gone_at=None)
    assert {(row.identity, row.margin) for row in rows} == set(of_link.values())


def test_the_latest_record_counts_and_a_later_one_in_order_ends_the_finding(link):
    found(link, tx_power_dbm=40.0)
    assert findings(link)
    found(link, found_on=TODAY - dt.timedelta(days=3), tx_power_dbm=37.0)  # an older visit, entered later
    assert findings(link)
    found(link, tx_power_dbm=37.0)
    assert findings(link) == {}


def test_a_record_without_a_figure_is_refused(link):
    with pytest.raises(ValidationError, match="at least one figure"):
        found(link)


def test_a_field_engineer_enters_it_on_site_and_reads_at_once_what_is_off(client: Client, link):
    client.force_login(person_of_role("field engineer"))
    station = Station.objects.get(link=link, label="A")
    address = reverse("commissioning-record-add", args=[station.pk])
    form = client.get(address).content.decode()
    assert "What was found at K1/A?" in form and 'name="tx_power_dbm"' in form
    typed = {
        "found_on": "2026-06-01",
        "found_by": "F. Engineer",
        "tx_frequency_mhz": "410,0",
        "tx_power_dbm": "10 W",
        "received_level_dbm": "−40",
        "notes": "Feeder wet",
    }
    answer = client.post(address, typed)
    sheet = reverse("link-commissioning", args=[link.pk])
    assert answer.status_code == 302 and answer["Location"] == f"{sheet}#station-{station.pk}"
    row = CommissioningRecord.objects.get()
    assert (row.tx_frequency_hz, row.tx_power_dbm, row.received_level_dbm) == (410_000_000, 40.0, -40.0)
    entry = ChangeRecord.objects.filter(object_type="spectrum.commissioningrecord").get()
    assert "field-engineer" in str(entry.by_name)
    page = client.get(sheet).content.decode()
    assert "above the licensed" in page and "above the prediction" in page and "Feeder wet" in page
    assert Job.objects.filter(same_as=f"check_link:{link.pk}", state=Job.State.WAITING).exists()
    assert set(findings(link)) == {"A power licensed", "A level"}
    assert client.get(reverse("link-commissioning-pdf", args=[link.pk])).status_code == 200


def test_a_level_without_its_minus_sign_is_asked_again_and_a_phone_offers_the_sign(client: Client, link):
    client.force_login(person_of_role("field engineer"))
    address = reverse("commissioning-record-add", args=[link.stations.get(label="A").pk])
    form = client.get(address).context["form"]
    assert "inputmode" not in str(form["received_level_dbm"])
    assert 'inputmode="decimal"' in str(form["round_trip_ms"])
    answer = client.post(address, {"found_on": "2026-06-01", "found_by": "F.", "received_level_dbm": "76,5"})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "“76.5” was typed; a received level lies below 0 dBm. Is −76.5 meant?" in page
    assert 'value="76,5"' in page
    assert not CommissioningRecord.objects.exists()


def test_a_viewer_reads_it_and_enters_nothing(client: Client, link):
    found(link, tx_power_dbm=37.0)
    client.force_login(person_of_role("viewer"))
    page = client.get(reverse("link-commissioning", args=[link.pk])).content.decode()
    assert "F. Engineer" in page and "Enter what was found" not in page
    station = Station.objects.get(link=link, label="A")
    assert client.post(reverse("commissioning-record-add", args=[station.pk]), {}).status_code == 403
