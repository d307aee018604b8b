"""The whole register as of a day, for every query: lists, filters, files and the API read it as they read today's.

Within :func:`register_on` each table of the register that was written since is hidden, in this database session
only, by a temporary view of the same name: the rows that nobody wrote since, and those that were, as they stood
(``reading.restored``). PostgreSQL and SQLite both look a name up among the temporary ones first. For a day to
come the view holds what changes by its dates (``ahead``). The cost is that of what was written since the day.

- Nothing can be written through such a view: the database refuses. All of it happens in one transaction that is
  rolled back, so the views are gone afterwards, whatever happened.
- The transaction sees one state of the register (repeatable read; on SQLite one read transaction), so that
  nobody's change at that moment is seen in one table and not in another. No writer waits for it.
- People, findings, checks and jobs are not kept by date: they are as of now, and no page of a day shows them.
"""

# ruff: noqa: S608 - the names put into statements are those of the register's tables and columns

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection, models, transaction
from django.utils import timezone

from sites.models import Registered

from . import ahead, asking, reading

_ROWS = 1000


@contextmanager
def register_on(day: dt.date) -> Iterator[None]:
    """Show the register as it stood at the end of a day (UTC), or will stand by its dates; reading only."""
    today = timezone.now().date()
    with _one_state(), transaction.atomic():
        _repeatable()
        for model in reading.touched_since(day):
            _hide(model, _since(model, day), reading.restored(day, model))
        if day > today:
            for kind, objects in ahead.becoming(day):
                listed = list(objects)
                _hide(kind, ("SELECT %s", [[obj.pk] for obj in listed]), listed)
        token = asking._shown.set(day)
        try:
            yield
        finally:
            asking._shown.reset(token)
            transaction.set_rollback(True)


@contextmanager
def _one_state() -> Iterator[None]:
    """Read without taking SQLite's write lock, and group as a view needs it: a view has no primary key."""
    mode = getattr(connection, "transaction_mode", None)
    features = connection.features
    grouped = features.allows_group_by_selected_pks
    try:
        if connection.vendor == "sqlite":
            connection.transaction_mode = "DEFERRED"  # type: ignore[attr-defined]
        features.allows_group_by_selected_pks = False
        yield
    finally:
        features.allows_group_by_selected_pks = grouped
        if connection.vendor == "sqlite":
            connection.transaction_mode = mode  # type: ignore[attr-defined]


def _repeatable() -> None:
    if connection.vendor == "postgresql" and not connection.savepoint_ids:
        with connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ")


def _since(model: type[Registered], day: dt.date) -> tuple[str, list[list[Any]]]:
    ids = reading.since(day, model).order_by().values_list("object_id", flat=True).distinct()
    sql, parameters = ids.query.sql_with_params()
    return sql, [list(parameters)]


def _hide(
    model: type[models.Model], written: tuple[str, list[list[Any]]], as_they_stood: Iterable[models.Model]
) -> None:
    """Put the temporary view over a table: without the rows that were written, with those as they stood."""
    quoted = connection.ops.quote_name
    table = model._meta.db_table
    rows, gone = quoted(f"then_{table}"), quoted(f"since_{table}")
    fields: Any = model._meta.concrete_fields
    pk: Any = model._meta.pk
    columns = ", ".join(quoted(field.column) for field in fields)
    key = quoted(pk.column)
    values = [[_for_database(field, obj) for field in fields] for obj in as_they_stood]
    with connection.cursor() as cursor:
        stored = f"{_schema(cursor)}.{quoted(table)}"
        cursor.execute(f"CREATE TEMPORARY TABLE {rows} AS SELECT {columns} FROM {stored} WHERE 1 = 0")
        cursor.execute(f"CREATE TEMPORARY TABLE {gone} (id bigint PRIMARY KEY)")
        sql, parameters = written
        cursor.executemany(f"INSERT INTO {gone} {sql}", parameters)
        marks = ", ".join(["%s"] * len(fields))
        for portion in _portions(values):
            cursor.executemany(f"INSERT INTO {rows} ({columns}) VALUES ({marks})", portion)
        cursor.execute(
            f"CREATE TEMPORARY VIEW {quoted(table)} AS SELECT {columns} FROM {stored} AS kept WHERE NOT EXISTS "
            f"(SELECT 1 FROM {gone} WHERE {gone}.id = kept.{key}) UNION ALL SELECT {columns} FROM {rows}"
        )


def _schema(cursor: Any) -> str:
    if connection.vendor == "sqlite":
        return "main"
    cursor.execute("SELECT current_schema()")
    return connection.ops.quote_name(cursor.fetchone()[0])


def _for_database(field: Any, obj: models.Model) -> Any:
    return field.get_db_prep_save(getattr(obj, field.attname), connection)


def _portions(rows: list[list[Any]]) -> Iterator[list[list[Any]]]:
    for start in range(0, len(rows), _ROWS):
        yield rows[start : start + _ROWS]
