"""Asking for a job, offering it to whoever runs jobs, and calling it off."""

from __future__ import annotations

import logging
import time
import uuid
from functools import partial

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models.functions import Now
from django.utils.translation import gettext
from kombu.exceptions import OperationalError as BrokerError

from sites.errors import RegisterError
from sites.models import Job, Person
from sites.sentences import sentence
from sites.words import gettext_noop as _

from . import in_process
from .registry import Payload, handler_of
from .running import lease, run_job, told

_ONCE = uuid.UUID("6f1c1f0e-5b0e-4a8e-9c55-7d1f2a3f8c41")
_TRIES = 5
# A broker that did not answer is left alone for so long, so that not every request waits for it.
LEAVE_ALONE_S = 20.0
_away_until = 0.0
logger = logging.getLogger(__name__)


def submit(kind: str, payload: Payload, *, by: Person | None = None, same_as: str = "") -> Job:
    """Ask for a job; it is offered to a worker after the transaction commits.

    With ``same_as`` (at most 80 characters) a job of that name that still waits
    is returned instead of a second one; until this transaction ends nobody can
    start it, so that it sees what this transaction wrote. A broker that is down
    changes nothing for the caller: the row waits and the sweeper offers it later.
    KeyError for a kind that no handler does.
    """
    handler_of(kind)
    job = Job(kind=kind, payload=payload, asked_by=by, same_as=same_as)
    if not same_as:
        job.save(force_insert=True)
        return _offer_on_commit(job)
    for _try in range(_TRIES):
        with transaction.atomic():
            same = Job.objects.select_for_update().filter(same_as=same_as, state=Job.State.WAITING).first()
            if same is not None:
                return same
        try:
            with transaction.atomic():
                job.save(force_insert=True)
        except IntegrityError:
            continue  # another request was faster; take its row, unless a worker has it already
        return _offer_on_commit(job)
    raise RegisterError(
        gettext("The job {name} is being asked for from many sides at once. Try again.").format(
            name=repr(same_as)
        )
    )


def submit_once(kind: str, payload: Payload, *, name: str) -> Job:
    """Ask for a job that is done once and for all under this name, whatever became of it.

    The row's key is made of the name, so two schedulers at the same moment make one job.
    """
    handler_of(kind)
    job, is_new = Job.objects.get_or_create(
        id=uuid.uuid5(_ONCE, name), defaults={"kind": kind, "payload": payload, "same_as": name}
    )
    return _offer_on_commit(job) if is_new else job


def cancel(job: Job, *, by: Person) -> Job:
    """Call a job off: at once when it still waits, else at its next step.

    RegisterError when it has ended already.
    """
    why = told(sentence(_("Cancelled by {person}."), person=str(by)))
    this = Job.objects.filter(pk=job.pk)
    if not this.filter(state=Job.State.WAITING).update(
        state=Job.State.CANCELLED, cancel_asked=True, ended_at=Now(), lease_until=None, **why
    ) and not this.filter(state=Job.State.RUNNING).update(cancel_asked=True, **why):
        job.refresh_from_db()
        raise RegisterError(
            gettext("This job has ended already ({state}); there is nothing to cancel.").format(
                state=job.get_state_display()
            )
        )
    job.refresh_from_db()
    return job


def offer(job_id: uuid.UUID) -> bool:
    """Give a waiting job to whoever runs jobs here; False when the broker cannot be reached.

    settings.JOBS_RUN says who: "thread" (this process), "worker" (Celery) or
    "inline" (at once, before this returns). The row is marked as offered for one
    lease, so that the sweeper does not fill a busy queue with copies of it, which
    are harmless but not free.
    """
    if settings.JOBS_RUN == "inline":
        run_job(job_id)
        return True
    if settings.JOBS_RUN == "thread":
        in_process.enqueue(job_id)
    elif not _send(job_id):
        return False
    Job.objects.filter(pk=job_id, state=Job.State.WAITING).update(lease_until=Now() + lease())
    return True


def _offer_on_commit(job: Job) -> Job:
    transaction.on_commit(partial(offer, job.pk))
    return job


def _send(job_id: uuid.UUID) -> bool:
    global _away_until  # noqa: PLW0603 - one broker, one process
    from sites.tasks import run_job as task

    if time.monotonic() < _away_until:
        return False
    try:
        task.apply_async((str(job_id),), retry=False)
    except (BrokerError, OSError) as error:
        logger.warning("The broker cannot be reached (%s); job %s waits for the sweeper.", error, job_id)
        _away_until = time.monotonic() + LEAVE_ALONE_S
        return False
    return True
