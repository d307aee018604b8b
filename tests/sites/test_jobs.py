"""Jobs: asked for after the commit, claimed once, ended as what they were, picked up when left lying."""

from __future__ import annotations

import datetime as dt
import threading
import time
import uuid
from collections.abc import Callable
from typing import Any, TypeVar

import pytest
import time_machine
from django.db import OperationalError, connections, transaction
from django.utils import timezone

from sites.errors import RegisterError
from sites.models import Job, Person
from sites.services import jobs
from sites.services.jobs import registry, running, submitting, sweeping

pytestmark = pytest.mark.django_db(transaction=True)
T = TypeVar("T")
LONG_AGO = dt.datetime(2000, 1, 1, tzinfo=dt.UTC)


class Work:
    """A handler that tells what it was given and does what a test wants."""

    def __init__(self) -> None:
        self.seen: list[jobs.Payload] = []
        self.does: Callable[[jobs.Progress], Any] = lambda progress: None

    def __call__(self, payload: jobs.Payload, progress: jobs.Progress) -> jobs.Result:
        self.seen.append(payload)
        self.does(progress)
        return {"times": len(self.seen)}


@pytest.fixture
def work(monkeypatch: pytest.MonkeyPatch) -> Work:
    registry.scheduled()  # has the handlers of the apps loaded before the table is put aside
    work = Work()
    monkeypatch.setattr(registry, "_handlers", {"test": registry.Handler("test", work)})
    return work


@pytest.fixture
def unoffered(monkeypatch: pytest.MonkeyPatch) -> list[uuid.UUID]:
    """Nobody runs jobs; what is offered is noted."""
    offered: list[uuid.UUID] = []

    def note(job_id: uuid.UUID) -> bool:
        offered.append(job_id)
        return True

    monkeypatch.setattr(submitting, "offer", note)
    monkeypatch.setattr(sweeping, "offer", note)
    return offered


@pytest.fixture
def person() -> Person:
    return Person.objects.create_user("mira", first_name="Mira", last_name="Holt")


def state_of(job: Job) -> str:
    job.refresh_from_db()
    return job.state


class TestAskingForAJob:
    def test_the_work_is_done_after_the_commit_and_not_before(self, work: Work) -> None:
        with transaction.atomic():
            job = jobs.submit("test", {"link": 7})
            assert work.seen == []
        assert work.seen == [{"link": 7}]
        assert state_of(job) == "done"
        assert job.result == {"times": 1}
        assert job.attempts == 1
        assert job.started_at is not None
        assert job.ended_at is not None
        assert job.started_at <= job.ended_at

    def test_a_transaction_that_is_rolled_back_leaves_no_job(self, work: Work) -> None:
        with pytest.raises(RuntimeError), transaction.atomic():
            jobs.submit("test", {})
            raise RuntimeError
        assert work.seen == []
        assert not Job.objects.exists()

    def test_an_unknown_kind_is_refused_at_once(self, work: Work) -> None:
        with pytest.raises(KeyError, match=r"'tset'; known kinds: test"):
            jobs.submit("tset", {})
        assert not Job.objects.exists()

    def test_the_same_work_waits_once(self, work: Work, unoffered: list[uuid.UUID]) -> None:
        first = jobs.submit("test", {}, same_as="link 7")
        assert jobs.submit("test", {}, same_as="link 7") == first
        other = jobs.submit("test", {}, same_as="link 8")
        assert Job.objects.count() == 2
        assert unoffered == [first.pk, other.pk]

    def test_what_has_begun_does_not_count_as_waiting(self, work: Work, unoffered: list[uuid.UUID]) -> None:
        first = jobs.submit("test", {}, same_as="link 7")
        Job.objects.update(state="running")
        assert jobs.submit("test", {}, same_as="link 7") != first

    def test_many_requests_at_once_make_one_row(self, work: Work, unoffered: list[uuid.UUID]) -> None:
        found = in_threads(8, lambda: jobs.submit("test", {}, same_as="link 7").pk)
        assert len(set(found)) == 1
        assert Job.objects.count() == 1

    def test_once_means_once_even_when_it_is_done(self, work: Work) -> None:
        found = in_threads(8, lambda: jobs.submit_once("test", {}, name="test 2026-03-01").pk)
        jobs.submit_once("test", {}, name="test 2026-03-01")
        assert len(set(found)) == 1
        assert len(work.seen) == 1


class TestDoingAJob:
    def test_running_a_job_twice_changes_nothing(self, work: Work) -> None:
        job = jobs.submit("test", {})
        before = Job.objects.values().get()
        assert jobs.run_job(job.pk) is False
        assert Job.objects.values().get() == before
        assert len(work.seen) == 1

    def test_of_many_workers_one_gets_it(self, work: Work, unoffered: list[uuid.UUID]) -> None:
        job = jobs.submit("test", {})
        assert sorted(in_threads(8, lambda: jobs.run_job(job.pk))) == [False] * 7 + [True]
        assert len(work.seen) == 1

    def test_an_error_ends_it_as_failed_with_the_reason(self, work: Work) -> None:
        def fail(progress: jobs.Progress) -> None:
            raise RegisterError("Link 7 has no stations.")

        work.does = fail
        job = jobs.submit("test", {})
        assert (state_of(job), job.error, job.result) == ("failed", "Link 7 has no stations.", {})

    def test_an_unforeseen_error_is_named_and_logged(
        self, work: Work, caplog: pytest.LogCaptureFixture
    ) -> None:
        work.does = lambda progress: int("seven")
        job = jobs.submit("test", {})
        assert (state_of(job), job.error) == (
            "failed",
            "ValueError: invalid literal for int() with base 10: 'seven'",
        )
        assert "invalid literal" in caplog.text

    def test_when_the_database_failed_it_is_tried_again(self, work: Work) -> None:
        def fail(progress: jobs.Progress) -> None:
            raise OperationalError("the server closed the connection")

        work.does = fail
        job = jobs.submit("test", {})
        assert state_of(job) == "running"
        work.does = lambda progress: None
        Job.objects.update(lease_until=LONG_AGO)
        jobs.sweep()
        assert (state_of(job), job.attempts, job.error) == ("done", 2, "")


class TestProgress:
    def test_it_is_seen_and_renews_the_lease(self, work: Work) -> None:
        rows: list[Any] = []

        def steps(progress: jobs.Progress) -> None:
            Job.objects.update(lease_until=LONG_AGO)
            progress.step(3, 10)
            rows.append(Job.objects.values("steps_done", "steps_total", "lease_until").get())

        work.does = steps
        before = timezone.now()
        jobs.submit("test", {})
        (row,) = rows
        assert (row["steps_done"], row["steps_total"]) == (3, 10)
        assert row["lease_until"] > before + running.lease() - dt.timedelta(seconds=1)

    def test_it_is_written_at_most_twice_a_second(
        self, work: Work, django_assert_max_num_queries: Any
    ) -> None:
        def steps(progress: jobs.Progress) -> None:
            for done in range(1001):
                progress.step(done, 1000)

        work.does = steps
        with django_assert_max_num_queries(20):
            job = jobs.submit("test", {})
        job.refresh_from_db()
        assert job.steps_done == 1000

    def test_a_worker_that_lost_its_job_stops_and_writes_nothing(self, work: Work) -> None:
        def lose(progress: jobs.Progress) -> None:
            Job.objects.update(claimed_by="another worker")
            progress.step(1, 2)
            pytest.fail("the handler went on")

        work.does = lose
        job = jobs.submit("test", {})
        assert (state_of(job), job.claimed_by, job.steps_done) == ("running", "another worker", 0)

    def test_a_worker_that_lost_its_job_and_never_asks_cannot_write_an_end(self, work: Work) -> None:
        work.does = lambda progress: Job.objects.update(claimed_by="another worker")
        job = jobs.submit("test", {})
        assert (state_of(job), job.result) == ("running", {})


class TestCancelling:
    def test_a_waiting_job_ends_at_once(self, work: Work, unoffered: list[uuid.UUID], person: Person) -> None:
        job = jobs.submit("test", {})
        jobs.cancel(job, by=person)
        assert (job.state, job.error) == ("cancelled", "Cancelled by Mira Holt.")
        assert jobs.run_job(job.pk) is False
        assert work.seen == []

    def test_a_running_job_stops_at_its_next_step(self, work: Work, person: Person) -> None:
        def steps(progress: jobs.Progress) -> None:
            progress.step(1, 3)
            jobs.cancel(Job.objects.get(), by=person)
            progress.step(3, 3)
            pytest.fail("the handler went on")

        work.does = steps
        job = jobs.submit("test", {})
        assert (state_of(job), job.error) == ("cancelled", "Cancelled by Mira Holt.")
        assert job.ended_at is not None

    def test_what_has_ended_cannot_be_cancelled(self, work: Work, person: Person) -> None:
        job = jobs.submit("test", {})
        with pytest.raises(RegisterError, match=r"has ended already \(done\)"):
            jobs.cancel(job, by=person)
        assert state_of(job) == "done"


class TestSweeping:
    def left_by_a_dead_worker(self, **fields: object) -> Job:
        values = {"attempts": 1, "claimed_by": "dead", "lease_until": LONG_AGO, **fields}
        return Job.objects.create(kind="test", state="running", **values)

    def test_what_a_dead_worker_left_is_done_by_the_next(self, work: Work) -> None:
        job = self.left_by_a_dead_worker()
        swept = jobs.sweep()
        assert (swept.taken_back, swept.given_up, swept.offered) == (1, 0, 1)
        assert (state_of(job), job.attempts) == ("done", 2)

    def test_a_worker_that_is_alive_keeps_its_job(self, work: Work) -> None:
        job = self.left_by_a_dead_worker(lease_until=timezone.now() + dt.timedelta(seconds=30))
        assert jobs.sweep() == sweeping.Swept()
        assert state_of(job) == "running"

    def test_after_three_attempts_it_is_given_up_with_the_reason(self, work: Work) -> None:
        job = self.left_by_a_dead_worker(attempts=3)
        assert jobs.sweep().given_up == 1
        assert state_of(job) == "failed"
        assert job.error.startswith("Tried 3 times; each time the worker ended")
        assert work.seen == []

    def test_what_was_cancelled_meanwhile_stays_cancelled(self, work: Work) -> None:
        job = self.left_by_a_dead_worker(cancel_asked=True, error="Cancelled by Mira Holt.")
        jobs.sweep()
        assert (state_of(job), job.error) == ("cancelled", "Cancelled by Mira Holt.")

    def test_it_gives_way_to_the_same_work_asked_for_later(
        self, work: Work, unoffered: list[uuid.UUID]
    ) -> None:
        old = self.left_by_a_dead_worker(same_as="link 7")
        new = jobs.submit("test", {}, same_as="link 7")
        jobs.sweep()
        assert state_of(old) == "cancelled"
        assert "newer job" in old.error
        assert state_of(new) == "waiting"

    def test_what_waits_is_offered_once_per_lease(
        self, work: Work, settings: Any, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        settings.JOBS_RUN = "worker"
        sent: list[uuid.UUID] = []

        def send(job_id: uuid.UUID) -> bool:
            sent.append(job_id)
            return True

        monkeypatch.setattr(submitting, "_send", send)
        job = jobs.submit("test", {})
        jobs.sweep()
        assert sent == [job.pk]
        Job.objects.update(lease_until=LONG_AGO)
        jobs.sweep()
        assert sent == [job.pk, job.pk]

    def test_ended_jobs_are_forgotten_after_a_while(self, work: Work) -> None:
        jobs.submit("test", {})
        old = jobs.submit("test", {})
        Job.objects.filter(pk=old.pk).update(ended_at=LONG_AGO)
        assert jobs.forget_ended_jobs() == 1
        assert Job.objects.count() == 1


class TestWhatIsDueByTheClock:
    @pytest.fixture(autouse=True)
    def nightly(self, work: Work) -> None:
        times = (dt.time(2, 10), dt.time(14, 10))
        registry._handlers["nightly"] = registry.Handler("nightly", work, times)

    @staticmethod
    def at(clock: str) -> dt.datetime:
        return dt.datetime.fromisoformat(f"2026-03-01T{clock}:00+00:00")

    def test_nothing_before_its_time(self, work: Work) -> None:
        assert jobs.submit_due(self.at("02:09")) == []

    def test_once_per_time_whatever_is_restarted(self, work: Work) -> None:
        for clock in ("02:10", "02:11", "09:00", "14:09"):
            jobs.submit_due(self.at(clock))
        assert len(work.seen) == 1
        jobs.submit_due(self.at("23:59"))
        assert len(work.seen) == 2
        assert set(Job.objects.values_list("same_as", flat=True)) == {
            "nightly 2026-03-01T02:10Z",
            "nightly 2026-03-01T14:10Z",
        }

    def test_two_schedulers_at_once_make_one_job(self, work: Work) -> None:
        in_threads(6, lambda: jobs.submit_due(self.at("02:10")))
        assert Job.objects.count() == 1
        assert len(work.seen) == 1

    def test_a_tick_asks_and_sweeps(self, work: Work) -> None:
        with time_machine.travel(self.at("03:00"), tick=False):
            jobs.tick()
        assert Job.objects.get().kind == "nightly"


class TestThreads:
    @pytest.fixture(autouse=True)
    def threads(self, settings: Any) -> None:
        settings.JOBS_RUN = "thread"

    def test_the_caller_does_not_wait(self, work: Work) -> None:
        go_on = threading.Event()
        work.does = lambda progress: go_on.wait(10)
        job = jobs.submit("test", {})
        assert state_of(job) in ("waiting", "running")
        go_on.set()
        assert eventually(lambda: state_of(job) == "done")

    def test_a_short_job_does_not_wait_for_a_long_one(self, work: Work) -> None:
        begun, go_on = threading.Event(), threading.Event()

        def long_work(progress: object) -> bool:
            begun.set()
            return go_on.wait(10)

        work.does = long_work
        long = jobs.submit("test", {})
        assert begun.wait(10)  # a job is marked as running a moment before its work begins
        work.does = lambda progress: None
        short = jobs.submit("test", {})
        assert eventually(lambda: state_of(short) == "done")
        assert state_of(long) == "running"
        go_on.set()
        assert eventually(lambda: state_of(long) == "done")

    def test_every_one_of_many_is_done_once(self, work: Work) -> None:
        asked = [jobs.submit("test", {"n": n}) for n in range(30)]
        assert eventually(lambda: Job.objects.filter(state="done").count() == len(asked))
        assert sorted(each["n"] for each in work.seen) == list(range(30))


def in_threads(count: int, act: Callable[[], T]) -> list[T]:
    """What ``act`` returned on ``count`` threads that start at the same moment."""
    start = threading.Barrier(count)
    found: list[T] = []
    errors: list[Exception] = []

    def one() -> None:
        try:
            start.wait()
            found.append(act())
        except Exception as error:
            errors.append(error)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=one) for _ in range(count)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert errors == []
    return found


def eventually(question: Callable[[], bool], within_s: float = 10) -> bool:
    end = time.monotonic() + within_s
    while time.monotonic() < end:
        if question():
            return True
        time.sleep(0.02)
    return False
