"""Going through the shards of a run until all are done, alone or with helpers."""

from __future__ import annotations

import datetime as dt
import time
import uuid

from django.conf import settings
from django.db import InterfaceError, OperationalError
from django.utils import timezone

from sites.errors import RegisterError
from sites.sentences import sentence
from sites.services import jobs
from sites.services.record import Author
from sites.words import gettext_noop as _
from spectrum.conflicts.neighbours import Tick
from spectrum.models import Check, NetworkRun

from .finishing import finish
from .planning import plan
from .ready import MovedOnError
from .working import claim, do, give_back

# Helpers are asked for from so many shards on, and so many at most; more workers than that wait in vain.
HELPED_FROM_SHARDS = 4
MOST_HELPERS = 3
PAUSE_S = 0.2
STARTS = 3


def check_network(
    *,
    by: Author | None = None,
    as_of: dt.date | None = None,
    progress: Tick | None = None,
    shards: int | None = None,
) -> Check:
    """Check every link and licence and store what was found, all at once at the end.

    ``progress(done, total)`` counts shards and may raise to stop; the findings are then as they were. A
    check that was stopped by a failure is carried on by the next one of the same revision and parameters.
    """
    day = as_of or timezone.localdate()
    for _try in range(STARTS):
        run = plan(day, shards=shards)
        try:
            _go_through(run, progress)
        except MovedOnError as error:
            # Started on another machine, which has the files; here it begins anew from what is there now.
            _end(run, NetworkRun.State.FAILED, error.message)
            continue
        except jobs.JobCancelled:
            _end(run, NetworkRun.State.CANCELLED, "Cancelled.")
            raise
        except (jobs.LeaseLost, OperationalError, InterfaceError):
            raise  # the run stays as it is, for whoever does the job next
        except Exception as error:
            _end(run, NetworkRun.State.FAILED, str(error))
            raise
        return finish(run, by=by)
    raise RegisterError(sentence(_("The register was changed each time the check began. Start it again.")))


def help_with(run_id: uuid.UUID | str, progress: Tick | None = None) -> int:
    """Do shards of a run until none is free; how many. A worker that has not the run's revision does none.

    ``progress(done, done + 1)`` is a sign of life and may raise to stop.
    """
    run = NetworkRun.objects.filter(pk=run_id, state=NetworkRun.State.RUNNING).first()
    done = 0
    while run is not None:
        if progress is not None:
            progress(done, done + 1)
        shard = claim(run)
        if shard is None:
            break
        try:
            done += do(run, shard, _held_at(progress, done, done + 1))
        except MovedOnError:
            give_back(shard)
            break
        except BaseException:
            give_back(shard)
            raise
        run = NetworkRun.objects.filter(pk=run_id, state=NetworkRun.State.RUNNING).first()
    return done


def _go_through(run: NetworkRun, progress: Tick | None) -> None:
    total = run.shards.count()
    if settings.JOBS_RUN == "worker" and total >= HELPED_FROM_SHARDS:
        for number in range(min(MOST_HELPERS, total // 2)):
            name = f"network_shards:{run.pk}:{number}"
            jobs.submit("network_shards", {"run": str(run.pk)}, same_as=name)
    while True:
        done = run.shards.filter(done_at__isnull=False).count()
        if progress is not None:
            progress(done, total)
        if done == total:
            return
        shard = claim(run)
        if shard is None:
            time.sleep(PAUSE_S)  # others are at the last ones; one that dies leaves its shard to us
            continue
        try:
            do(run, shard, _held_at(progress, done, total))
        except BaseException:
            give_back(shard)
            raise


def _held_at(progress: Tick | None, done: int, total: int) -> Tick | None:
    """A tick within a shard: a sign of life that counts no shard."""
    return None if progress is None else lambda *_: progress(done, total)


def _end(run: NetworkRun, state: str, why: str) -> None:
    NetworkRun.objects.filter(pk=run.pk, state=NetworkRun.State.RUNNING).update(
        state=state, error=why, ended_at=timezone.now()
    )
