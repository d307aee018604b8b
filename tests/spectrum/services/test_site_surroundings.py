"""Findings at sites are kept current by the check of one link, wherever it stands or stood."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from sites.models import Site
from sites.services import record
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.kinds import SITE_KINDS
from spectrum.models import Finding, Link, Station
from spectrum.selectors import findings_of_link
from spectrum.services.checks import check_link, check_network
from spectrum.services.links import save_link
from spectrum.services.site_surroundings import sites_around
from tests.made import TESTS, TODAY, Register, site

pytestmark = pytest.mark.django_db

METRES_PER_DEGREE = 111_180.0  # of latitude at 47° (handbook of geodesy)


@pytest.fixture
def register(db: None) -> Register:
    """Three links from one mast; L-2 sends in the half in which the others hear, without a filter between."""
    made = Register()
    radio = made.radio
    radio.blocking_level_dbm, radio.transmitter_noise_dbc_per_hz = -20.0, -140.0
    radio.third_order_intercept_dbm = 0.0
    record.change(radio, by=TESTS)
    mast = site("MAST")
    filtered = {"duplexer_isolation_db": 90.0}
    made.link("L-1", mast, site("FAR-1", 47.3), stations=filtered)
    made.link("L-2", site("FAR-2", 47.4), mast, stations=filtered)
    made.link("L-3", mast, site("FAR-3", 47.5), stations=filtered)
    for number, link in enumerate(Link.objects.order_by("code")):
        stations = list(link.stations.all())
        for station in stations:
            low, high = 410_100_000 + number * 900_000, 420_100_000 + number * 900_000
            sends_low = station.label == "A"
            station.tx_frequency_hz, station.rx_frequency_hz = (low, high) if sends_low else (high, low)
        save_link(link, stations, by=TESTS, clashes_are_findings=True)
    return made


@pytest.fixture(autouse=True)
def entered(register: Register) -> None:
    """The register stands before each test."""


def at_sites() -> dict[str, tuple[str, str, float | None]]:
    return {
        f.identity: (f.kind, f.severity, f.margin)
        for f in Finding.objects.filter(kind__in=SITE_KINDS, gone_at=None)
    }


def test_every_link_checked_alone_finds_what_the_network_check_finds() -> None:
    for link in Link.objects.all():
        check_link(link.pk, as_of=TODAY)
    alone = at_sites()
    assert {kind for kind, _, _ in alone.values()} >= {"band_half_clash", "receiver_blocking"}
    check = check_network(as_of=TODAY)
    assert at_sites() == alone
    assert check.counts["gone"] == 0


def test_what_others_do_at_its_sites_is_shown_with_a_link() -> None:
    check_network(as_of=TODAY)
    link = Link.objects.get(code="L-3")
    shown = {f.identity for f in findings_of_link(link) if f.kind in SITE_KINDS}
    at_the_mast = Finding.objects.filter(kind__in=SITE_KINDS, site__code="MAST")
    assert {f.identity for f in at_the_mast} <= shown


def test_a_link_that_moves_away_takes_its_part_of_the_old_site_with_it() -> None:
    check_network(as_of=TODAY)
    link = Link.objects.get(code="L-2")
    stations = list(link.stations.all())
    other = site("ELSEWHERE", 47.45)
    for station in stations:
        if station.site.code == "MAST":
            station.site = other
    save_link(link, stations, by=TESTS, clashes_are_findings=True)
    check_link(link.pk, as_of=TODAY)
    after = at_sites()
    assert "band_half_clash" not in {kind for kind, _, _ in after.values()}
    assert check_network(as_of=TODAY).counts["gone"] == 0
    assert at_sites() == after


def test_a_link_that_is_retired_leaves_its_sites() -> None:
    check_network(as_of=TODAY)
    link = Link.objects.get(code="L-2")
    link.status = Link.Status.RETIRED
    record.change(link, by=TESTS)
    check_link(link.pk, as_of=TODAY)
    left = set(at_sites())
    check_network(as_of=TODAY)
    assert set(at_sites()) == left
    assert not Finding.objects.filter(gone_at=None, kind="band_half_clash").exists()


def test_a_near_site_is_judged_with_it_and_a_far_one_is_not(register: Register) -> None:
    near = site("NEAR", 47.0 + 300.0 / METRES_PER_DEGREE)
    further = site("FURTHER", 47.0 + 900.0 / METRES_PER_DEGREE)
    register.link("L-4", near, site("FAR-4", 47.6))
    register.link("L-5", further, site("FAR-5", 47.7))
    around = sites_around(Link.objects.get(code="L-1"), TODAY, Criteria())
    judged = set(Site.objects.filter(pk__in=around.sites or ()).values_list("code", flat=True))
    assert judged == {"MAST", "FAR-1", "NEAR"}
    # What stands near the near site takes part there; 600 m from it is too far.
    assert {s.link.code for s in around.network.stations} == {"L-1", "L-2", "L-3", "L-4"}


def test_sites_beside_the_date_line_see_each_other(register: Register) -> None:
    one, other = site("WEST", 0.0, 179.9995), site("EAST", 0.0, -179.9995)
    link = register.link("L-6", one, site("FAR-6", 0.2, 179.9))
    register.link("L-7", other, site("FAR-7", -0.2, -179.9))
    around = sites_around(link, TODAY, Criteria())
    assert {s.link.code for s in around.network.stations} == {"L-6", "L-7"}


def test_a_documented_exception_turns_the_clash_into_a_note() -> None:
    mast = Site.objects.get(code="MAST")
    mast.band_half_exceptions = "410-430 MHz: one hop turned round, letter of 2024-03-04"
    record.change(mast, by=TESTS)
    check_network(as_of=TODAY)
    notes = Finding.objects.filter(kind="band_half_clash")
    assert {(f.severity, f.cure) for f in notes} == {
        ("note", "Documented: one hop turned round, letter of 2024-03-04")
    }


def test_an_exception_that_cannot_be_read_is_refused_where_it_stands() -> None:
    mast = Site.objects.get(code="MAST")
    mast.band_half_exceptions = "the upper band"
    with pytest.raises(ValidationError, match="a band in MHz, a colon and the reason") as refused:
        record.change(mast, by=TESTS)
    assert set(refused.value.message_dict) == {"band_half_exceptions"}


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("blocking_level_dbm", 50.0),
        ("transmitter_noise_dbc_per_hz", 10.0),
        ("third_order_intercept_dbm", 90.0),
    ],
)
def test_site_figures_out_of_any_range_are_refused(register: Register, field: str, value: float) -> None:
    setattr(register.radio, field, value)
    register.radio.refresh_from_db(fields=["version"])
    with pytest.raises(ValidationError, match="must lie between"):
        record.change(register.radio, by=TESTS)


@pytest.mark.parametrize(
    "field", ["duplexer_isolation_db", "antenna_spacing_m", "antenna_spacing_vertical_m"]
)
def test_negative_isolation_and_spacings_are_refused(field: str) -> None:
    station = Station.objects.filter(link__code="L-1")[0]
    setattr(station, field, -1.0)
    with pytest.raises(ValidationError, match="cannot be negative"):
        record.change(station, by=TESTS)


def test_the_distances_are_settings(settings: Any) -> None:
    from spectrum.conflicts.gather import criteria_in_force

    settings.SITE_DISTANCES_M = {"same_site_within_m": 20.0, "near_site_within_m": 80.0}
    criteria = criteria_in_force()
    assert (criteria.same_site_within_m, criteria.near_site_within_m) == (20.0, 80.0)
    stored = check_network(as_of=dt.date(2026, 6, 2)).parameters
    assert (stored["same_site_within_m"], stored["near_site_within_m"]) == (20.0, 80.0)
