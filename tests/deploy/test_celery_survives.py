"""Jobs survive a worker that is killed and a broker that is away: real processes, a real Redis."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from deploy.bootstrap.running import ROOT
from sites.models import Job, Person
from sites.services import jobs
from tests.conftest import Worker, _database_url
from tests.deploy import slow_jobs

pytestmark = pytest.mark.redis
PATIENCE_S = 60
LEASE_S = 2.0
SUBMIT = """
import django, sys, time
django.setup()
from sites.services import jobs
import tests.deploy.slow_jobs
begun = time.monotonic()
print(jobs.submit("slow", {"steps": 1, "diary": sys.argv[1]}).pk, time.monotonic() - begun)
"""


@pytest.fixture
def workers(short_lease: None, start_worker: Callable[[], Worker]) -> Callable[[], Worker]:
    return start_worker


@pytest.fixture
def short_lease(monkeypatch: pytest.MonkeyPatch, settings: Any) -> None:
    """Workers that a test starts lose a job after LEASE_S without a sign of life, and know the slow kind."""
    settings.JOBS_LEASE_S = LEASE_S
    monkeypatch.setenv("JOBS_LEASE_S", str(LEASE_S))
    monkeypatch.setenv("CELERY_IMPORTS", slow_jobs.__name__)


@pytest.fixture
def diary(tmp_path: Path) -> Path:
    return tmp_path / "diary"


def wait_for(question: Callable[[], bool], *, sweeping: bool = False) -> None:
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        if sweeping:
            jobs.sweep()
        if question():
            return
        time.sleep(0.2)
    raise AssertionError(f"not within {PATIENCE_S} s; jobs: {list(Job.objects.values())}")


def is_(state: str, job: Job) -> Callable[[], bool]:
    def question() -> bool:
        job.refresh_from_db()
        return job.state == state

    return question


def in_the_middle(job: Job) -> Callable[[], bool]:
    def question() -> bool:
        job.refresh_from_db()
        return job.state == "running" and job.steps_done >= 5

    return question


def kill_the_worker(worker: Worker, job: Job) -> None:
    worker.kill()


def kill_the_process_at_work(worker: Worker, job: Job) -> None:
    """Only the child that does the job: the worker starts another and gets the message again."""
    os.kill(int(job.claimed_by.split(":")[1]), signal.SIGKILL)


@pytest.mark.parametrize("kill", [kill_the_worker, kill_the_process_at_work])
def test_what_a_killed_worker_had_begun_is_done_by_the_second_attempt(
    workers: Callable[[], Worker], diary: Path, kill: Callable[[Worker, Job], None]
) -> None:
    worker = workers()
    job = jobs.submit("slow", {"steps": 30, "diary": str(diary)})
    wait_for(in_the_middle(job))
    kill(worker, job)
    if kill is kill_the_worker:
        workers()
    wait_for(is_("done", job), sweeping=True)
    assert (job.attempts, job.result, job.steps_done) == (2, {"steps": 30}, 30)
    assert diary.read_text().split() == ["begun", "begun", "ended"]
    # Whatever the broker still delivers finds the job done.
    time.sleep(2 * LEASE_S)
    jobs.sweep()
    assert diary.read_text().split() == ["begun", "begun", "ended"]


def test_a_long_job_is_not_taken_from_a_worker_that_is_alive(
    workers: Callable[[], Worker], diary: Path
) -> None:
    workers()
    workers()
    job = jobs.submit("slow", {"steps": int(3 * LEASE_S / slow_jobs.STEP_S), "diary": str(diary)})
    wait_for(is_("done", job), sweeping=True)
    assert job.attempts == 1
    assert diary.read_text().split() == ["begun", "ended"]


def test_a_job_is_cancelled_in_the_worker(
    workers: Callable[[], Worker], diary: Path, transactional_db: None
) -> None:
    workers()
    job = jobs.submit("slow", {"steps": 200, "diary": str(diary)})
    wait_for(in_the_middle(job))
    jobs.cancel(job, by=Person.objects.create_user("mira", first_name="Mira", last_name="Holt"))
    wait_for(is_("cancelled", job))
    assert job.error == "Cancelled by Mira Holt."
    assert diary.read_text().split() == ["begun"]


@pytest.fixture
def closed_port() -> Iterator[int]:
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))  # nobody listens, and nobody else gets the port
        yield held.getsockname()[1]


@pytest.fixture
def silent_port() -> Iterator[int]:
    with socket.socket() as silent:
        silent.bind(("127.0.0.1", 0))
        silent.listen()  # connections are taken and never answered
        yield silent.getsockname()[1]


@pytest.mark.parametrize("broker", ["closed_port", "silent_port"])
def test_without_a_broker_the_job_waits_and_the_sweeper_sends_it(
    workers: Callable[[], Worker], diary: Path, broker: str, request: pytest.FixtureRequest
) -> None:
    port = request.getfixturevalue(broker)
    asked = subprocess.run(
        [sys.executable, "-c", SUBMIT, str(diary)],
        cwd=ROOT,
        env={
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "deploy.settings.test",
            "DATABASE_URL": _database_url(),
            "JOBS_RUN": "worker",
            "REDIS_URL": f"redis://127.0.0.1:{port}/0",
        },
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )
    assert asked.returncode == 0, asked.stderr
    job_id, seconds = asked.stdout.split()
    assert float(seconds) < 10, asked.stderr
    job = Job.objects.get(pk=job_id)
    assert (job.state, job.lease_until, job.attempts) == ("waiting", None, 0)
    workers()
    assert jobs.sweep().offered == 1
    wait_for(is_("done", job))
    assert job.attempts == 1
    assert diary.read_text().split() == ["begun", "ended"]
