"""What would cure a finding: each change is computed, and making it in the register gives the margin stated."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.test import Client
from django.urls import reverse

from sites.models import AntennaType, ChangeRecord
from sites.services import record
from spectrum.conflicts.cures import Cure, Cures
from spectrum.models import Finding, Link
from spectrum.services import checks, links
from spectrum.services.cures import cures_of
from tests.made import TESTS, Register, site
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db
TODAY = dt.date(2026, 6, 1)


@pytest.fixture
def finding() -> Finding:
    """Two links on one pair, 33 km from each other, and a second antenna type of less gain."""
    register = Register()
    for n in range(2):
        register.link(
            f"L-{n}", site(f"N-{n}", 47 + n * 0.3), site(f"M-{n}", 47 + n * 0.3, 14.1), status="on_air"
        )
    record.create(
        AntennaType(
            name="Short whip", gain_dbi=2.0, frequency_min_mhz=380, frequency_max_mhz=480, pattern="f1336_omni",
            cross_polar_discrimination_db=20.0,
        ),
        by=TESTS,
    )  # fmt: skip
    record.create(
        AntennaType(
            name="VHF whip", gain_dbi=0.0, frequency_min_mhz=140, frequency_max_mhz=174, pattern="f1336_omni"
        ),
        by=TESTS,
    )
    checks.check_network(as_of=TODAY)
    return Finding.objects.filter(kind="co_channel", margin__lt=0).order_by("pk")[0]


def cures(finding: Finding) -> Cures:
    found = cures_of(finding)
    assert found is not None and finding.margin is not None
    assert found.margin_db == pytest.approx(finding.margin, abs=1e-6)
    return found


def row(found: Cures, words: str) -> Cure:
    return next(cure for cure in found.rows if words in cure.change)


def margin_after_a_check(finding: Finding) -> float | None:
    checks.check_network(as_of=TODAY)
    finding.refresh_from_db()
    return None if finding.gone_at is not None else finding.margin


def test_less_power_cures_by_as_many_decibels_as_were_missing(finding: Finding) -> None:
    found = cures(finding)
    cure = row(found, "less power")
    less_db = int(re.search(r": (\d+) dB less", cure.change).group(1))  # type: ignore[union-attr]
    assert cure.margin_db == pytest.approx(found.margin_db + less_db) and 0.0 <= cure.margin_db < 1.0
    assert less_db == -int(found.margin_db // 1)


def test_power_lowered_as_stated_gives_the_margin_stated(finding: Finding) -> None:
    cure = row(cures(finding), "less power")
    assert finding.link is not None
    stations = list(finding.link.stations.all())
    for station in stations:
        if station.label == finding.station_label:
            stated = re.search(r"(−?[\d.]+) dBm", cure.change).group(1)  # type: ignore[union-attr]
            station.tx_power_dbm = float(stated.replace("−", "-"))
    links.save_link(finding.link, stations, by=TESTS)
    assert cure.note == "The radio goes down to 20.0 dBm."
    assert margin_after_a_check(finding) == pytest.approx(cure.margin_db, abs=1e-6)
    assert margin_after_a_check(finding) == pytest.approx(cure.margin_db, abs=1e-6)


def test_another_antenna_fitted_as_stated_gives_the_margin_stated(finding: Finding) -> None:
    cure = row(cures(finding), f"{finding.link}/{finding.station_label}: antenna Short whip")
    assert cure.margin_db > (finding.margin or 0.0)
    assert not any("VHF whip" in other.change for other in cures(finding).rows)
    assert finding.link is not None
    stations = list(finding.link.stations.all())
    for station in stations:
        if station.label == finding.station_label:
            station.antenna_type = AntennaType.objects.get(name="Short whip")
    links.save_link(finding.link, stations, by=TESTS)
    assert margin_after_a_check(finding) == pytest.approx(cure.margin_db, abs=1e-6)
    assert margin_after_a_check(finding) == pytest.approx(cure.margin_db, abs=1e-6)


def test_the_pair_moved_as_stated_is_clear(finding: Finding) -> None:
    cure = row(cures(finding), " up, ")
    channels = int(re.search(r"pair (\d+) channel", cure.change).group(1))  # type: ignore[union-attr]
    assert cure.cures and finding.link is not None
    stations = list(finding.link.stations.all())
    for station in stations:
        assert station.tx_frequency_hz is not None and station.rx_frequency_hz is not None
        station.tx_frequency_hz += channels * 25_000
        station.rx_frequency_hz += channels * 25_000
    links.save_link(Link.objects.get(pk=finding.link.pk), stations, by=TESTS)
    checks.check_network(as_of=TODAY)
    assert not Finding.objects.filter(
        kind__in=["co_channel", "adjacent_channel"], margin__lt=0, gone_at__isnull=True
    ).exists()


def test_the_page_lists_every_change_and_stores_nothing(finding: Finding) -> None:
    client = Client()
    client.force_login(person_of_role("viewer"))
    found = cures(finding)
    stored = ChangeRecord.objects.count()
    page = client.get(reverse("finding", args=[finding.pk])).content.decode()
    assert "What would cure it?" in page and "keeps the limit" in page
    for cure in found.rows:
        assert cure.change in page
    assert ChangeRecord.objects.count() == stored


def test_nothing_is_tried_where_no_pair_stands_behind_the_finding(finding: Finding) -> None:
    assert finding.link is not None
    other = Finding(kind="no_licence", link=finding.link)
    assert cures_of(other) is None
    links.set_status(finding.link, "retired", by=TESTS)
    finding.refresh_from_db()
    assert cures_of(finding) is None
