"""Reservations lapse by themselves after their last day, and the change record says why."""

from __future__ import annotations

import datetime as dt

import pytest

from sites.models import ChangeRecord, Job
from sites.services import jobs, record
from spectrum.models import Link
from spectrum.services import links
from spectrum.services.reservations import lapse_expired
from tests.made import TESTS, Register, site

pytestmark = pytest.mark.django_db
TODAY = dt.date(2026, 6, 1)
YESTERDAY = TODAY - dt.timedelta(days=1)


@pytest.fixture
def register() -> Register:
    return Register()


@pytest.mark.parametrize(
    ("status", "reserved_until", "expected"),
    [
        ("planned", YESTERDAY, "lapsed"),
        ("filed", YESTERDAY, "lapsed"),
        ("planned", TODAY, "planned"),  # the last day is still a day of the reservation
        ("planned", None, "planned"),
        ("granted", YESTERDAY, "granted"),
        ("on_air", YESTERDAY, "on_air"),
        ("retired", YESTERDAY, "retired"),
    ],
)
def test_only_what_holds_a_pair_beyond_its_day_lapses(
    register: Register, status: str, reserved_until: dt.date | None, expected: str
) -> None:
    link = register.link("L-1", site("S1"), site("S2", 47.2), status=status, reserved_until=reserved_until)
    lapsed = lapse_expired(TODAY)
    link.refresh_from_db()
    assert link.status == expected
    assert lapsed.codes == (["L-1"] if expected == "lapsed" else [])


def test_it_is_recorded_and_once(register: Register) -> None:
    register.link("L-1", site("S1"), site("S2", 47.2), reserved_until=YESTERDAY)
    lapse_expired(TODAY)
    assert lapse_expired(TODAY).codes == []
    (entry,) = ChangeRecord.objects.filter(object_type="spectrum.link", action="change")
    assert entry.by_name == "reservation lapse"
    assert entry.by is None
    assert entry.reason == "The reservation ended on 2026-05-31."
    assert entry.changes == {"status": ["planned", "lapsed"]}


def test_one_that_cannot_be_written_does_not_keep_the_others(
    register: Register, monkeypatch: pytest.MonkeyPatch
) -> None:
    a, b = site("S1"), site("S2", 47.2)
    register.link("L-1", a, b, reserved_until=YESTERDAY)
    register.link("L-2", a, b, reserved_until=YESTERDAY)
    set_status = links.set_status

    def somebody_is_faster(link: Link, status: str, **how: object) -> Link:
        if link.code == "L-1":
            other = Link.objects.get(pk=link.pk)
            other.name = "renamed meanwhile"
            record.change(other, by=TESTS)
        return set_status(link, status, **how)  # type: ignore[arg-type]

    monkeypatch.setattr(links, "set_status", somebody_is_faster)
    lapsed = lapse_expired(TODAY)
    assert lapsed.codes == ["L-2"]
    assert list(lapsed.failed) == ["L-1"]
    assert "was changed by tests" in lapsed.failed["L-1"]
    monkeypatch.undo()
    assert lapse_expired(TODAY).codes == ["L-1"]


def test_the_job_does_it(register: Register, django_capture_on_commit_callbacks: object) -> None:
    past = dt.date(2020, 1, 1)
    register.link("L-1", site("S1"), site("S2", 47.2), reserved_until=past)
    with django_capture_on_commit_callbacks(execute=True):  # type: ignore[operator]
        job = jobs.submit("lapse_reservations", {})
    job.refresh_from_db()
    assert (job.state, job.result) == (Job.State.DONE, {"lapsed": ["L-1"], "failed": {}})
