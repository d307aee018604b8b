"""Database rules that keep the change record as it was written, on SQLite and PostgreSQL.

Model methods can be gone round by bulk queries and by hand; a trigger cannot.
"""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

TABLE = "places_changerecord"
MESSAGE = "the change record can be neither edited nor deleted"

_SQLITE_INSTALL = [
    f"CREATE TRIGGER change_record_no_update BEFORE UPDATE ON {TABLE} BEGIN SELECT RAISE(ABORT, '{MESSAGE}'); END",
    f"CREATE TRIGGER change_record_no_delete BEFORE DELETE ON {TABLE} BEGIN SELECT RAISE(ABORT, '{MESSAGE}'); END",
]
_SQLITE_REMOVE = [
    "DROP TRIGGER IF EXISTS change_record_no_update",
    "DROP TRIGGER IF EXISTS change_record_no_delete",
]
_POSTGRESQL_INSTALL = [
    "CREATE OR REPLACE FUNCTION change_record_keep() RETURNS trigger LANGUAGE plpgsql AS "
    f"$$ BEGIN RAISE EXCEPTION '{MESSAGE}' USING ERRCODE = 'integrity_constraint_violation'; END $$",
    f"CREATE TRIGGER change_record_no_edit BEFORE UPDATE OR DELETE ON {TABLE} "
    "FOR EACH ROW EXECUTE FUNCTION change_record_keep()",
    f"CREATE TRIGGER change_record_no_truncate BEFORE TRUNCATE ON {TABLE} "
    "FOR EACH STATEMENT EXECUTE FUNCTION change_record_keep()",
]
_POSTGRESQL_REMOVE = [
    f"DROP TRIGGER IF EXISTS change_record_no_edit ON {TABLE}",
    f"DROP TRIGGER IF EXISTS change_record_no_truncate ON {TABLE}",
    "DROP FUNCTION IF EXISTS change_record_keep()",
]


def install(connection: BaseDatabaseWrapper) -> None:
    """Put the triggers on the change record's table."""
    _run(connection, _SQLITE_INSTALL if connection.vendor == "sqlite" else _POSTGRESQL_INSTALL)


def remove(connection: BaseDatabaseWrapper) -> None:
    """Take the triggers off: for un-applying the migration, and for tests that empty their own database."""
    _run(connection, _SQLITE_REMOVE if connection.vendor == "sqlite" else _POSTGRESQL_REMOVE)


def _run(connection: BaseDatabaseWrapper, statements: list[str]) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
