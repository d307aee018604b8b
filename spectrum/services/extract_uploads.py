"""Extracts sent to the pages: kept until a job has tried them and, when a person says so, brought them in."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

from sites.errors import RegisterError
from sites.models import Person
from sites.sentences import sentence
from sites.services import jobs
from sites.services.record import Author
from sites.words import gettext_noop as _
from spectrum.extracts import reporting
from spectrum.extracts.problems import ExtractError
from spectrum.extracts.reading import read_table
from spectrum.models import ImportFile

from .extracts import Outcome, import_extract, mapping_coded

LARGEST_FILE = 20 * 1024 * 1024  # a larger one is imported on the command line
#: A fifth of what was measured with an extract of 6,357 rows on two busy cores: 1.28 MB in 68 s.
WRITTEN_BYTES_PER_S = 4_000
SHOWN_PROBLEMS = 200


def keep(content: bytes, name: str, mapping: str, *, size: int, by: Person) -> ImportFile:
    """Keep an extract until its job has read it. ``size`` is that of the whole file, in bytes.

    RegisterError for a mapping that is not there or a file too large, ExtractError for one that is no table with the
    mapping's columns.
    """
    if size > LARGEST_FILE:
        raise RegisterError(
            sentence(
                _(
                    "{name} has {size} MB; at most {most} MB are taken here. Split it by licence, or have it imported with "
                    "manage.py import_extract."
                ),
                name=name,
                size=f"{size / 2**20:.0f}",
                most=LARGEST_FILE // 2**20,
            ),
            field="file",
        )
    read_table(content, name, mapping_coded(mapping).mapping())
    return ImportFile.objects.create(name=name[:200], content=content, by=by)


def bring_in(
    kept: ImportFile,
    mapping: str,
    *,
    by: Author,
    as_of: dt.date,
    as_shown: str = "",
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> dict[str, Any]:
    """Try a kept extract, or write precisely what a trial has shown (``as_shown``, the trial's digest).

    The answer is a job's result: counts, what is wrong with the file, or the problems that keep it out.
    """
    try:
        outcome = import_extract(
            bytes(kept.content),
            kept.name,
            mapping_coded(mapping),
            by=by,
            as_of=as_of,
            dry_run=not as_shown,
            as_shown=as_shown,
            progress=progress,
        )
    except ExtractError as error:
        return {
            "problem_count": error.count,
            "problems": [
                {"row": p.row, "column": p.column, "found": p.found, "expected": p.expected, "mend": p.mend}
                for p in error.problems[:SHOWN_PROBLEMS]
            ],
            "cases": _cases(kept, reporting.csv_of_problems(error)),
        }
    if outcome.run is not None and not outcome.plan.is_empty:
        jobs.submit("check_network", {}, by=by.person, same_as="check_network")
    return _found(kept, outcome)


def _found(kept: ImportFile, outcome: Outcome) -> dict[str, Any]:
    return {
        "problem_count": 0,
        "row_count": len(outcome.table.rows),
        "counts": outcome.plan.counts(),
        "report": outcome.report(),
        "digest": reporting.digest(outcome.plan),
        "run": outcome.run.pk if outcome.run else None,
        "cases": _cases(kept, reporting.csv_of(outcome.plan, outcome.quality)),
    }


def _cases(kept: ImportFile, lines: str) -> int:
    """Keep the file of every case and change beside the extract, for as long as that would be kept."""
    name = f"{kept.name.rpartition('.')[0][:180] or kept.name[:180]}-cases.csv"
    return ImportFile.objects.create(name=name, content=lines.encode(), by=kept.by).pk
