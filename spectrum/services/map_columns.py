"""The register's places and lines as columns for the map, kept and brought up to date by what changed.

They are kept in the memory of the process and in a file, so that a process that has just started, or another one
beside it, reads only what changed since the file was written. Those of another day are read as a whole, inside
``register_on(day)``, and kept in memory for as long as the register stays.
"""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Iterable
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np
from django.db import connection, models
from django.db.models import Count, Max, Min, QuerySet

from licences.models import Holder
from sites.models import ChangeRecord, Site
from sites.on_day import day_shown
from sites.terrain.lru import LeastRecentlyUsed
from spectrum.models import Finding, Link, Station
from spectrum.network_map import ENDED, NONE_OPEN, NOT_YET, ON_AIR, MapColumns, map_columns
from spectrum.network_map.columns import IntArray
from spectrum.services import map_files
from spectrum.services.register_columns import Revision, files_of_this_database

ROWS_AT_A_TIME = 20_000
#: More changes than this and everything is read again.
MOST_CHANGES = 2_000
ASKED_AT_ONCE = 500
#: What the columns of other days may take in memory.
DAYS_BYTES = 64_000_000
STAGE = {
    Link.Status.ON_AIR: ON_AIR,
    Link.Status.PLANNED: NOT_YET,
    Link.Status.FILED: NOT_YET,
    Link.Status.GRANTED: NOT_YET,
    Link.Status.LAPSED: ENDED,
    Link.Status.RETIRED: ENDED,
}
BEGINS = (Station.Role.A, Station.Role.HUB)
#: The file is written anew when bringing it up to date means reading more rows than this.
MOST_CHANGES_ON_FILE = 200
Table = dict[str, np.ndarray]
Tables = dict[type[models.Model], Table]

_FIELDS: dict[type[models.Model], tuple[tuple[str, str, Any], ...]] = {
    Site: (
        ("id", "id", np.int64), ("code", "code", np.str_), ("latitude_deg", "latitude_deg", np.float64),
        ("longitude_deg", "longitude_deg", np.float64), ("own", "own", np.bool_),
    ),
    Link: (
        ("id", "id", np.int64), ("code", "code", np.str_), ("holder", "holder_id", np.int64),
        ("status", "status", np.str_),
    ),
    Station: (
        ("id", "id", np.int64), ("link", "link_id", np.int64), ("site", "site_id", np.int64),
        ("role", "role", np.str_),
    ),
}  # fmt: skip
_WATCHED = {model._meta.label_lower: model for model in _FIELDS}


@dataclass(frozen=True)
class Kept:
    """The tables of one revision, and the columns made of them."""

    database: str
    revision: Revision
    tables: Tables
    columns: MapColumns
    on_file: int  # number of changes when the file was written


@dataclass(frozen=True)
class Worst:
    """The rank of the worst open finding of every line and site of the columns, NONE_OPEN where there is none."""

    lines: IntArray
    sites: IntArray


_lock = threading.Lock()
_kept: Kept | None = None


def _bytes_of(columns: MapColumns) -> int:
    return sum(getattr(columns, column.name).nbytes for column in fields(columns))


_days: LeastRecentlyUsed[tuple[str, Revision, dt.date], MapColumns] = LeastRecentlyUsed(DAYS_BYTES, _bytes_of)


def columns_at(revision: Revision) -> MapColumns:
    """The columns of the register as it is being shown: of a day, or at its present revision.

    Those of the present are the ones kept, brought up to date, or read anew.
    """
    global _kept  # noqa: PLW0603 - one memory for the process
    database = str(connection.settings_dict["NAME"])
    if (day := day_shown()) is not None:
        return _columns_of_day(database, revision, day)
    with _lock:
        kept = _kept if _kept is not None and _kept.database == database else None
        if kept is None or kept.revision != revision:
            kept = _kept = _at(revision, kept, database)
        return kept.columns


def _at(revision: Revision, kept: Kept | None, database: str) -> Kept:
    if kept is not None:
        tables, on_file = _brought_up(kept.tables, kept.revision, revision), kept.on_file
    else:
        tables, on_file = None, 0
        if (filed := _from_file()) is not None:
            tables, on_file = _brought_up(filed[1], filed[0], revision), filed[0].changes
    read_anew = tables is None
    if tables is None:
        tables = {model: _read(model._default_manager.all()) for model in _FIELDS}
    if read_anew or revision.changes - on_file > MOST_CHANGES_ON_FILE:
        map_files.save(_file(), revision, {_name(model): table for model, table in tables.items()})
        on_file = revision.changes
    return Kept(database, revision, tables, _columns_of(tables), on_file)


def _file() -> Path:
    return files_of_this_database() / "map.npz"


def _name(model: type[models.Model]) -> str:
    return model._meta.model_name or ""


def _from_file() -> tuple[Revision, Tables] | None:
    """What the file holds and the revision it was written at; None where there is none that this code reads."""
    found = map_files.load(
        _file(), {_name(m): [name for name, _, _ in fields] for m, fields in _FIELDS.items()}
    )
    return None if found is None else (found[0], {model: found[1][_name(model)] for model in _FIELDS})


def _columns_of_day(database: str, revision: Revision, day: dt.date) -> MapColumns:
    columns = _days.get((database, revision, day))
    if columns is None:
        columns = _columns_of({model: _read(model._default_manager.all()) for model in _FIELDS})
        _days.put((database, revision, day), columns)
    return columns


def _brought_up(tables: Tables, known: Revision, revision: Revision) -> Tables | None:
    """The tables of a known revision with the rows that changed since; None where that is not known or too much."""
    if known == revision:
        return tables
    last = ChangeRecord.objects.filter(id=known.number).values_list("at", flat=True).first()
    if last is None or last != known.at:
        return None  # another history: a backup was put back
    since = ChangeRecord.objects.filter(id__gt=known.number).order_by()
    changed = list(since.values_list("object_type", "object_id")[: MOST_CHANGES + 1])
    missed = revision.changes - known.changes != len(changed)  # one was committed late
    holders = any(kind == Holder._meta.label_lower for kind, _ in changed)
    if missed or holders or len(changed) > MOST_CHANGES:
        return None
    tables = dict(tables)
    for label, model in _WATCHED.items():
        ids = sorted({number for kind, number in changed if kind == label})
        if ids:
            tables[model] = _exchanged(tables[model], model, ids)
    return tables


def _exchanged(table: Table, model: type[models.Model], ids: list[int]) -> Table:
    """A table without the rows of these ids, and with those that the database has under them now."""
    stays = ~np.isin(table["id"], ids)
    parts = [{name: column[stays] for name, column in table.items()}]
    for start in range(0, len(ids), ASKED_AT_ONCE):
        part = ids[start : start + ASKED_AT_ONCE]
        parts.append(_read(model._default_manager.filter(pk__in=part)))
    return {name: np.concatenate([part[name] for part in parts]) for name in table}


def _read(rows: QuerySet[Any]) -> Table:
    """The fields of a model's rows, as columns."""
    fields = _FIELDS[rows.model]
    columns: list[list[Any]] = [[] for _ in fields]
    for batch in _batches(rows.order_by().values_list(*(field for _, field, _ in fields))):
        for column, values in zip(columns, zip(*batch, strict=True), strict=True):
            column.extend(values)
    return {
        name: np.array(column, dtype=kind) for (name, _, kind), column in zip(fields, columns, strict=True)
    }


def _batches(rows: QuerySet[Any]) -> Iterable[list[Any]]:
    batch: list[Any] = []
    for row in rows.iterator(chunk_size=ROWS_AT_A_TIME):
        batch.append(row)
        if len(batch) == ROWS_AT_A_TIME:
            yield batch
            batch = []
    if batch:
        yield batch


def _columns_of(tables: dict[type[models.Model], Table]) -> MapColumns:
    sites, links, stations = tables[Site], tables[Link], tables[Station]
    own = np.array(list(Holder.objects.filter(own=True).values_list("pk", flat=True)), dtype=np.int64)
    stage = np.zeros(len(links["id"]), dtype=np.int64)
    for status, number in STAGE.items():
        stage[links["status"] == status] = number
    # A station that was read after its link went, or the other way round, waits for the next revision.
    whole = np.isin(stations["link"], links["id"]) & np.isin(stations["site"], sites["id"])
    stations = {name: column[whole] for name, column in stations.items()}
    return map_columns(
        (sites["id"], sites["code"], sites["latitude_deg"], sites["longitude_deg"], sites["own"]),
        (links["id"], links["code"], stage, np.isin(links["holder"], own)),
        (stations["link"], stations["site"], np.isin(stations["role"], BEGINS)),
    )


def findings_state() -> str:
    """One word that changes whenever a check stores findings; what people decide moves the register's revision."""
    state = Finding.objects.aggregate(count=Count("id"), seen=Max("last_seen_at"), gone=Max("gone_at"))
    return "-".join(str(value) for value in state.values())


def worst_open(c: MapColumns) -> Worst:
    """The worst open finding of each line (its link being on either side of it) and of each site.

    Findings are not kept by day: of another day there are none.
    """
    if day_shown() is not None:
        return Worst(np.full(len(c.line_link), NONE_OPEN), np.full(len(c.site_id), NONE_OPEN))
    return Worst(
        np.minimum(_ranks(c.line_link, "link"), _ranks(c.line_link, "other_link")), _ranks(c.site_id, "site")
    )


def _ranks(ids: IntArray, party: str) -> IntArray:
    """The least rank of the open findings of which each id is the party."""
    still_open = Finding.objects.filter(
        gone_at=None, accepted_at=None, **{f"{party}__isnull": False}
    ).order_by()
    rows = list(still_open.values_list(party).annotate(worst=Min("rank")))
    ranks = np.full(len(ids), NONE_OPEN, dtype=np.int64)
    if rows and len(ids):
        found = np.array(rows, dtype=np.int64)
        found = found[np.argsort(found[:, 0])]
        place = np.minimum(np.searchsorted(found[:, 0], ids), len(found) - 1)
        hit = found[place, 0] == ids
        ranks[hit] = found[place[hit], 1]
    return ranks
