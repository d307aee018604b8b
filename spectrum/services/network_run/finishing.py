"""The end of a run: all findings in one transaction, and another look at what changed in the meantime."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Callable, Iterable

from django.db import models, transaction
from django.db.models import Q
from django.utils import timezone

from licences.models import Licence, LicensedChannel
from sites.models import ChangeRecord, Site
from sites.services import jobs
from sites.services.record import Author
from spectrum.conflicts.drafts import Draft
from spectrum.models import Check, Link, NetworkRun, Station
from spectrum.services import findings
from spectrum.services.register_columns import revision_now

from .working import from_json, texts_as_json

KEEP_RUNS = dt.timedelta(days=30)
# A change may be committed so long after it was given its time.
LATE_COMMIT = dt.timedelta(minutes=10)
_BATCH = 500


def finish(run: NetworkRun, *, by: Author | None) -> Check:
    """Store what all shards found; whoever comes second gets the check of the first."""
    with transaction.atomic():
        run = NetworkRun.objects.select_for_update().get(pk=run.pk)
        if run.check_row is not None:
            return run.check_row
        found = [from_json(d) for shard in run.shards.order_by("number") for d in shard.drafts]
        digest = digest_of(found)
        counts = findings.store(_still_there(found), scope=Q(), started_at=run.started_at)
        check = Check.objects.create(
            scope=Check.Scope.NETWORK,
            asked_by=by.person if by else None,
            as_of=run.as_of,
            started_at=run.started_at,
            ended_at=timezone.now(),
            parameters=run.parameters,
            model_version=run.model_version,
            counts=counts,
        )
        run.check_row, run.digest, run.state, run.ended_at = (
            check,
            digest,
            NetworkRun.State.DONE,
            check.ended_at,
        )
        run.save()
        run.shards.update(drafts=[])
        for number in sorted(_links_changed_since(run)):
            jobs.submit("check_link", {"link": number}, same_as=f"check_link:{number}")
    NetworkRun.objects.filter(started_at__lt=timezone.now() - KEEP_RUNS).exclude(pk=run.pk).delete()
    return check


def digest_of(drafts: Iterable[Draft]) -> str:
    """SHA-256 over what was found, in one order and without the keys of rows."""
    lines = set()
    for draft in drafts:
        values = texts_as_json(draft)
        del values["parties"]  # keys of rows; the headline and the evidence have the names
        if draft.margin is not None:
            values["margin"] = round(draft.margin, 4)
        lines.add(json.dumps(values, sort_keys=True, ensure_ascii=False))
    return hashlib.sha256("\n".join(sorted(lines)).encode()).hexdigest()


def _still_there(drafts: list[Draft]) -> list[Draft]:
    """Without what is about things that were removed while the check ran."""
    about: tuple[tuple[type[models.Model], Callable[[Draft], tuple[int | None, ...]]], ...] = (
        (Link, lambda d: (d.parties.link_id, d.parties.other_link_id)),
        (Licence, lambda d: (d.parties.licence_id,)),
        (LicensedChannel, lambda d: (d.parties.licensed_channel_id,)),
        (Site, lambda d: (d.parties.site_id,)),
    )
    for model, keys in about:
        wanted = sorted({key for draft in drafts for key in keys(draft) if key is not None})
        there: set[int | None] = {None}
        for start in range(0, len(wanted), _BATCH):
            part = wanted[start : start + _BATCH]
            there.update(model._default_manager.filter(pk__in=part).values_list("pk", flat=True))
        drafts = [draft for draft in drafts if there.issuperset(keys(draft))]
    return drafts


def _links_changed_since(run: NetworkRun) -> set[int]:
    """Live links that were changed after the run's revision: their findings are as of that revision now."""
    if revision_now().name == run.revision:
        return set()
    late = Q(at__gte=run.started_at - LATE_COMMIT)
    changes = ChangeRecord.objects.filter(Q(id__gt=run.last_change) | late)
    links = set(changes.filter(object_type="spectrum.link").values_list("object_id", flat=True))
    stations = list(changes.filter(object_type="spectrum.station").values_list("object_id", flat=True))
    for start in range(0, len(stations), _BATCH):
        part = Station.objects.filter(pk__in=stations[start : start + _BATCH])
        links.update(part.values_list("link_id", flat=True))
    return set(Link.objects.filter(pk__in=links, status__in=Link.LIVE).values_list("pk", flat=True))
