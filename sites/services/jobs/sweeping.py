"""What has to happen every minute: pick up what dead workers left, offer what waits, ask for
what is due, seal the change record."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.db.models.functions import Now
from django.utils import timezone

from sites.models import Job
from sites.sentences import joined, sentence, sentence_of
from sites.services import sealing
from sites.words import gettext_noop as _
from sites.words import ngettext_lazy

from .registry import scheduled
from .running import MAX_ATTEMPTS, told
from .submitting import offer, submit_once

KEEP_ENDED = dt.timedelta(days=90)


@dataclass
class Swept:
    """How many jobs were taken back from dead workers, given up, and offered again."""

    taken_back: int = 0
    given_up: int = 0
    offered: int = 0


def tick() -> Swept:
    """One round of the scheduler (deploy/settings/base.py says how often)."""
    submit_due()
    swept = sweep()
    sealing.seal(most=sealing.AT_A_TICK)
    return swept


def submit_due(now: dt.datetime | None = None) -> list[Job]:
    """Ask for the jobs that are due by the clock, each once per time of the day.

    A scheduler that was off when a job was due asks for it when it is back on
    the same day (UTC). Any number of schedulers may run.
    """
    now = now or timezone.now()
    due = [(each.kind, slot) for each in scheduled() if (slot := each.latest_due(now))]
    return [submit_once(kind, {}, name=f"{kind} {slot:%Y-%m-%dT%H:%MZ}") for kind, slot in due]


def sweep() -> Swept:
    """Take back running jobs whose lease ran out, then offer what waits and is not on offer."""
    swept = Swept()
    for job in Job.objects.filter(state=Job.State.RUNNING, lease_until__lt=Now()):
        if _take_back(job):
            swept.taken_back += 1
        else:
            swept.given_up += 1
    not_offered = Q(lease_until__isnull=True) | Q(lease_until__lt=Now())
    waiting = Job.objects.filter(not_offered, state=Job.State.WAITING)
    for job_id in waiting.order_by("asked_at").values_list("pk", flat=True):
        if not offer(job_id):
            break
        swept.offered += 1
    return swept


def forget_ended_jobs() -> int:
    """Remove jobs that ended long ago; their checks and findings stay."""
    removed, _ = Job.objects.filter(ended_at__lt=Now() - KEEP_ENDED).delete()
    return removed


def _take_back(job: Job) -> bool:
    """Let a job whose lease ran out wait again; False when it has been tried often enough, or not at all."""
    mine = Job.objects.filter(
        pk=job.pk, state=Job.State.RUNNING, claimed_by=job.claimed_by, lease_until__lt=Now()
    )
    ended = {"ended_at": Now(), "lease_until": None}
    if job.cancel_asked:
        mine.update(state=Job.State.CANCELLED, **ended)
        return False
    if job.attempts >= MAX_ATTEMPTS:
        why = sentence(
            ngettext_lazy(
                "Tried {count} time; the worker ended or fell silent in the middle of it.",
                "Tried {count} times; each time the worker ended or fell silent in the middle of it.",
            ),
            count=job.attempts,
        )
        mine.update(state=Job.State.FAILED, **told(_with_the_last(why, job)), **ended)
        return False
    try:
        with transaction.atomic():
            return bool(mine.update(state=Job.State.WAITING, claimed_by="", lease_until=None))
    except IntegrityError:
        newer = told(sentence(_("Its worker ended; the same work waits in a newer job.")))
        mine.update(state=Job.State.CANCELLED, **newer, **ended)
        return False


def _with_the_last(why: str, job: Job) -> str:
    """What was tried, and what the last attempt left behind."""
    last = job.words.get("error", {}).get("")
    return joined(" ", [why, *([sentence_of(last)] if last else [job.error] if job.error else [])])
