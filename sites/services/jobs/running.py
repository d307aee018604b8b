"""Doing one job: claim it, work, say how it ended.

Whoever runs ``run_job`` first sets a lease on the row by a conditional update
(state is "waiting" → "running"); everybody else sees no row changed and goes
away. Every later write to the row names the claim, so a worker that lost its
job can neither report progress nor an end.

Clocks. Leases are compared with the database's clock (UTC), so the clocks of
the workers do not matter. When the database's clock jumps forward by more than
a lease, a job that is still being worked on looks abandoned and is given to a
second worker; the first one notices at its next step and stops. When it jumps
back, the job of a dead worker is picked up later by as much as the jump.
"""

from __future__ import annotations

import datetime as dt
import logging
import os
import socket
import time
import uuid
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import InterfaceError, OperationalError
from django.db.models import F
from django.db.models.functions import Now

from sites.errors import RegisterError
from sites.models import Job, Person
from sites.reading import neutral
from sites.saying import sentences_of
from sites.sentences import joined, sentence, sentences_in
from sites.services.acts import own_act
from sites.words import gettext_noop as _

from .registry import handler_of

MAX_ATTEMPTS = 3
WRITE_PROGRESS_EVERY_S = 0.5
logger = logging.getLogger(__name__)


class JobCancelled(Exception):  # noqa: N818 - a wish, not an error
    """Somebody asked for the job to be cancelled; the handler stops here."""


class LeaseLost(Exception):  # noqa: N818
    """The job now belongs to another worker; this one must not write anything any more."""


class ClaimedJob:
    """One attempt at a job: what its handler sees of it."""

    def __init__(self, job: Job, claim: str) -> None:
        self._job, self._claim = job, claim
        self._total: int | None = None
        self._written_at = 0.0

    @property
    def job_id(self) -> uuid.UUID:
        return self._job.id

    @property
    def asked_by(self) -> Person | None:
        return self._job.asked_by

    def step(self, done: int, total: int) -> None:
        """Say that ``done`` of ``total`` steps are done, and keep the job for another lease.

        Written at most every half second, except for a new total and the last
        step. Raises JobCancelled or LeaseLost when the handler has to stop.
        """
        now = time.monotonic()
        recently = now - self._written_at < WRITE_PROGRESS_EVERY_S
        if recently and total == self._total and done < total:
            return
        self._written_at, self._total = now, total
        mine = Job.objects.filter(pk=self._job.pk, state=Job.State.RUNNING, claimed_by=self._claim)
        if not mine.update(steps_done=done, steps_total=total, lease_until=Now() + lease()):
            raise LeaseLost(f"{self._job.kind} {self._job.pk} was given to another worker.")
        if mine.filter(cancel_asked=True).exists():
            raise JobCancelled

    def hold(self, seconds: float) -> None:
        """Keep the job for a lease and this much more: what follows is one transaction that cannot say how far it is.

        Raises LeaseLost. A job whose worker dies meanwhile waits that much longer until it is offered again.
        """
        mine = Job.objects.filter(pk=self._job.pk, state=Job.State.RUNNING, claimed_by=self._claim)
        if not mine.update(lease_until=Now() + lease() + dt.timedelta(seconds=seconds)):
            raise LeaseLost(f"{self._job.kind} {self._job.pk} was given to another worker.")

    def end(self, state: Job.State, **fields: Any) -> bool:
        """Write how the job ended; False when it is no longer ours."""
        mine = Job.objects.filter(pk=self._job.pk, state=Job.State.RUNNING, claimed_by=self._claim)
        return bool(mine.update(state=state, ended_at=Now(), lease_until=None, **fields))

    def put_back(self, error: str) -> bool:
        """Let the sweeper offer the job again once the lease is over; False when it is no longer ours."""
        mine = Job.objects.filter(pk=self._job.pk, state=Job.State.RUNNING, claimed_by=self._claim)
        return bool(mine.update(**told(error)))


def told(why: str) -> dict[str, Any]:
    """What is stored of the reason for which a job ended or waits: its English, and the sentence it was."""
    return {"error": why, "words": {"error": sentences_in(why)}}


def lease() -> dt.timedelta:
    """How long a worker keeps a job without a sign of life."""
    return dt.timedelta(seconds=settings.JOBS_LEASE_S)


def run_job(job_id: uuid.UUID | str) -> bool:
    """Do a waiting job; the one way, whoever calls it. False when it was not there to be claimed.

    An error of the work ends the job as failed, with the reason on its row. When
    the database went away in the middle the job is tried again, up to
    MAX_ATTEMPTS times.
    """
    claim = f"{socket.gethostname()[:40]}:{os.getpid()}:{uuid.uuid4().hex[:12]}"
    waiting = Job.objects.filter(pk=job_id, state=Job.State.WAITING)
    if not waiting.update(
        state=Job.State.RUNNING,
        claimed_by=claim,
        attempts=F("attempts") + 1,
        started_at=Now(),
        lease_until=Now() + lease(),
        steps_done=0,
        steps_total=0,
        error="",
        words={},
    ):
        return False
    job = Job.objects.select_related("asked_by").get(pk=job_id)
    attempt = ClaimedJob(job, claim)
    try:
        with neutral(), own_act():  # what a job leaves behind does not depend on who asked for it
            result = handler_of(job.kind).work(job.payload, attempt) or {}
    except JobCancelled:
        attempt.end(Job.State.CANCELLED)
    except LeaseLost as lost:
        logger.warning("%s This worker stopped.", lost)
    except (OperationalError, InterfaceError) as error:
        logger.exception("job %s %s: the database failed", job.kind, job.pk)
        attempt.put_back(sentence(_("The database failed: {error}"), error=str(error)))
    except Exception as error:
        logger.exception("job %s %s failed", job.kind, job.pk)
        attempt.end(Job.State.FAILED, **told(_reason(error)))
    else:
        attempt.end(Job.State.DONE, result=result, error="", words={"result": sentences_in(result)})
    return True


def _reason(error: Exception) -> str:
    if isinstance(error, RegisterError):
        return error.written
    if isinstance(error, ValidationError):
        return joined(" ", sentences_of(error))
    return f"{type(error).__name__}: {error}"
