"""Sensitivity on request: over the API and on a page, and that it stores nothing."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from django.test import Client
from django.urls import reverse

from sites.errors import RegisterError, StaleWriteError
from sites.models import ChangeRecord
from spectrum.conflicts.sensitivity import GROUND
from spectrum.models import Finding, Station
from spectrum.services import checks, links
from spectrum.services.sensitivity import sensitivity_of
from tests.made import TESTS, Register, site
from tests.sites.terrain.rasters import write_tiff
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db
TODAY = dt.date(2026, 6, 1)


@pytest.fixture
def findings() -> list[Finding]:
    """Three links on one pair beside each other: each disturbs each, and together they do too."""
    register = Register()
    for n in range(3):
        register.link(
            f"L-{n}", site(f"N-{n}", 47 + n * 0.3), site(f"M-{n}", 47 + n * 0.3, 14.1), status="on_air"
        )
    checks.check_network(as_of=TODAY)
    return list(Finding.objects.all())


def test_every_interference_finding_is_answered_from_its_own_margin(findings: list[Finding]) -> None:
    judged = [f for f in findings if f.kind in ("co_channel", "carrier_to_interference", "aggregate")]
    assert {f.kind for f in judged} == {"co_channel", "carrier_to_interference", "aggregate"}
    for finding in judged:
        answer = sensitivity_of(finding, as_of=TODAY)
        assert answer.sensitivity.margin_db == pytest.approx(finding.margin, abs=1e-6)
        assert answer.differs == ""
        assert answer.sensitivity.least_db < answer.sensitivity.greatest_db


def test_findings_of_other_kinds_and_of_stations_that_left_are_refused_in_words(
    findings: list[Finding],
) -> None:
    other = next(f for f in findings if f.kind == "no_licence" or f.margin_unit != "dB")
    with pytest.raises(RegisterError, match="Only the margin of an interference finding"):
        sensitivity_of(other, as_of=TODAY)
    finding = next(f for f in findings if f.kind == "co_channel")
    assert finding.link is not None
    links.set_status(finding.link, "retired", by=TESTS)
    with pytest.raises(StaleWriteError, match="no longer in the register as they were"):
        sensitivity_of(finding, as_of=TODAY)


def test_a_register_that_changed_since_is_said(findings: list[Finding]) -> None:
    finding = next(f for f in findings if f.kind == "co_channel")
    assert finding.link is not None
    stations = list(finding.link.stations.all())
    for station in stations:
        station.tx_power_dbm = 30.0
    links.save_link(finding.link, stations, by=TESTS)
    answer = sensitivity_of(finding, as_of=TODAY)
    assert answer.sensitivity.margin_db == pytest.approx((finding.margin or 0) + 7.0)
    assert "something was changed since. Check the link again." in answer.differs


def test_terrain_is_switched_off_where_it_was_used(
    findings: list[Finding], settings: Any, tmp_path: Path
) -> None:
    finding = next(f for f in findings if f.kind == "co_channel")
    bare = sensitivity_of(finding, as_of=TODAY).sensitivity.margin_db
    heights = np.full((1200, 600), 500, dtype=np.int16)
    heights[20::40] = 900  # a ridge every three kilometres, across every path and under no site
    write_tiff(tmp_path / "ridges.tif", heights, 13.8, 47.8, 1 / 1200)
    settings.TERRAIN_DIR = str(tmp_path)
    over = sensitivity_of(finding, as_of=TODAY).sensitivity
    [ground] = [row for row in over.rows if row.assumption == GROUND]
    assert (ground.was, ground.now) == ("over terrain", "smooth earth")
    assert ground.margin_db == pytest.approx(bare)
    assert over.margin_db > bare + 10.0


def test_the_page_and_the_api_show_the_same_and_store_nothing(findings: list[Finding]) -> None:
    client = Client()
    client.force_login(person_of_role("viewer"))
    finding = next(f for f in findings if f.kind == "co_channel")
    stored = (ChangeRecord.objects.count(), Finding.objects.count(), Station.objects.count())

    told = client.get(reverse("api:finding-sensitivity", args=[finding.pk])).json()
    page = client.get(reverse("finding-sensitivity", args=[finding.pk]))

    assert told["margin_db"] == pytest.approx(finding.margin)
    assert told["sentence"] in page.content.decode()
    assert page.content.decode().count("<tr") == len(told["changed"]) + 3
    assert 'class="spread"' in page.content.decode()
    finding_page = client.get(reverse("finding", args=[finding.pk])).content.decode()
    assert reverse("finding-sensitivity", args=[finding.pk]) in finding_page
    assert stored == (ChangeRecord.objects.count(), Finding.objects.count(), Station.objects.count())
