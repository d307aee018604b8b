"""Checks as jobs: of one link, of the network, cancelled, on a day to come."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from sites.models import Job, Person
from sites.services import jobs
from sites.services.jobs import running
from spectrum.models import Check, Finding
from spectrum.services.network_run import working
from tests.made import Register, person, site

pytestmark = pytest.mark.django_db


@pytest.fixture
def register() -> Register:
    return Register()


@pytest.fixture
def done(django_capture_on_commit_callbacks: Any) -> Any:
    """Submit a job and have it done."""

    def done(kind: str, payload: dict[str, Any], by: Person | None = None) -> Job:
        with django_capture_on_commit_callbacks(execute=True):
            job = jobs.submit(kind, payload, by=by)
        job.refresh_from_db()
        return job

    return done


def test_one_link(register: Register, done: Any) -> None:
    link = register.link("L-1", site("S1"), site("S2", 47.2))
    mira = person("mira")
    job = done("check_link", {"link": link.pk}, mira)
    check = Check.objects.get()
    assert job.state == Job.State.DONE
    assert job.result == {"check": check.pk, "counts": check.counts}
    assert (check.link, check.job, check.asked_by) == (link, job, mira)


def test_a_link_that_was_removed_meanwhile_needs_no_check(done: Any) -> None:
    job = done("check_link", {"link": 4711})
    assert (job.state, job.result) == (Job.State.DONE, {"check": None})


def test_the_network_as_it_stands_on_a_day(register: Register, done: Any) -> None:
    register.link("L-1", site("S1"), site("S2", 47.2))
    job = done("check_network", {"as_of": "2026-12-31"})
    check = Check.objects.get()
    assert job.state == Job.State.DONE, job.error
    assert (check.scope, check.as_of, check.job) == ("network", dt.date(2026, 12, 31), job)
    assert job.steps_done == job.steps_total > 0


def test_a_check_that_is_cancelled_leaves_the_findings_as_they_were(
    register: Register, done: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    for n in range(4):
        register.link(f"L-{n}", site(f"S{n}A"), site(f"S{n}B", 47.2))
    assert done("check_network", {}).state == Job.State.DONE
    before = list(Finding.objects.order_by("pk").values())
    assert before
    mira = person("mira")
    monkeypatch.setattr(running, "WRITE_PROGRESS_EVERY_S", 0.0)

    compute = working.compute

    def cancelled_on_the_way(*args: Any) -> Any:
        jobs.cancel(Job.objects.get(state="running"), by=mira)
        return compute(*args)

    monkeypatch.setattr(working, "compute", cancelled_on_the_way)
    job = done("check_network", {"as_of": "2040-01-01"})
    assert (job.state, job.error) == (Job.State.CANCELLED, "Cancelled by mira.")
    assert list(Finding.objects.order_by("pk").values()) == before
    assert Check.objects.count() == 1


def test_a_check_that_fails_leaves_the_findings_as_they_were_and_says_why(
    register: Register, done: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    register.link("L-1", site("S1"), site("S2", 47.2))
    done("check_network", {})
    before = list(Finding.objects.order_by("pk").values())

    def fail(*args: Any, **kwargs: Any) -> Any:
        raise ZeroDivisionError("float division by zero")

    monkeypatch.setattr(working, "compute", fail)
    job = done("check_network", {})
    assert (job.state, job.error) == (Job.State.FAILED, "ZeroDivisionError: float division by zero")
    assert list(Finding.objects.order_by("pk").values()) == before


def test_the_night_has_its_order(register: Register, monkeypatch: pytest.MonkeyPatch) -> None:
    """Reservations lapse before the network is checked; reminders go out every hour."""
    register.link("L-1", site("S1"), site("S2", 47.2), reserved_until=dt.date(2020, 1, 1))
    asked = [job.kind for job in jobs.submit_due(dt.datetime(2026, 6, 1, 0, 30, tzinfo=dt.UTC))]
    assert set(asked) == {"lapse_reservations", "send_reminders"}
    asked = [job.kind for job in jobs.submit_due(dt.datetime(2026, 6, 1, 2, 10, tzinfo=dt.UTC))]
    assert set(asked) == {"lapse_reservations", "send_reminders", "check_network"}
    kinds = Job.objects.values_list("kind", flat=True)
    assert sorted(kinds) == [
        "check_link",
        "check_network",
        "lapse_reservations",
        "send_reminders",
        "send_reminders",
    ]
