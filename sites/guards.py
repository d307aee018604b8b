"""Database rules that keep the change record and its seals as they were written, on SQLite and PostgreSQL.

Model methods can be gone round by bulk queries and by hand; a trigger cannot.
"""

from __future__ import annotations

from django.db.backends.base.base import BaseDatabaseWrapper

TABLE = "places_changerecord"
SEALS = "places_changeseal"
TABLES = (TABLE, SEALS)
MESSAGE = "the change record can be neither edited nor deleted"
_NAMES = {TABLE: "change_record", SEALS: "change_seal"}


def _sqlite_install(table: str) -> list[str]:
    stop = f"BEGIN SELECT RAISE(ABORT, '{MESSAGE}'); END"
    return [
        f"CREATE TRIGGER {_NAMES[table]}_no_{act.lower()} BEFORE {act} ON {table} {stop}"
        for act in ("UPDATE", "DELETE")
    ]


def _sqlite_remove(table: str) -> list[str]:
    return [f"DROP TRIGGER IF EXISTS {_NAMES[table]}_no_{act}" for act in ("update", "delete")]


def _postgresql_install(table: str) -> list[str]:
    return [
        "CREATE OR REPLACE FUNCTION change_record_keep() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{MESSAGE}' USING ERRCODE = 'integrity_constraint_violation'; END $$",
        f"CREATE TRIGGER {_NAMES[table]}_no_edit BEFORE UPDATE OR DELETE ON {table} "
        "FOR EACH ROW EXECUTE FUNCTION change_record_keep()",
        f"CREATE TRIGGER {_NAMES[table]}_no_truncate BEFORE TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION change_record_keep()",
    ]


def _postgresql_remove(table: str) -> list[str]:
    return [f"DROP TRIGGER IF EXISTS {_NAMES[table]}_no_{what} ON {table}" for what in ("edit", "truncate")]


def install(connection: BaseDatabaseWrapper, table: str = TABLE) -> None:
    """Put the triggers on the table of the change record, or on that of its seals."""
    _run(connection, _sqlite_install(table) if connection.vendor == "sqlite" else _postgresql_install(table))


def remove(connection: BaseDatabaseWrapper, table: str = TABLE) -> None:
    """Take the triggers off: for un-applying the migration, and for tests that empty their own database."""
    _run(connection, _sqlite_remove(table) if connection.vendor == "sqlite" else _postgresql_remove(table))


def _run(connection: BaseDatabaseWrapper, statements: list[str]) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
