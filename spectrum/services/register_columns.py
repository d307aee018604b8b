"""The live stations of the register as columns, kept in files until the register changes."""

from __future__ import annotations

import datetime as dt
import hashlib
import shutil
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.db import connection
from django.db.models import Func, IntegerField, Subquery

from sites.models import ChangeRecord
from spectrum.conflicts.snapshot import Register, load, save
from spectrum.services.register_reading import read_register

KEPT_REVISIONS = 2


@dataclass(frozen=True)
class Revision:
    """Where the register stands: the number of its last change, and how many there are.

    Numbers are given out before a change is committed; the count tells of one that came late. The time of
    the last change tells two histories apart, when a backup was put back and worked on.
    """

    number: int
    changes: int
    at: dt.datetime | None = None

    @property
    def name(self) -> str:
        """One word for the three, for files and rows."""
        return f"{self.number}-{self.changes}-{self.at:%Y%m%dT%H%M%S%f}" if self.at else "0"


def revision_now() -> Revision:
    """The revision that the database shows now."""
    # Three parts of one question, each answered by an index; together in one aggregate they take a walk of the table.
    rows = ChangeRecord.objects.order_by()
    counted = Func(function="COUNT", template="%(function)s(*)", output_field=IntegerField())
    last = rows.order_by("-id").annotate(
        number_of_changes=Subquery(rows.annotate(number=counted).values("number")),
        latest=Subquery(rows.order_by("-at").values("at")[:1]),
    )
    row = last.values_list("id", "number_of_changes", "latest").first()
    return Revision(*row) if row else Revision(0, 0)


def register_at(name: str) -> Register | None:
    """The register of the revision of that name, from its files or, if it is the present one, read and kept.

    None when the register has moved on and no file of that revision is at hand.
    """
    folder = files_of_this_database() / name
    kept = load(folder)
    if kept is not None:
        return kept
    revision = revision_now()
    if revision.name != name:
        return None
    register = read_register(revision.number)
    if revision_now() != revision:
        return None
    save(register, folder)
    _forget_old(folder)
    return load(folder)


def files_of_this_database() -> Path:
    """One folder for each database, for several may share the folder of an installation."""
    database = settings.DATABASES["default"]
    name = f"{database['ENGINE']}|{database.get('HOST', '')}|{database.get('PORT', '')}|{_database_name()}"
    return Path(settings.VAR_DIR) / "registers" / hashlib.sha256(name.encode()).hexdigest()[:16]


def _database_name() -> str:
    return str(connection.settings_dict["NAME"])


def _forget_old(current: Path) -> None:
    folders = [
        f for f in current.parent.iterdir() if f.is_dir() and not f.name.startswith(".") and f != current
    ]
    for folder in sorted(folders, key=lambda f: f.stat().st_mtime)[: -(KEPT_REVISIONS - 1)]:
        shutil.rmtree(folder, ignore_errors=True)
