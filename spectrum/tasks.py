"""The jobs of links and checks."""

from __future__ import annotations

import datetime as dt

from sites.errors import RegisterError
from sites.sentences import sentence
from sites.services import jobs
from sites.services.record import Author
from sites.words import gettext_noop as _
from spectrum.models import Check, ImportFile, Link, Variant
from spectrum.services import checks, extract_uploads, interchange, network_run, reservations, variants


@jobs.handler("check_link")
def check_link(payload: jobs.Payload, progress: jobs.Progress) -> jobs.Result:
    """Check one link: ``{"link": id}``. One that was removed in the meantime needs none."""
    if not Link.objects.filter(pk=payload["link"]).exists():
        return {"check": None}
    check = checks.check_link(payload["link"], by=_author(progress))
    return _done(check, progress)


# After the reservations of the day before have lapsed (times in UTC).
@jobs.handler("check_network", daily_at=[dt.time(2, 10)])
def check_network(payload: jobs.Payload, progress: jobs.Progress) -> jobs.Result:
    """Check the whole network, as it stands today or on ``{"as_of": "2026-12-31"}``."""
    day = payload.get("as_of")
    as_of = dt.date.fromisoformat(day) if day else None
    check = checks.check_network(by=_author(progress), as_of=as_of, progress=progress.step)
    return _done(check, progress)


@jobs.handler("network_shards")
def network_shards(payload: jobs.Payload, progress: jobs.Progress) -> jobs.Result:
    """Help with a check of the network: ``{"run": id}``; ends when no shard is left."""
    return {"shards": network_run.help_with(payload["run"], progress.step)}


@jobs.handler("check_variant")
def check_variant(payload: jobs.Payload, progress: jobs.Progress) -> jobs.Result:
    """Check a variant: ``{"variant": id}``. One that was removed in the meantime needs none."""
    if not Variant.objects.filter(pk=payload["variant"]).exists():
        return {"variant": None}
    check = variants.check_variant(payload["variant"], by=progress.asked_by, progress=progress.step)
    return {"variant": check.variant_id, "counts": check.counts}


@jobs.handler("import_tables")
def import_tables(payload: jobs.Payload, progress: jobs.Progress) -> jobs.Result:
    """Try or apply a file of tables: ``{"file": id, "apply": false}``. One that was applied is gone."""
    kept = ImportFile.objects.filter(pk=payload["file"]).first()
    if kept is None:
        raise RegisterError(
            sentence(_("This file was imported already, or is no longer kept. Send it again."))
        )
    by = _author(progress) or Author.system("import")

    def step(done: int, total: int) -> None:
        progress.step(done, total)
        if payload["apply"] and done == total:  # what follows is written in one transaction
            progress.hold(total / interchange.ROWS_WRITTEN_PER_S)

    outcome = interchange.import_tables(
        bytes(kept.content),
        kept.name,
        table=kept.table,
        by=by,
        dry_run=not payload["apply"],
        progress=step,
    )
    if outcome.written:
        kept.delete()
    return outcome.report()


@jobs.handler("import_extract")
def import_extract(payload: jobs.Payload, progress: jobs.Progress) -> jobs.Result:
    """Try an extract, or write what a trial has shown: ``{"file": id, "mapping": code, "as_of": day, "as_shown": ""}``."""
    kept = ImportFile.objects.filter(pk=payload["file"]).first()
    if kept is None:
        raise RegisterError(
            sentence(_("This file was imported already, or is no longer kept. Send it again."))
        )

    def step(done: int, total: int) -> None:
        progress.step(done, total)
        if payload["as_shown"] and done == total:  # what follows is written in one transaction
            progress.hold(len(kept.content) / extract_uploads.WRITTEN_BYTES_PER_S)

    found = extract_uploads.bring_in(
        kept,
        payload["mapping"],
        by=_author(progress) or Author.system("import"),
        as_of=dt.date.fromisoformat(payload["as_of"]),
        as_shown=payload["as_shown"],
        progress=step,
    )
    if found.get("run"):
        kept.delete()
    return found


# What was tried and never applied is kept for a week.
@jobs.handler("forget_import_files", daily_at=[dt.time(3, 40)])
def forget_import_files(payload: jobs.Payload, progress: jobs.Progress) -> jobs.Result:
    return {"removed": interchange.forget_files()}


@jobs.handler("lapse_reservations", daily_at=[dt.time(0, 20), dt.time(12, 20)])
def lapse_reservations(payload: jobs.Payload, progress: jobs.Progress) -> jobs.Result:
    """Let expired reservations lapse."""
    lapsed = reservations.lapse_expired()
    return {"lapsed": lapsed.codes, "failed": lapsed.failed}


def _author(progress: jobs.Progress) -> Author | None:
    return Author.of(progress.asked_by) if progress.asked_by else None


def _done(check: Check, progress: jobs.Progress) -> jobs.Result:
    Check.objects.filter(pk=check.pk).update(job_id=progress.job_id)
    return {"check": check.pk, "counts": check.counts}
