"""The databases of a run: migrated once and copied for its workers, and emptied after a test that commits."""

from __future__ import annotations

import fcntl
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.core.management.sql import emit_post_migrate_signal
from django.db import transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from sites import guards
from spectrum.roles import give_permissions


class Model:
    """A migrated database to copy: a file for SQLite; for PostgreSQL a database, which the file names.

    The worker that comes first migrates its test database and keeps a copy of it in ``shared``, a folder of all
    workers of the run; the others begin with that. Django migrates a copy as it would an empty database, and finds
    nothing left to do.
    """

    def __init__(self, connection: BaseDatabaseWrapper, shared: Path) -> None:
        self.connection = connection
        self.creation: Any = connection.creation
        self.create_anew = self.creation.create_test_db
        self.file, self.lock = shared / "migrated", shared / "migrated.lock"
        self.ours = False

    def create(self, **options: Any) -> str:
        """In the place of Django's ``create_test_db``."""
        with self._alone(), pytest.MonkeyPatch.context() as patch:
            if self.file.exists():
                self._begin_with_copy(patch)
                return self.create_anew(**options)
            name = self.create_anew(**options)
            self._keep(name)
            self.ours = True
            return name

    def remove(self) -> None:
        """Remove it if it was made here; who comes later makes another."""
        if self.ours:
            with self._alone():
                if self.connection.vendor == "postgresql":
                    self.creation._destroy_test_db(self.file.read_text(), verbosity=0)
                self.file.unlink()

    def _keep(self, name: str) -> None:
        self.connection.close()
        if self.connection.vendor == "sqlite":
            shutil.copyfile(name, self.file)
            return
        kept = f"{name}_migrated"
        with self.creation._nodb_cursor() as cursor:
            cursor.execute(f'DROP DATABASE IF EXISTS "{kept}"')
            cursor.execute(f'CREATE DATABASE "{kept}" TEMPLATE "{name}"')
        self.file.write_text(kept)

    def _begin_with_copy(self, patch: pytest.MonkeyPatch) -> None:
        if self.connection.vendor == "postgresql":
            patch.setitem(self.connection.settings_dict["TEST"], "TEMPLATE", self.file.read_text())
            return
        begin = self.creation._create_test_db

        def begin_with_copy(*args: Any, **kwargs: Any) -> str:
            name = begin(*args, **kwargs)
            shutil.copyfile(self.file, name)
            return name

        patch.setattr(self.creation, "_create_test_db", begin_with_copy)

    @contextmanager
    def _alone(self) -> Iterator[None]:
        with self.lock.open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            yield


def tables_with_rows(connection: BaseDatabaseWrapper) -> list[str]:
    """The tables of the register in which anything stands."""
    quote = connection.ops.quote_name
    asked = (
        f"SELECT '{table}' WHERE EXISTS (SELECT 1 FROM {quote(table)})"
        for table in connection.introspection.django_table_names(only_existing=True, include_views=False)
    )
    with connection.cursor() as cursor:
        cursor.execute(" UNION ALL ".join(asked))
        return [table for (table,) in cursor.fetchall()]


def empty(connection: BaseDatabaseWrapper) -> None:
    """Remove every row, and write again what the migrations write into an empty database: permissions and roles.

    Rows are deleted where there are some. To truncate a hundred tables, as Django would, takes PostgreSQL longer
    than most tests take, for each becomes new files. The triggers that keep the change record are off meanwhile.
    """
    for table in guards.TABLES:
        guards.remove(connection, table)
    try:
        # References are checked at the end of the transaction, so that tables go in any order.
        with transaction.atomic(using=connection.alias), connection.cursor() as cursor:
            for table in tables_with_rows(connection):
                cursor.execute(f"DELETE FROM {connection.ops.quote_name(table)}")
    finally:
        for table in guards.TABLES:
            guards.install(connection, table)
    emit_post_migrate_signal(verbosity=0, interactive=False, db=connection.alias)
    give_permissions(using=connection.alias)
