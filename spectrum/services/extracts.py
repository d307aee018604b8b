"""Importing a regulator's extract: read, compare, and (unless it is a trial) write, all or nothing."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from licences.models import Authority
from sites.errors import RegisterError
from sites.sentences import sentence
from sites.services import record
from sites.services.record import Author
from sites.words import gettext_noop as _
from spectrum.extracts import reporting
from spectrum.extracts.entries import Entries, entries_of
from spectrum.extracts.mapping import Mapping, MappingError
from spectrum.extracts.planning import Plan, plan_of
from spectrum.extracts.planning.plan import REASON
from spectrum.extracts.quality import Quality, quality_of
from spectrum.extracts.reading import Table, read_table
from spectrum.extracts.registrants import registrants_of
from spectrum.extracts.writing import write
from spectrum.models import ExtractMapping, ExtractRun
from spectrum.services import comparison

_PARTS = ("columns", "reading", "statuses", "key", "own_registrants", "stand_ins")
READY = Path(__file__).resolve().parents[1] / "extracts" / "mappings"
_DESCRIBED = ("code", "title", "authority", "notes", *_PARTS)


@dataclass(frozen=True)
class Outcome:
    """What an import found and did; ``run`` is None after a trial."""

    run: ExtractRun | None
    table: Table
    plan: Plan
    quality: Quality
    notices: dict[str, int]

    def report(self) -> dict[str, Any]:
        return reporting.as_json(self.plan, self.quality, self.notices)


def described(description: Any) -> ExtractMapping:
    """The mapping that a JSON file describes: a new one, or the stored one of that code with its parts replaced.

    Nothing is saved. RegisterError says what is wrong with the description.
    """
    if not isinstance(description, dict):
        raise RegisterError(
            sentence(_("The mapping file holds no object with named parts.")), field="mapping"
        )
    if unknown := sorted(description.keys() - set(_DESCRIBED)):
        raise RegisterError(
            sentence(
                _("The mapping file has the part {unknown}; known parts are {names}."),
                unknown=repr(unknown[0]),
                names=", ".join(_DESCRIBED),
            ),
            field="mapping",
        )
    code, authority = description.get("code"), description.get("authority")
    if not isinstance(code, str) or not isinstance(authority, dict) or not authority.get("code"):
        raise RegisterError(
            sentence(_("The mapping file needs a code, and an authority with its code, name and country.")),
            field="mapping",
        )
    mapping = ExtractMapping.objects.select_related("authority").filter(code=code).first() or ExtractMapping(
        code=code
    )
    mapping.title = str(description.get("title") or code)
    mapping.authority = Authority.objects.filter(code=authority["code"]).first() or Authority(
        code=authority["code"], name=authority.get("name", ""), country=authority.get("country", "")
    )
    for part in _PARTS:
        setattr(mapping, part, description.get(part, [] if part in ("key", "own_registrants") else {}))
    _checked(mapping)
    return mapping


def ready_mappings() -> list[str]:
    """The codes of the mappings that come with the program."""
    return sorted(path.stem for path in READY.glob("*.json"))


def mapping_coded(code: str) -> ExtractMapping:
    """The mapping of a code: the stored one, else one that comes with the program, not saved yet.

    RegisterError names those there are.
    """
    stored = ExtractMapping.objects.select_related("authority").filter(code=code).first()
    if stored is not None:
        return stored
    ready = ready_mappings()
    if code in ready:
        return described(json.loads((READY / f"{code}.json").read_text(encoding="utf-8")))
    known = sorted({*ExtractMapping.objects.values_list("code", flat=True), *ready})
    raise RegisterError(
        sentence(
            _("There is no mapping {code}; there are {names}."), code=repr(code[:60]), names=", ".join(known)
        ),
        field="mapping",
    )


def save_mapping(mapping: ExtractMapping, *, by: Author) -> ExtractMapping:
    """Enter or change a mapping, and its authority where that is new."""
    with transaction.atomic():
        if mapping.authority._state.adding:
            mapping.authority = record.create(mapping.authority, by=by)
        if mapping._state.adding:
            return record.create(mapping, by=by)
        return record.change(mapping, by=by)


def import_extract(
    content: bytes,
    file_name: str,
    mapping: ExtractMapping,
    *,
    by: Author,
    as_of: dt.date | None = None,
    dry_run: bool = False,
    as_shown: str = "",
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> Outcome:
    """Bring a file into the register. ``mapping`` may be one that is not saved yet; it is saved with the import.

    ``as_of`` is the day the extract stands for (default today): what is past its expiry is
    judged by it. Raises ExtractError with every problem of the file; nothing is written then.
    ``as_shown`` is the digest of the plan that a person saw (:func:`spectrum.extracts.reporting.digest`): if the
    register has changed since so that other things would be written, RegisterError is raised and nothing is written.
    ``progress`` is told after each of the three parts of the work that come before anything is written.
    """
    day, how = as_of or timezone.localdate(), _checked(mapping)
    table = read_table(content, file_name, how)
    entries = entries_of(table.rows, how)
    progress(1, 3)
    quality = quality_of(entries.rows, registrants_of(entries.rows), day)
    progress(2, 3)
    if dry_run:
        plan = plan_of(entries.rows, how, mapping.authority)
        progress(3, 3)
        return Outcome(None, table, plan, quality, entries.notices)
    progress(3, 3)
    with transaction.atomic():
        mapping = _saved(mapping, by)
        # One import of a mapping at a time: the second waits here, and then finds what the first wrote.
        ExtractMapping.objects.select_for_update().get(pk=mapping.pk)
        plan = plan_of(entries.rows, how, mapping.authority)
        if as_shown and reporting.digest(plan) != as_shown:
            raise RegisterError(
                sentence(
                    _(
                        "The register or the mapping changed after the file was tried, and other things would be written "
                        "than you were shown. Nothing was written. Try the file again."
                    )
                )
            )
        write(plan, by=by, reason=f"{REASON}{mapping.code}, {file_name}")
        run = _note(table, entries, plan, quality, mapping, by, day)
        comparison.keep(plan, run)
    return Outcome(run, table, plan, quality, entries.notices)


def _saved(mapping: ExtractMapping, by: Author) -> ExtractMapping:
    """The mapping, saved; or as another import has saved it, or its authority, since this one read it."""
    if not mapping._state.adding:
        return save_mapping(mapping, by=by)
    try:
        with transaction.atomic():
            return save_mapping(mapping, by=by)
    except (IntegrityError, ValidationError):
        given = mapping.authority
        stored = ExtractMapping.objects.filter(code=mapping.code).first() or ExtractMapping(code=mapping.code)
        stored.authority = Authority.objects.filter(code=given.code).first() or Authority(
            code=given.code, name=given.name, country=given.country
        )
        for part in ("title", *_PARTS):
            setattr(stored, part, getattr(mapping, part))
        return save_mapping(stored, by=by)


def _checked(mapping: ExtractMapping) -> Mapping:
    try:
        return mapping.mapping()
    except MappingError as error:
        raise RegisterError(
            sentence(
                _("The mapping {mapping} cannot be used: {error}"), mapping=mapping.code, error=error.written
            ),
            field=error.part,
        ) from error


def _note(
    table: Table,
    entries: Entries,
    plan: Plan,
    quality: Quality,
    mapping: ExtractMapping,
    by: Author,
    day: dt.date,
) -> ExtractRun:
    return ExtractRun.objects.create(
        mapping=mapping,
        mapping_version=mapping.version,
        file_name=table.file_name[:200],
        sha256=table.sha256,
        by=by.person,
        by_name=by.name[:200],
        as_of=day,
        row_count=len(table.rows),
        counts=plan.counts(),
        report=reporting.as_json(plan, quality, entries.notices),
    )
