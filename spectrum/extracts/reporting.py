"""What an import found and did, as text for the terminal, as JSON for its record, as rows for a CSV file."""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import json
from collections.abc import Iterator
from io import StringIO
from typing import Any

from sites.models import Registered
from sites.saying import written
from sites.sentences import sentence
from sites.words import gettext_noop as _

from .planning.plan import NAMES, Plan
from .problems import ExtractError
from .quality import KINDS, Quality

HEADINGS = ("part", "kind", "rows", "what")
EXAMPLES = 3
STORED = 200


def as_json(plan: Plan, quality: Quality, notices: dict[str, int]) -> dict[str, Any]:
    """For the record of the import: counts in full, cases and lists as far as a person reads them."""
    counts = quality.counts()
    return {
        "quality": {
            kind: {
                "title": title,
                **counts[kind],
                "examples": [
                    {"rows": list(defect.rows[:10]), "what": defect.what}
                    for defect in quality.of_kind(kind)[:EXAMPLES]
                ],
            }
            for kind, title in KINDS.items()
        },
        "longest_km": round(quality.longest_km, 3),
        "shortest_km": round(quality.shortest_km, 3),
        "largest_length_difference_ratio": round(quality.largest_difference_ratio, 6),
        "changed_count": len(plan.changed),
        "changed": [row[3] for row in _changed(plan)][:STORED],
        "kept": [row[3] for row in _kept(plan)][:STORED],
        "missing": plan.missing[:STORED],
        "missing_count": len(plan.missing),
        "kept_count": len(plan.kept),
        "own_rows": plan.own_rows,
        "notices": notices,
    }


def digest(plan: Plan) -> str:
    """A digest of what a plan would write: the same plan on the same register has the same one."""
    new = [[name, new.row, str(new.obj)] for model, name in NAMES.items() for new in plan.new.get(model, [])]
    return hashlib.sha256(json.dumps([new, *_changed(plan)]).encode()).hexdigest()


def csv_of(plan: Plan, quality: Quality) -> str:
    """Every case of every kind, every change, everything kept and missing."""
    return _csv(
        [
            *(("quality", defect.kind, _list(defect.rows), defect.what) for defect in quality.defects),
            *_changed(plan),
            *_kept(plan),
            *(("missing", "", "", what) for what in plan.missing),
        ]
    )


def csv_of_problems(error: ExtractError) -> str:
    """Every problem that stopped the import."""
    return _csv(
        ("error", problem.column, str(problem.row or ""), problem.sentence) for problem in error.problems
    )


def _changed(plan: Plan) -> Iterator[tuple[str, str, str, str]]:
    for change in plan.changed:
        for name, (before, after) in change.fields.items():
            what = sentence(
                "{object}, {field}: {before} → {after}",
                object=str(change.obj),
                field=_words(change.obj, name),
                before=_shown(change.obj, name, before),
                after=_shown(change.obj, name, after),
            )
            yield "changed", NAMES[type(change.obj)], str(change.row), what


def _kept(plan: Plan) -> Iterator[tuple[str, str, str, str]]:
    for kept in plan.kept:
        what = sentence(
            _("{object}, {field}: {ours} stays ({who}); the extract has {theirs}"),
            object=str(kept.obj),
            field=_words(kept.obj, kept.field),
            ours=_shown(kept.obj, kept.field, kept.ours),
            who=kept.who,
            theirs=_shown(kept.obj, kept.field, kept.theirs),
        )
        yield "kept", NAMES[type(kept.obj)], str(kept.row), what


def _words(obj: Registered, name: str) -> str:
    """What a field is called."""
    field: Any = obj._meta.get_field(name)
    return written(field.verbose_name)


def _shown(obj: Registered, name: str, value: Any) -> Any:
    if value in (None, "", []):
        return sentence(_("nothing"))
    field: Any = obj._meta.get_field(name)
    if field.choices:
        return written(dict(field.flatchoices).get(value, value))
    return value if isinstance(value, int | float | dt.date) else str(value)


def _list(rows: tuple[int, ...]) -> str:
    return " ".join(str(row) for row in rows)


def _csv(rows: Any) -> str:
    out = StringIO()
    writer = csv.writer(out)
    writer.writerow(HEADINGS)
    writer.writerows([_harmless(cell) for cell in row] for row in rows)
    return out.getvalue()


def _harmless(cell: str) -> str:
    """A text from a foreign file must not become a formula in the spreadsheet that opens the report."""
    return f"'{cell}" if cell[:1] in ("=", "+", "-", "@", "\t", "\r") else cell
