"""Doing shards: claim one, compute it, store what it found; and whoever dies in between leaves no trace."""

from __future__ import annotations

import logging
import os
import socket
import threading
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import InterfaceError, OperationalError, connection
from django.db.models import F, Q
from django.db.models.functions import Now

from sites.errors import RegisterError
from sites.sentences import sentence
from sites.services.jobs.running import lease
from sites.words import ngettext_lazy
from spectrum.conflicts.drafts import Draft, Parties
from spectrum.conflicts.evidence import Row, rows_as_json
from spectrum.conflicts.gather import all_licences, links_between
from spectrum.conflicts.interference import interference_findings
from spectrum.conflicts.neighbours import Tick
from spectrum.conflicts.run import licence_wide_findings, link_by_link_findings
from spectrum.conflicts.site_checks import site_findings
from spectrum.conflicts.wording import kept_words
from spectrum.models import Link, NetworkRun, Shard
from spectrum.services.commissioning import as_found
from spectrum.services.site_surroundings import equipped

from .ready import ready_for

MOST_ATTEMPTS = 5
BEATS_PER_LEASE = 4
logger = logging.getLogger(__name__)


class ShardFailedError(RegisterError):
    """A shard has been begun so often that it must be the cause of its workers' death."""


def claim(run: NetworkRun) -> Shard | None:
    """A shard that nobody is at, now ours for one lease; None when there is none."""
    free = Q(lease_until__isnull=True) | Q(lease_until__lt=Now())
    me = f"{socket.gethostname()[:40]}:{os.getpid()}:{uuid.uuid4().hex[:12]}"
    while True:
        shard = run.shards.filter(free, done_at=None).defer("drafts").order_by("number").first()
        if shard is None:
            return None
        if shard.attempts >= MOST_ATTEMPTS:
            raise ShardFailedError(
                sentence(
                    ngettext_lazy(
                        "Shard {number} of the check was begun {count} time and never ended.",
                        "Shard {number} of the check was begun {count} times and never ended.",
                    ),
                    number=shard.number,
                    count=shard.attempts,
                )
            )
        mine = Shard.objects.filter(free, pk=shard.pk, done_at=None)
        if mine.update(claimed_by=me, lease_until=Now() + lease(), attempts=F("attempts") + 1):
            shard.claimed_by = me
            return shard


def do(run: NetworkRun, shard: Shard, tick: Tick | None = None) -> bool:
    """Compute a claimed shard and store its drafts; False when the run or the claim is no longer ours."""
    with _kept_alive(shard, tick):
        drafts = compute(run, shard, tick)
    mine = Shard.objects.filter(
        pk=shard.pk, claimed_by=shard.claimed_by, done_at=None, run__state=NetworkRun.State.RUNNING
    )
    return bool(mine.update(drafts=[as_json(draft) for draft in drafts], done_at=Now(), lease_until=None))


@contextmanager
def _kept_alive(shard: Shard, tick: Tick | None) -> Iterator[None]:
    """Give signs of life for the shard, and for the job that does it, however long the computing takes.

    A wish to stop that a sign of life comes back with is raised when the computing is over.
    """
    over, wishes = threading.Event(), list[Exception]()

    def beat() -> None:
        while not over.wait(lease().total_seconds() / BEATS_PER_LEASE) and not wishes:
            try:
                mine = Shard.objects.filter(pk=shard.pk, claimed_by=shard.claimed_by)
                mine.update(lease_until=Now() + lease())
                if tick is not None:
                    tick(0, 0)
            except (OperationalError, InterfaceError) as error:
                logger.warning("No sign of life could be given for shard %s: %s", shard.number, error)
            except Exception as wish:
                wishes.append(wish)
            finally:
                connection.close()  # this thread's own

    thread = threading.Thread(target=beat, name=f"shard-{shard.number}", daemon=True)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()
    if wishes:
        raise wishes[0]


def give_back(shard: Shard) -> None:
    """Let somebody else have a shard that was claimed and not done."""
    Shard.objects.filter(pk=shard.pk, claimed_by=shard.claimed_by, done_at=None).update(lease_until=None)


def compute(run: NetworkRun, shard: Shard, tick: Tick | None = None) -> list[Draft]:
    """What a shard finds."""
    ready = ready_for(run)
    prepared, criteria = ready.prepared, ready.prepared.criteria
    if shard.kind == Shard.Kind.REGISTER:
        return licence_wide_findings(all_licences(run.as_of), criteria)
    if shard.kind == Shard.Kind.LINKS:
        within = Q(station__link__gte=shard.first, station__link__lt=shard.last)
        return link_by_link_findings(
            links_between(shard.first, shard.last, run.as_of),
            criteria,
            as_found=as_found(within & Q(station__link__status__in=Link.LIVE)),
            terrain=prepared.terrain,
        )
    if shard.kind == Shard.Kind.SITES:
        among = ready.places[shard.first : shard.last]
        return site_findings(equipped(ready.at_sites, among), criteria, among)
    found = interference_findings(
        prepared.network,
        criteria,
        terrain=prepared.terrain,
        receivers=ready.receivers[shard.first : shard.last],
        prepared=prepared,
        tick=tick,
    )
    return found.drafts


def as_json(draft: Draft) -> dict[str, Any]:
    """A draft as a shard keeps it, with what its sentences were made of."""
    return {**texts_as_json(draft), "words": kept_words(draft)}


def texts_as_json(draft: Draft) -> dict[str, Any]:
    """A draft's texts and figures. A zero has no sign there, for PostgreSQL does not keep it and SQLite does."""
    evidence = [
        {**row, "value": row["value"] + 0.0 if isinstance(row["value"], float) else row["value"]}
        for row in rows_as_json(draft.evidence)
    ]
    values = {**vars(draft), "parties": vars(draft.parties), "evidence": evidence}
    del values["words"]
    return values


def from_json(values: dict[str, Any]) -> Draft:
    """The draft that a shard kept."""
    evidence = [Row(**row) for row in values["evidence"]]
    return Draft(**{"words": {}, **values, "parties": Parties(**values["parties"]), "evidence": evidence})
