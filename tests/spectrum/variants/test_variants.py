"""Variants: nothing of them is in the register before they are accepted, and then everything is."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.core.exceptions import ValidationError

from sites.errors import NotAllowedError, RegisterError, StaleWriteError
from sites.models import ChangeRecord, Job, Person
from sites.services import jobs
from spectrum.conflicts.gather import whole_network
from spectrum.models import (
    Check,
    Finding,
    Link,
    PlannedChange,
    Station,
    Variant,
    VariantCheck,
    VariantFinding,
)
from spectrum.services import checks, links, variants
from spectrum.services.site_surroundings import all_sites
from tests.made import TESTS, Register, person, site

pytestmark = pytest.mark.django_db
DAY = dt.date(2027, 3, 1)
PLANNER = ("spectrum.add_link", "spectrum.change_link", "spectrum.what_others_hold")


@pytest.fixture
def paula() -> Person:
    return person("paula", *PLANNER, first_name="Paula", last_name="Pichler")


@pytest.fixture
def register() -> Register:
    return Register()


@pytest.fixture
def two(register: Register) -> list[Link]:
    """Two links on one pair 11 km apart: each disturbs each."""
    return [
        register.link(
            f"L-{n}", site(f"N-{n}", 47 + n * 0.1), site(f"M-{n}", 47 + n * 0.1, 14.1), status="on_air"
        )
        for n in range(2)
    ]


def drawn_up(by: Person, name: str = "Spring works") -> Variant:
    return variants.draw_up(Variant(name=name, as_of=DAY), by=by)


def retuned(link: Link, by_hz: int) -> tuple[Link, list[Station]]:
    link = Link.objects.get(pk=link.pk)
    stations = list(link.stations.all())
    for station in stations:
        station.tx_frequency_hz = (station.tx_frequency_hz or 0) + by_hz
        station.rx_frequency_hz = (station.rx_frequency_hz or 0) + by_hz
    return link, stations


def state_of_register() -> list[Any]:
    """Everything that a check of the register looks at or leaves behind."""
    rows: list[Any] = [
        list(model.objects.order_by("pk").values()) for model in (Link, Station, Finding, Check)
    ]
    return [*rows, ChangeRecord.objects.exclude(object_type__contains="variant").exclude(
        object_type="spectrum.plannedchange").count(), Job.objects.exclude(kind="check_variant").count()]  # fmt: skip


def standing(check: VariantCheck, which: str) -> set[tuple[str, tuple[str, ...]]]:
    return {(f.kind, tuple(f.links)) for f in check.findings.filter(standing=which)}


def interference(check: VariantCheck, which: str) -> set[tuple[str, tuple[str, ...]]]:
    return {row for row in standing(check, which) if row[0] == "co_channel"}


def test_a_retune_takes_conflicts_away_and_the_register_does_not_know(two: list[Link], paula: Person) -> None:
    checks.check_network(as_of=DAY)
    before = state_of_register()
    variant = drawn_up(paula)
    variants.change_link(variant, *retuned(two[1], 1_000_000), by=paula)

    check = variants.check_variant(variant.pk, by=paula)

    assert interference(check, "gone") == {("co_channel", ("L-0", "L-1")), ("co_channel", ("L-1", "L-0"))}
    assert interference(check, "new") == interference(check, "still") == set()
    assert all(
        f.margin is None and (f.margin_before or 0) < 0
        for f in check.findings.filter(standing="gone", margin_unit="dB")
    )
    assert check.counts["gone"] == check.findings.filter(standing="gone").count()
    assert state_of_register() == before
    checks.check_network(as_of=DAY)
    assert Finding.objects.filter(kind="co_channel", gone_at=None).count() == 4


def test_a_new_link_brings_conflicts_with_negative_numbers_only_in_the_variant(
    register: Register, two: list[Link], paula: Person
) -> None:
    before = state_of_register()
    variant = drawn_up(paula)
    stations = register.stations(
        Station.objects.filter(link=two[0]).order_by("label")[0].site, site("NEW", 47.05, 14.05)
    )
    change = variants.add_link(variant, Link(code="L-9", holder=register.own), stations, by=paula)

    check = variants.check_variant(variant.pk)

    fresh = interference(check, "new")
    assert {("co_channel", ("L-9", "L-0")), ("co_channel", ("L-1", "L-9"))} <= fresh
    assert all("L-9" in codes for _, codes in fresh)
    untouched = check.counts["untouched"]
    assert check.counts["still"] >= untouched > 0
    ids = {
        s.link.id
        for s in variants.checking.as_it_would_stand(all_sites(whole_network(DAY)), [change]).network.stations
    }
    assert ids == {two[0].pk, two[1].pk, -change.pk}
    assert change.planned["link"]["starts_on"] == "2027-03-01"
    # state_of_register sees the site NEW only through the change record
    after = state_of_register()
    assert after[:4] == before[:4]


def test_what_a_variant_foretells_is_what_the_register_finds_once_it_is_accepted(
    register: Register, two: list[Link], paula: Person
) -> None:
    third = register.link("L-2", site("N-2", 47.2), site("M-2", 47.2, 14.1), status="on_air")
    checks.check_network(as_of=DAY)
    then = {f.identity for f in Finding.objects.filter(gone_at=None)}
    variant = drawn_up(paula)
    variants.change_link(variant, *retuned(two[1], 25_000), by=paula)
    variants.retire_link(variant, third, by=paula)
    variants.add_link(
        variant,
        Link(code="L-9", holder=register.own, status="granted"),
        register.stations(site("X", 47.3), site("Y", 47.3, 14.1)),
        by=paula,
    )
    check = variants.check_variant(variant.pk)
    foretold = {
        which: {
            (f.kind, f.headline, round(f.margin or 0.0, 6)) for f in check.findings.filter(standing=which)
        }
        for which in ("new", "still", "gone")
    }

    variants.accept(variant, by=paula, reason="Agreed on 1 February.")
    checks.check_network(as_of=DAY)

    now = Finding.objects.filter(gone_at=None)
    found = {(f.kind, f.headline, round(f.margin or 0.0, 6)) for f in now if f.identity not in then}
    assert found == foretold["new"]
    assert foretold["still"] <= {(f.kind, f.headline, round(f.margin or 0.0, 6)) for f in now}
    gone = then - {f.identity for f in now}
    assert gone == set(check.findings.filter(standing="gone").values_list("identity", flat=True))
    assert check.counts["new"] + check.counts["still"] == now.count()
    assert Link.objects.get(code="L-9").starts_on == DAY
    third.refresh_from_db()
    assert third.ends_on == DAY - dt.timedelta(days=1)


def test_an_accepted_variant_is_written_through_the_change_record(two: list[Link], paula: Person) -> None:
    variant = drawn_up(paula)
    variants.change_link(variant, *retuned(two[1], 1_000_000), by=paula)
    variants.check_variant(variant.pk)
    accepted = variants.accept(variant, by=paula, reason="Agreed.")

    assert (accepted.status, accepted.decided_by, accepted.decided_reason) == ("accepted", paula, "Agreed.")
    recorded = ChangeRecord.objects.filter(object_type="spectrum.station", reason="variant Spring works")
    assert {entry.object_label for entry in recorded} == {"L-1/A", "L-1/B"}
    assert {entry.by for entry in recorded} == {paula}
    assert Job.objects.filter(kind="check_link", payload={"link": two[1].pk}).exists()
    with pytest.raises(StaleWriteError, match="was accepted by Paula Pichler"):
        variants.accept(variant, by=paula)
    with pytest.raises(StaleWriteError, match="Draw up a new one"):
        variants.retire_link(variant, two[0], by=paula)
    with pytest.raises(StaleWriteError):
        variants.check_variant(variant.pk)


def test_one_stale_link_keeps_the_whole_variant_out(two: list[Link], paula: Person) -> None:
    variant = drawn_up(paula)
    variants.retire_link(variant, two[0], by=paula)
    variants.change_link(variant, *retuned(two[1], 1_000_000), by=paula)
    variants.check_variant(variant.pk)
    other, stations = retuned(two[1], 50_000)
    links.save_link(other, stations, by=TESTS)
    before = state_of_register()

    with pytest.raises(StaleWriteError, match="Nothing of the variant was accepted: take L-1 out of it"):
        variants.accept(variant, by=paula)

    assert state_of_register() == before
    two[0].refresh_from_db()
    assert (two[0].ends_on, two[0].status) == (None, "on_air")
    variant.refresh_from_db()
    assert variant.status == "open"


def test_what_the_register_refuses_keeps_the_whole_variant_out(
    register: Register, two: list[Link], paula: Person
) -> None:
    variant = drawn_up(paula)
    variants.change_link(variant, *retuned(two[1], 1_000_000), by=paula)
    variants.add_link(
        variant, Link(code="L-9", holder=register.own), register.stations(site("X"), site("Y")), by=paula
    )
    variants.check_variant(variant.pk)
    register.link("L-9", site("P"), site("Q"))
    before = state_of_register()

    with pytest.raises(RegisterError, match=r"^L-9 is refused: .*Nothing of the variant was accepted"):
        variants.accept(variant, by=paula)
    assert state_of_register() == before


def test_it_must_have_been_checked_as_it_is_drawn_up_now(two: list[Link], paula: Person) -> None:
    variant = drawn_up(paula)
    with pytest.raises(RegisterError, match="plans no changes"):
        variants.accept(variant, by=paula)
    change = variants.change_link(variant, *retuned(two[1], 1_000_000), by=paula)
    with pytest.raises(RegisterError, match="was not checked as it is drawn up now"):
        variants.accept(variant, by=paula)
    variants.check_variant(variant.pk)
    assert variants.is_checked(variant)
    variants.retire_link(variant, two[0], by=paula)
    assert not variants.is_checked(variant)
    variants.check_variant(variant.pk)
    assert VariantCheck.objects.count() == 1
    variants.take_out(change, by=paula)
    assert not variants.is_checked(variant)
    variants.check_variant(variant.pk)
    variant.as_of = DAY + dt.timedelta(days=1)
    variants.rename(variant, by=paula)
    assert not variants.is_checked(variant)


def test_a_change_of_the_register_after_the_check_is_counted(two: list[Link], paula: Person) -> None:
    variant = drawn_up(paula)
    variants.change_link(variant, *retuned(two[1], 1_000_000), by=paula)
    check = variants.check_variant(variant.pk)
    assert variants.changed_since(check) == 0
    links.set_status(two[0], "retired", by=TESTS)
    assert variants.changed_since(check) == 1


def test_a_second_plan_for_a_link_replaces_the_first(two: list[Link], paula: Person) -> None:
    variant = drawn_up(paula)
    variants.change_link(variant, *retuned(two[1], 1_000_000), by=paula)
    variants.retire_link(variant, two[1], by=paula)
    assert [(c.kind, c.code) for c in variant.changes.all()] == [("retire", "L-1")]


def test_what_saving_would_refuse_is_refused_while_drawing_up(
    register: Register, two: list[Link], paula: Person
) -> None:
    variant = drawn_up(paula)
    places = site("X"), site("Y")
    with pytest.raises(ValidationError, match="Code already exists"):
        variants.add_link(
            variant, Link(code="L-0", holder=register.own), register.stations(*places), by=paula
        )
    with pytest.raises(ValidationError) as refused:
        variants.add_link(
            variant,
            Link(code="L-9", holder=register.own),
            register.stations(*places, tx_power_dbm=400),
            by=paula,
        )
    assert any("Power must lie between" in message for message in refused.value.messages)
    wrong = register.stations(*places)
    wrong[0].role = "hub"
    with pytest.raises(ValidationError) as refused:
        variants.add_link(variant, Link(code="L-9", holder=register.own), wrong, by=paula)
    assert set(refused.value.message_dict) == {"A.role"}
    with pytest.raises(ValidationError, match="needs its stations"):
        variants.add_link(variant, Link(code="L-9", holder=register.own), [], by=paula)
    link, stations = retuned(two[0], 0)
    with pytest.raises(StaleWriteError, match="was changed by somebody"):
        variants.change_link(variant, link, stations, by=paula, expected_version=99)
    assert not variant.changes.exists()


def test_a_retirement_says_its_last_day(register: Register, two: list[Link], paula: Person) -> None:
    variant = drawn_up(paula)
    assert variants.retire_link(variant, two[0], by=paula).last_day == dt.date(2027, 2, 28)
    later = variants.retire_link(variant, two[0], by=paula, last_day=DAY + dt.timedelta(days=9))
    # It still transmits on the day, so that it still conflicts.
    check = variants.check_variant(variant.pk)
    assert interference(check, "still") and not interference(check, "gone")
    then = variants.checking.as_it_would_stand(all_sites(whole_network(DAY)), [later]).network
    assert {s.link.ends_on for s in then.stations if s.link.id == two[0].pk} == {later.last_day}
    links.set_status(two[1], "retired", by=TESTS)
    with pytest.raises(RegisterError, match="nothing to retire"):
        variants.retire_link(variant, two[1], by=paula)


def test_a_retirement_in_the_past_retires_at_once(two: list[Link], paula: Person) -> None:
    variant = drawn_up(paula)
    variants.retire_link(variant, two[0], by=paula, last_day=dt.date(2026, 1, 31))
    variants.check_variant(variant.pk)
    variants.accept(variant, by=paula)
    two[0].refresh_from_db()
    assert (two[0].status, two[0].ends_on) == ("retired", dt.date(2026, 1, 31))


def test_links_of_others_need_the_role_for_them(register: Register, two: list[Link], paula: Person) -> None:
    theirs = register.link("T-1", site("X"), site("Y"), holder=register.other, status="on_air")
    variant = drawn_up(paula)
    variants.retire_link(variant, theirs, by=paula)
    variants.check_variant(variant.pk)
    only_ours = person("otto", "spectrum.add_link", "spectrum.change_link")
    with pytest.raises(NotAllowedError, match="T-1 is a link of another party"):
        variants.accept(variant, by=only_ours)
    with pytest.raises(NotAllowedError, match="a planner accepts variants"):
        variants.accept(variant, by=person("vera"))
    assert variants.accept(variant, by=paula).status == "accepted"


def test_a_dropped_variant_stays_to_be_read(two: list[Link], paula: Person) -> None:
    variant = drawn_up(paula)
    variants.retire_link(variant, two[0], by=paula)
    before = state_of_register()
    variants.drop(variant, by=paula, reason="No site agreement.")
    assert state_of_register() == before
    variant.refresh_from_db()
    assert (variant.status, variant.decided_reason) == ("dropped", "No site agreement.")
    assert PlannedChange.objects.filter(variant=variant).count() == 1


def test_a_link_that_is_removed_takes_its_planned_change_along_and_that_is_recorded(
    two: list[Link], paula: Person
) -> None:
    variant = drawn_up(paula)
    variants.retire_link(variant, two[0], by=paula)
    variants.check_variant(variant.pk)
    links.remove_link(two[0], by=TESTS)
    assert not variant.changes.exists()
    assert not variants.is_checked(variant)
    assert ChangeRecord.objects.filter(object_type="spectrum.plannedchange", action="remove").exists()


def test_the_check_runs_as_a_job_that_can_be_left_and_cancelled(two: list[Link], paula: Person) -> None:
    variant = drawn_up(paula)
    variants.retire_link(variant, two[0], by=paula)
    steps: list[tuple[int, int]] = []

    def stop(done: int, total: int) -> None:
        steps.append((done, total))
        if 2 * done > total:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        variants.check_variant(variant.pk, progress=stop)
    assert not VariantFinding.objects.exists()
    assert steps == sorted(steps)
    job = variants.ask_for_check(variant, by=paula)
    assert variants.ask_for_check(variant, by=paula).pk == job.pk
    jobs.run_job(job.pk)
    job.refresh_from_db()
    assert (job.state, job.result["variant"]) == ("done", variant.pk)
    assert variants.is_checked(variant)
    made = variants.last_check(variant)
    assert made is not None and made.asked_by == paula
