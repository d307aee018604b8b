"""Rows of a query as the driver of the database gives them."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import EmptyResultSet
from django.db import connection
from django.db.models import Q, QuerySet

from spectrum.models import Station


def fetched(rows: QuerySet[Any, Any]) -> list[tuple[Any, ...]]:
    """All rows of a query of values: the ORM looks at every value once more, to change none."""
    try:
        statement, values = rows.query.sql_with_params()
    except EmptyResultSet:
        return []
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        return list(cursor.fetchall())


def links_of_stations(condition: Q) -> set[int]:
    """Numbers of the links that have a station of which a condition is true."""
    return {
        number for (number,) in fetched(Station.objects.filter(condition).order_by().values_list("link_id"))
    }
