"""A job that a real Celery worker does, through a real Redis, on the database of the tests."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable

import pytest
from django.utils import timezone

from sites.models import Job
from sites.services import jobs
from tests.conftest import Worker

pytestmark = pytest.mark.redis
PATIENCE_S = 30


def ended(job: Job) -> Job:
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        job.refresh_from_db()
        if job.ended_at is not None:
            return job
        time.sleep(0.1)
    raise AssertionError(f"{job} after {PATIENCE_S} s")


@pytest.mark.parametrize("time_round", [1, 2])
def test_a_worker_does_what_a_request_asked_for(start_worker: Callable[[], Worker], time_round: int) -> None:
    old = Job.objects.create(
        kind="forget_ended_jobs",
        state=Job.State.DONE,
        ended_at=timezone.now() - dt.timedelta(days=400),
    )
    worker = start_worker()
    job = ended(jobs.submit("forget_ended_jobs", {}))
    assert job.state == Job.State.DONE, worker.output()
    assert job.result == {"removed": 1}
    assert not Job.objects.filter(pk=old.pk).exists()


def test_a_job_asked_for_before_there_was_a_worker_is_done_by_the_next_one(
    start_worker: Callable[[], Worker],
) -> None:
    job = jobs.submit("forget_ended_jobs", {})
    time.sleep(0.5)
    job.refresh_from_db()
    assert job.state == Job.State.WAITING
    start_worker()
    assert ended(job).state == Job.State.DONE
