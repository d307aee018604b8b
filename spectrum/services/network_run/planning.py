"""Which shards a run is made of, and which unfinished run can be carried on."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils import timezone

from sites.errors import RegisterError
from sites.sentences import sentence
from sites.words import gettext_noop as _
from spectrum.conflicts.criteria import MODEL_VERSION
from spectrum.models import NetworkRun, Shard
from spectrum.services.register_columns import revision_now

from .ready import MovedOnError, digest_of, parameters_in_force, ready_for

TRIES = 5


def plan(as_of: dt.date, *, shards: int | None = None) -> NetworkRun:
    """A run of the register as it is now: an unfinished one of the same key, or a new one.

    ``shards`` is the number of ranges of receivers, and of sites, and of links; by default as many as keep
    each at about half a second to a few seconds.
    """
    for _try in range(TRIES):
        started_at, revision = timezone.now(), revision_now()
        parameters = parameters_in_force()
        key = {
            "revision": revision.name,
            "as_of": as_of,
            "model_version": MODEL_VERSION,
            "parameters_digest": digest_of(parameters),
        }
        unfinished = NetworkRun.objects.filter(**key).exclude(state=NetworkRun.State.DONE)
        run = unfinished.order_by("-started_at").first()
        if run is not None and (shards is None or run.shards.count() in (1, 3 * shards + 1)):
            NetworkRun.objects.filter(pk=run.pk).update(state=NetworkRun.State.RUNNING, error="")
            run.refresh_from_db()
            return run
        run = NetworkRun(**key, last_change=revision.number, parameters=parameters, started_at=started_at)
        try:
            ready = ready_for(run)
        except MovedOnError:
            continue  # somebody saved in between; plan from what is there now
        ranges = [(Shard.Kind.REGISTER, 0, 0)]
        ranges += [(Shard.Kind.RECEIVERS, *limits) for limits in ready.ranges_of_receivers(shards)]
        ranges += [(Shard.Kind.SITES, *limits) for limits in ready.ranges_of_sites(shards)]
        ranges += [(Shard.Kind.LINKS, *limits) for limits in ready.ranges_of_links(shards)]
        with transaction.atomic():
            run.save(force_insert=True)
            Shard.objects.bulk_create(
                Shard(run=run, number=number, kind=kind, first=first, last=last)
                for number, (kind, first, last) in enumerate(ranges)
            )
        return run
    raise RegisterError(
        sentence(_("The register is being changed faster than it can be read. Try again in a minute."))
    )
