"""Importing tables: read, draft, and (unless it is a trial) write, all or nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from sites.errors import NotAllowedError, RegisterError
from sites.models import Person
from sites.sentences import sentence
from sites.services import jobs, record
from sites.services.record import Author
from sites.words import gettext_noop as _
from spectrum.interchange.drafting import Draft, Drafted, draft
from spectrum.interchange.files import read_file
from spectrum.interchange.tables import Table
from spectrum.models import ImportFile, Link, Station

MAY_IMPORT = "spectrum.add_extractrun"
SHOWN_TROUBLES = 200
KEPT = dt.timedelta(days=7)
#: A quarter of what was measured on two busy cores, 29,399 objects in 69 s.
ROWS_WRITTEN_PER_S = 100


@dataclass(frozen=True)
class Outcome:
    """What an import found and did. Nothing was written when there are troubles, or on a trial."""

    drafted: Drafted
    notices: list[str]
    written: bool

    def report(self) -> dict[str, Any]:
        troubles = self.drafted.troubles
        return {
            "counts": self.drafted.counts(),
            "notices": self.notices,
            "written": self.written,
            "trouble_count": len(troubles) + self.drafted.more,
            "troubles": [
                {"table": t.table, "row": t.row, "column": t.column, "message": t.message}
                for t in troubles[:SHOWN_TROUBLES]
            ],
        }


def keep_file(content: bytes, name: str, table: str, *, by: Person) -> ImportFile:
    """Keep an uploaded file until its job has read it. RegisterError for one that holds no tables."""
    sheets, _notices = read_file(content, name, table)
    may_import([sheet.table for sheet in sheets], by)
    return ImportFile.objects.create(name=name[:200], table=table, content=content, by=by)


def forget_files() -> int:
    """Remove files that were tried more than a week ago; how many."""
    removed, _by_kind = ImportFile.objects.filter(at__lt=timezone.now() - KEPT).delete()
    return removed


def may_import(tables: Sequence[Table], person: Person | None) -> None:
    """Refuse tables that a person's role does not include. NotAllowedError names the first."""
    if person is None:  # the command line, by whoever administers the machine
        return
    for table in tables:
        if not person.has_perms([MAY_IMPORT, *([table.needs] if table.needs else [])]):
            raise NotAllowedError(
                sentence(
                    _(
                        "Your role does not include importing the table {table}. Leave it out, or ask an "
                        "administrator."
                    ),
                    table=table.name,
                )
            )


def import_tables(
    content: bytes,
    name: str,
    *,
    by: Author,
    table: str = "",
    dry_run: bool = False,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> Outcome:
    """Bring the tables of a file into the register.

    The same file once more changes nothing. Rows are never removed. Drafting reads without
    a lock; the writing transaction compares versions, so that what somebody changed in the
    meantime refuses the whole import (StaleWriteError) and nothing is written.
    """
    sheets, notices = read_file(content, name, table)
    may_import([sheet.table for sheet in sheets], by.person)
    rows = sum(len(sheet.rows) for sheet in sheets)
    drafted = draft(sheets, progress)
    progress(rows + 1, rows + 1)
    if drafted.troubles or dry_run:
        return Outcome(drafted, notices, written=False)
    _write(drafted, by, f"imported from {name}"[:200])
    return Outcome(drafted, notices, written=True)


def _write(drafted: Drafted, by: Author, reason: str) -> None:
    try:
        with transaction.atomic():
            for table, drafts in drafted.tables.items():
                _write_table(table, drafts, by, reason)
            _touch_links(drafted)
            if any(d.is_new or d.is_changed for drafts in drafted.tables.values() for d in drafts):
                jobs.submit("check_network", {}, by=by.person, same_as="check_network")
    except IntegrityError as error:
        raise RegisterError(
            sentence(
                _("Somebody entered the same at the same moment; nothing was written. Try the file again.")
            )
        ) from error


def _write_table(table: Table, drafts: list[Draft], by: Author, reason: str) -> None:
    new = [each for each in drafts if each.is_new]
    for each in drafts:
        if each.is_new:
            each.obj.pk = None
        if each.is_new or each.is_changed:
            _tie(table, each)
    for each in new:
        for name in each.of_its_kind:
            setattr(each.obj, name, None)
    record.create_many([each.obj for each in new], by=by, reason=reason, validate=False)
    for each in drafts:
        if each.is_new and not any(each.of_its_kind.values()):
            continue
        if each.is_new or each.is_changed:
            for name, target in each.of_its_kind.items():
                setattr(each.obj, name, target)
            record.change(each.obj, by=by, reason=reason)


def _tie(table: Table, made: Draft) -> None:
    """Refer to what was written before by its number there, not by its stand-in."""
    obj = made.obj
    for name, structure in made.structures.items():
        setattr(obj, name, structure())
    for field in table.fields:
        if field.related_model and (target := field.get_cached_value(obj, default=None)) is not None:
            setattr(obj, field.name, target)


def _touch_links(drafted: Drafted) -> None:
    """A link whose stations changed has changed, as when both are entered on one page."""
    written = {
        each.obj.pk
        for table, drafts in drafted.tables.items()
        if table.model is Link
        for each in drafts
        if each.is_new or each.is_changed
    }
    stations = [d for table, drafts in drafted.tables.items() if table.model is Station for d in drafts]
    concerned = {d.obj.link_id for d in stations if d.is_new or d.is_changed} - written
    for link in Link.objects.filter(pk__in=concerned):
        record.touch(link)
