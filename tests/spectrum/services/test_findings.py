"""Findings keep their identity and what people decided, from run to run."""

from __future__ import annotations

import pytest

from sites.errors import NotAllowedError, RegisterError, StaleWriteError
from sites.models import ChangeRecord
from spectrum.conflicts.evidence import adds_up
from spectrum.models import Finding, Link
from spectrum.services.checks import check_link, check_network
from spectrum.services.findings import accept, reopen
from spectrum.services.links import save_link
from tests.made import TESTS, TODAY, Register, person, site

pytestmark = pytest.mark.django_db


@pytest.fixture
def register(db: None) -> Register:
    """Two links on one pair, 11 km apart: each disturbs the other."""
    made = Register()
    made.link("L-1", site("S1"), site("S2", 47.1), status=Link.Status.ON_AIR)
    made.link("L-2", site("S3", 47.2), site("S4", 47.3))
    return made


def co_channel() -> list[Finding]:
    return list(Finding.objects.filter(kind="co_channel", gone_at=None))


def test_the_check_of_a_link_finds_both_directions_with_their_arithmetic(register: Register) -> None:
    check_link(Link.objects.get(code="L-2").pk, as_of=TODAY)
    directions = {(f.link.code, f.other_link.code) for f in co_channel() if f.link and f.other_link}
    assert directions == {("L-1", "L-2"), ("L-2", "L-1")}
    for finding in co_channel():
        assert finding.severity == "must_fix"
        assert finding.margin is not None and adds_up(finding.evidence, finding.margin)


def test_a_second_run_finds_the_same_and_makes_nothing_new(register: Register) -> None:
    first = check_network(as_of=TODAY)
    before = list(Finding.objects.values_list("identity", "headline", "margin", "first_seen_at"))
    second = check_network(as_of=TODAY)
    assert list(Finding.objects.values_list("identity", "headline", "margin", "first_seen_at")) == before
    assert (second.counts["new"], second.counts["still"], second.counts["gone"]) == (
        0,
        first.counts["new"],
        0,
    )


def test_what_was_cured_is_gone_and_comes_back_under_the_same_identity(register: Register) -> None:
    check_network(as_of=TODAY)
    identities = {f.identity for f in co_channel()}
    link = Link.objects.get(code="L-2")
    stations = list(link.stations.all())
    for station in stations:
        station.tx_frequency_hz = (station.tx_frequency_hz or 0) + 1_000_000
        station.rx_frequency_hz = (station.rx_frequency_hz or 0) + 1_000_000
    save_link(link, stations, by=TESTS, clashes_are_findings=True)
    assert check_network(as_of=TODAY).counts["gone"] >= len(identities)
    assert co_channel() == []
    for station in stations:
        station.tx_frequency_hz = (station.tx_frequency_hz or 0) - 1_000_000
        station.rx_frequency_hz = (station.rx_frequency_hz or 0) - 1_000_000
    save_link(Link.objects.get(code="L-2"), stations, by=TESTS, clashes_are_findings=True)
    check_network(as_of=TODAY)
    assert {f.identity for f in co_channel()} == identities


def test_an_acceptance_stays_said_in_later_runs(register: Register) -> None:
    check_network(as_of=TODAY)
    finding = co_channel()[0]
    ada = person("ada", "spectrum.accept_finding")
    accept(finding, reason="agreed with the other party", by=ada)
    check_network(as_of=TODAY)
    finding.refresh_from_db()
    assert (finding.accepted_by, finding.accepted_reason) == (ada, "agreed with the other party")
    entry = ChangeRecord.objects.filter(object_type="spectrum.finding").first()
    assert entry is not None and entry.changes["accepted_reason"] == ["", "agreed with the other party"]


def test_accepting_needs_the_right_and_a_reason_and_happens_once(register: Register) -> None:
    check_network(as_of=TODAY)
    finding = co_channel()[0]
    with pytest.raises(NotAllowedError, match="planner, manager or administrator"):
        accept(finding, reason="because", by=person("viewer"))
    ada = person("ada", "spectrum.accept_finding")
    with pytest.raises(RegisterError, match="Say why"):
        accept(finding, reason="  ", by=ada)
    accept(finding, reason="because", by=ada)
    with pytest.raises(StaleWriteError, match="already"):
        accept(finding, reason="again", by=ada)
    assert reopen(finding, by=ada).accepted_at is None


def test_a_run_that_is_stopped_stores_nothing(register: Register) -> None:
    class Stopped(Exception):
        pass

    def stop(done: int, total: int) -> None:
        raise Stopped

    with pytest.raises(Stopped):
        check_network(as_of=TODAY, progress=stop)
    assert not Finding.objects.exists()


def test_a_retired_link_takes_its_findings_with_it(register: Register) -> None:
    check_network(as_of=TODAY)
    link = Link.objects.get(code="L-2")
    link.status = Link.Status.RETIRED
    save_link(link, list(link.stations.all()), by=TESTS)
    check_link(link.pk, as_of=TODAY)
    assert co_channel() == []


def test_the_check_of_a_link_agrees_with_the_check_of_the_network(register: Register) -> None:
    check_network(as_of=TODAY)
    whole = {(f.identity, f.margin) for f in co_channel()}
    for link in Link.objects.all():
        check_link(link.pk, as_of=TODAY)
    assert {(f.identity, f.margin) for f in co_channel()} == whole


def test_a_link_that_is_gone_is_said_to_be(db: None) -> None:
    with pytest.raises(RegisterError, match="no link with the number 12345"):
        check_link(12345)
