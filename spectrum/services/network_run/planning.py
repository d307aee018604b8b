"""Which shards a run is made of, and which unfinished run can be carried on."""

from __future__ import annotations

import datetime as dt
import hashlib
import itertools
import json
from typing import Any

import numpy as np
from django.db import transaction
from django.utils import timezone

from sites.errors import RegisterError
from spectrum.conflicts.columns import IntArray
from spectrum.conflicts.criteria import MODEL_VERSION, Criteria
from spectrum.conflicts.gather import criteria_in_force, terrain_in_force
from spectrum.conflicts.interference import Prepared
from spectrum.conflicts.neighbours import emissions_heard
from spectrum.models import NetworkRun, Shard
from spectrum.services.register_columns import register_at, revision_now

# About half a second of search on one core, counted in emissions that receivers hear.
COST_PER_SHARD = 2_000_000
COST_PER_RECEIVER = 50
TRIES = 5


class MovedOnError(RegisterError):
    """The register has changed since the run was planned, and its revision is not at hand here."""


def plan(as_of: dt.date, *, shards: int | None = None) -> NetworkRun:
    """A run of the register as it is now: an unfinished one of the same key, or a new one.

    ``shards`` is the number of ranges of receivers; by default as many as keep each at about half a second.
    """
    for _ in range(TRIES):
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
        if run is not None and (shards is None or run.shards.count() == shards + 1):
            NetworkRun.objects.filter(pk=run.pk).update(state=NetworkRun.State.RUNNING, error="")
            run.refresh_from_db()
            return run
        run = NetworkRun(**key, last_change=revision.number, parameters=parameters, started_at=started_at)
        try:
            ready = prepared_for(run)
        except MovedOnError:
            continue  # somebody saved in between; plan from what is there now
        ranges = ranges_of(ready, shards)
        with transaction.atomic():
            run.save(force_insert=True)
            rows = [Shard(run=run, number=0, kind=Shard.Kind.REGISTER)]
            rows += [
                Shard(run=run, number=i, kind=Shard.Kind.RECEIVERS, first=first, last=last)
                for i, (first, last) in enumerate(ranges, start=1)
            ]
            Shard.objects.bulk_create(rows)
        return run
    raise RegisterError("The register is being changed faster than it can be read. Try again in a minute.")


def parameters_in_force() -> dict[str, Any]:
    """What a run depends on besides the register."""
    terrain = terrain_in_force()
    return {**criteria_in_force().as_json(), "terrain": terrain.fingerprint if terrain else ""}


def digest_of(parameters: dict[str, Any]) -> str:
    return hashlib.sha256(json.dumps(parameters, sort_keys=True).encode()).hexdigest()


_ready: dict[tuple[Any, ...], tuple[Prepared, IntArray]] = {}


def prepared_for(run: NetworkRun) -> Prepared:
    """The run's network, ready to be searched; kept for the next shard of the same run.

    Raises MovedOnError when its revision is neither the present one nor on file here, RegisterError when
    this worker has other settings than the one that planned the run.
    """
    return _ready_for(run)[0]


def receivers_in_order(run: NetworkRun) -> IntArray:
    """The receivers that the ranges of the run's shards count in: by mode and frequency."""
    return _ready_for(run)[1]


def _ready_for(run: NetworkRun) -> tuple[Prepared, IntArray]:
    key = (run.revision, run.as_of, run.parameters_digest)
    known = _ready.get(key)
    if known is not None:
        return known
    if digest_of(parameters_in_force()) != run.parameters_digest:
        raise RegisterError(
            "The check was planned with other criteria, climate or terrain than are in force here; "
            "give every worker the same settings and terrain folder, and start the check again."
        )
    register = register_at(run.revision)
    if register is None:
        raise MovedOnError("The register has changed since this check was planned.")
    criteria: Criteria = criteria_in_force()
    prepared = Prepared(register.network(run.as_of), criteria, terrain_in_force())
    network, receivers = prepared.network, prepared.receivers
    order = receivers[np.lexsort((receivers, network.rx_hz[receivers], network.mode[receivers]))]
    _ready.clear()  # one network at a time
    _ready[key] = (prepared, order)
    return _ready[key]


def ranges_of(prepared: Prepared, shards: int | None) -> list[tuple[int, int]]:
    """Ranges of receivers, in their order, of about equal cost."""
    network, receivers = prepared.network, prepared.receivers
    if not len(receivers):
        return []
    order = receivers[np.lexsort((receivers, network.rx_hz[receivers], network.mode[receivers]))]
    cost = np.cumsum(emissions_heard(network, order) + COST_PER_RECEIVER)
    wanted = shards or int(-(-cost[-1] // COST_PER_SHARD))
    cuts = np.searchsorted(cost, cost[-1] * np.arange(1, wanted) / wanted)
    ends = [0, *cuts.tolist(), len(order)]
    return list(itertools.pairwise(ends))
