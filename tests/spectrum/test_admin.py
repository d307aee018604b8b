"""Links in the administration: saved with their stations as one thing, checked afterwards."""

from __future__ import annotations

from typing import Any

import pytest
from django.contrib.auth.models import Permission
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from sites.models import ChangeRecord, Job
from spectrum.models import Check, Finding, Link, Station
from spectrum.roles import ADMINISTRATOR
from spectrum.services.links import save_link
from tests.admin_pages import what_it_sends, what_was_refused
from tests.made import TESTS, Register, site
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db


@pytest.fixture
def pages(client: Client) -> Client:
    client.force_login(person_of_role(ADMINISTRATOR, username="ada", is_staff=True))
    return client


@pytest.fixture
def register(pages: Client) -> Register:
    return Register()


@pytest.fixture
def link(register: Register) -> Link:
    return register.link("L-1", site("S-1"), site("S-2", 47.2))


def page_of(obj: Any, page: str = "change") -> str:
    return reverse(f"admin:spectrum_{obj._meta.model_name}_{page}", args=[obj.pk])


def test_a_link_is_entered_with_its_stations_and_checked(
    pages: Client, register: Register, django_capture_on_commit_callbacks: Any
) -> None:
    site("S-1")
    site("S-2", 47.2)
    sent = what_it_sends(pages.get(reverse("admin:spectrum_link_add")))
    sent |= {"code": "L-1", "holder": register.own.pk, "stations-TOTAL_FORMS": "2"}
    for number, (label, place, go, back) in enumerate(
        [("A", "S-1", "410.0", "420.0"), ("B", "S-2", "420.0", "410.0")]
    ):
        values = {
            "role": label.lower(),
            "label": label,
            "site": place,
            "antenna_type": register.antenna.pk,
            "antenna_height_agl_m": "20",
            "polarisation": "V",
            "feeder_loss_db": "1",
            "duplexer_loss_db": "1",
            "mode": register.mode.pk,
            "tx_power_dbm": "5 W",
            "tx_frequency_mhz": go,
            "rx_frequency_mhz": back,
        }
        sent |= {f"stations-{number}-{name}": value for name, value in values.items()}
    with django_capture_on_commit_callbacks(execute=True):
        answer = pages.post(reverse("admin:spectrum_link_add"), sent)
    assert answer.status_code == 302, what_was_refused(answer)
    made = Link.objects.get()
    assert [(s.label, s.tx_frequency_hz, s.radio_type) for s in made.stations.all()] == [
        ("A", 410_000_000, register.radio),
        ("B", 420_000_000, register.radio),
    ]
    assert Check.objects.get().link == made
    assert ChangeRecord.objects.filter(action="create", object_type="spectrum.station").count() == 2


def test_a_change_of_a_station_is_a_change_of_the_link(pages: Client, link: Link) -> None:
    sent = what_it_sends(pages.get(page_of(link)))
    answer = pages.post(page_of(link), sent | {"stations-0-tx_power_dbm": "30"})
    assert answer.status_code == 302, what_was_refused(answer)
    assert Station.objects.get(label="A").tx_power_dbm == 30.0
    link.refresh_from_db()
    assert link.version == 2
    entry = ChangeRecord.objects.first()
    assert entry is not None
    assert entry.changes == {"tx_power_dbm": [37.0, 30.0]}
    assert Job.objects.filter(kind="check_link").exists()


def test_who_was_slower_does_not_undo_what_another_did_to_a_station(pages: Client, link: Link) -> None:
    sent = what_it_sends(pages.get(page_of(link)))
    stations = list(link.stations.all())
    stations[0].tx_power_dbm = 33.0
    save_link(link, stations, by=TESTS)
    answer = pages.post(page_of(link), sent | {"name": "renamed"})
    # the stations' own forms notice it too
    assert "was changed by tests" in what_was_refused(answer)
    assert Station.objects.get(label="A").tx_power_dbm == 33.0
    link.refresh_from_db()
    assert link.name == ""


def test_a_refused_station_is_named_and_nothing_is_written(pages: Client, link: Link) -> None:
    sent = what_it_sends(pages.get(page_of(link)))
    answer = pages.post(page_of(link), sent | {"name": "renamed", "stations-1-role": "remote"})
    assert "hub or remote" in what_was_refused(answer) or "end" in what_was_refused(answer)
    link.refresh_from_db()
    assert (link.name, link.version) == ("", 1)


def test_a_link_cannot_lose_all_its_stations(pages: Client, link: Link) -> None:
    sent = what_it_sends(pages.get(page_of(link)))
    answer = pages.post(page_of(link), sent | {"stations-0-DELETE": "on", "stations-1-DELETE": "on"})
    assert "A link needs its stations" in what_was_refused(answer)
    assert link.stations.count() == 2


def test_a_station_is_changed_and_removed_through_its_link(pages: Client, link: Link) -> None:
    station = link.stations.get(label="B")
    sent = what_it_sends(pages.get(page_of(station)))
    answer = pages.post(page_of(station), sent | {"antenna_height_agl_m": "25"})
    assert answer.status_code == 302, what_was_refused(answer)
    station.refresh_from_db()
    assert station.antenna_height_agl_m == 25.0
    link.refresh_from_db()
    assert link.version == 2
    answer = pages.post(page_of(station, "delete"), {"post": "yes"})
    assert answer.status_code == 302
    assert [s.label for s in link.stations.all()] == ["A"]
    last = link.stations.get()
    answer = pages.post(page_of(last, "delete"), {"post": "yes"}, follow=True)
    assert "A link needs its stations" in answer.content.decode()
    assert link.stations.count() == 1


def test_a_station_that_somebody_changed_meanwhile_is_kept(pages: Client, link: Link) -> None:
    station = link.stations.get(label="B")
    sent = what_it_sends(pages.get(page_of(station)))
    stations = list(link.stations.all())
    stations[1].tx_power_dbm = 33.0
    save_link(link, stations, by=TESTS)
    answer = pages.post(page_of(station), sent)
    assert "was changed by tests" in what_was_refused(answer)
    station.refresh_from_db()
    assert station.tx_power_dbm == 33.0


def test_current_findings_stand_on_both_links(pages: Client, register: Register, link: Link) -> None:
    other = register.link("L-2", site("S-3", 48.0), site("S-4", 48.2))
    now = timezone.now()
    Finding.objects.create(
        identity="i", kind="co_channel", severity="must_fix", rank=0, headline="L-1 disturbs L-2",
        margin=-4.0, margin_unit="dB", link=link, other_link=other, first_seen_at=now, last_seen_at=now,
    )  # fmt: skip
    for each in (link, other):
        assert "must fix: L-1 disturbs L-2</a> (margin -4.0 dB)" in pages.get(page_of(each)).content.decode()


def test_a_link_goes_with_its_stations_checks_and_findings(pages: Client, link: Link) -> None:
    now = timezone.now()
    Check.objects.create(scope="link", link=link, as_of=now.date(), started_at=now, model_version="1")
    Finding.objects.create(
        identity="i",
        kind="k",
        severity="note",
        rank=2,
        headline="h",
        link=link,
        first_seen_at=now,
        last_seen_at=now,
    )
    answer = pages.post(page_of(link, "delete"), {"post": "yes"})
    assert answer.status_code == 302
    assert not Link.objects.exists()
    removed = ChangeRecord.objects.filter(action="remove").values_list("object_type", flat=True)
    assert sorted(removed) == ["spectrum.link", "spectrum.station", "spectrum.station"]


def test_other_parties_links_are_only_read_without_the_permission(client: Client, register: Register) -> None:
    theirs = register.link("X-1", site("S-1"), site("S-2", 47.2), holder=register.other)
    ours = register.link("L-1", site("S-3"), site("S-4", 47.2))
    somebody = person_of_role("viewer", is_staff=True)
    somebody.user_permissions.add(*Permission.objects.filter(codename__in=("change_link", "change_station")))
    client.force_login(somebody)
    assert client.get(page_of(theirs)).status_code == 200
    assert client.post(page_of(theirs), {"code": "X-1"}).status_code == 403
    assert what_it_sends(client.get(page_of(ours)))["code"] == "L-1"
    somebody.user_permissions.add(Permission.objects.get(codename="what_others_hold"))
    assert what_it_sends(client.get(page_of(theirs)))["code"] == "X-1"


def test_a_field_engineer_reads_links_and_changes_none(client: Client, register: Register) -> None:
    ours = register.link("L-1", site("S-3"), site("S-4", 47.2))
    client.force_login(person_of_role("field engineer", is_staff=True))
    assert client.get(page_of(ours)).status_code == 200
    assert client.post(page_of(ours), {"code": "L-1"}).status_code == 403


def test_evidence_is_read_in_full(pages: Client, link: Link) -> None:
    now = timezone.now()
    finding = Finding.objects.create(
        identity="i", kind="k", severity="note", rank=2, headline="h", link=link, first_seen_at=now, last_seen_at=now,
        evidence=[{"name": "Path loss", "value": -120.5, "unit": "dB", "source": "ITU-R P.525-4 (4)", "role": "term"}],
    )  # fmt: skip
    assert "ITU-R P.525-4 (4)" in pages.get(page_of(finding)).content.decode()
