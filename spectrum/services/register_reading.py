"""Live stations of the register read as columns: one query, numbers and numbered words at once, no object a row."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Iterator, Sequence
from itertools import islice
from typing import Any

import numpy as np
from django.db import connection
from django.db.models import BooleanField, Q, QuerySet
from django.db.models.expressions import RawSQL

from sites.geodesy import inverse
from spectrum.conflicts.antenna_gain import is_omnidirectional
from spectrum.conflicts.columns import (
    COLUMN_TYPES,
    HUB,
    REMOTE,
    ROLES,
    BoolArray,
    Columns,
    FloatArray,
    IntArray,
)
from spectrum.conflicts.gather import Shared, fetched, links_of_stations, shared_in_force
from spectrum.conflicts.network import FAR_FUTURE, FAR_PAST
from spectrum.conflicts.snapshot import LinkTable, Register, SiteTable, Tables, Words
from spectrum.conflicts.snapshot.register import KINDS
from spectrum.models import Link, Station
from spectrum.radio.antennas.pointing import elevation_deg

ROWS_AT_A_TIME = 20_000
# Ranges of frequencies joined by "or" in one query.
RANGES_AT_A_TIME = 200
# Links that are named by their numbers in one query.
MOST_BY_NUMBER = 4_000

Links = Collection[int] | QuerySet[Any, Any]
Convert = Callable[[Sequence[Any]], np.ndarray]


def read_register(revision: int, links: Links | None = None, shared: Shared | None = None) -> Register:
    """Read all live stations, or those of some links; ``shared`` where it is at hand already."""
    live = Station.objects.filter(link__status__in=Link.LIVE)
    reading = _Reading(shared or shared_in_force())
    rows: QuerySet[Station, Any] = live.order_by("link_id", "label").values_list(*reading.convert)
    if links is None:
        waiting = rows.iterator(chunk_size=ROWS_AT_A_TIME)
        while batch := list(islice(waiting, ROWS_AT_A_TIME)):
            reading.take(batch)
    else:
        # In one piece: a server's cursor is planned for its first rows, which here walks all links.
        reading.take(fetched(rows.filter(_of_links(links))))
    return reading.register(revision)


def _of_links(links: Links) -> Q:
    """Stations of some links. Numbers stand in the statement itself: Django handles each of many parameters for long."""
    if isinstance(links, QuerySet) or not links:
        return Q(link__in=links)
    column = f"{connection.ops.quote_name(Station._meta.db_table)}.{connection.ops.quote_name('link_id')}"
    numbers = ",".join(str(int(number)) for number in links)
    return Q(RawSQL(f"{column} IN ({numbers})", (), output_field=BooleanField()))  # noqa: S611 - whole numbers


def links_with_station_in(ranges: Sequence[Q], links: Collection[int]) -> Links:
    """The links that have a station in one of the ranges, and those named: their numbers, or a query where they are many.

    A server that is told the numbers looks each of them up; of a query it expects ten times what comes, for it does
    not know how closely modes and frequencies go together, and walks whole tables.
    """
    numbers = {*links, *link_numbers_in(ranges)}
    conditions = list(joined(ranges))
    if len(numbers) <= MOST_BY_NUMBER or len(conditions) > 1 or len(links) > RANGES_AT_A_TIME:
        return sorted(numbers)
    return Station.objects.filter(conditions[0] | Q(link__in=sorted(links))).order_by().values("link_id")


def link_numbers_in(ranges: Sequence[Q]) -> set[int]:
    """Numbers of the links that have a station in one of the ranges."""
    found: set[int] = set()
    for condition in joined(ranges):
        found |= links_of_stations(condition)
    return found


def joined(conditions: Sequence[Q]) -> Iterator[Q]:
    """Conditions joined by "or", not too many to a query."""
    for start in range(0, len(conditions), RANGES_AT_A_TIME):
        either = Q()
        for condition in conditions[start : start + RANGES_AT_A_TIME]:
            either |= condition
        yield either


class _Words:
    """Numbers for words, in the order in which they come."""

    def __init__(self, known: Sequence[str] = ()) -> None:
        self._number = {word: i for i, word in enumerate(known)}

    def __call__(self, values: Sequence[str | None]) -> IntArray:
        known = self._number
        return _numbered(values, lambda word: known.setdefault(word or "", len(known)))

    def sorted(self, numbers: IntArray) -> tuple[list[str], IntArray]:
        """The words in alphabetical order, and the numbers in it."""
        words = sorted(self._number)
        place = np.empty(len(words), dtype=np.int64)
        for i, word in enumerate(words):
            place[self._number[word]] = i
        return words, place[numbers]


class _Reading:
    """Takes rows in batches and makes a register of them."""

    def __init__(self, shared: Shared) -> None:
        self._shared = shared
        self.roles, self.kinds = _Words(ROLES), _Words(KINDS)
        self.labels, self.authorities, self.environments = _Words(), _Words(), _Words()
        self.holders, self.statuses, self.assumptions = _Words(), _Words(), _Words()
        self.convert: dict[str, Convert] = {
            "id": _ints,
            "link_id": _ints,
            "label": self.labels,
            "role": self.roles,
            "site_id": _ints,
            "antenna_type_id": _keys(shared.antennas),
            "antenna_height_agl_m": _floats,
            "azimuth_deg": _floats,
            "tilt_deg": _floats,
            "polarisation": _vertical,
            "feeder_loss_db": _floats,
            "duplexer_loss_db": _floats,
            "mode_id": _keys(shared.modes),
            "tx_power_dbm": _floats,
            "tx_frequency_hz": _hertz,
            "rx_frequency_hz": _hertz,
            "licensed_channel__licence__authority__code": self.authorities,
            "link__code": _texts,
            "link__kind": self.kinds,
            "link__holder__name": self.holders,
            "link__holder__own": _flags,
            "link__status": self.statuses,
            "link__starts_on": _days(FAR_PAST.toordinal()),
            "link__ends_on": _days(FAR_FUTURE.toordinal()),
            "link__reserved_until": _days(0),
            "link__channel_plan_id": _keys(shared.plans),
            "link__assumptions": self.assumptions,
            "site__code": _texts,
            "site__latitude_deg": _floats,
            "site__longitude_deg": _floats,
            "site__ground_height_m": _floats,
            "site__environment": self.environments,
        }
        self._parts: dict[str, list[np.ndarray]] = {name: [] for name in self.convert}

    def take(self, rows: Sequence[tuple[Any, ...]]) -> None:
        """Some more rows, in the order of ``convert``."""
        columns = zip(*rows, strict=True) if rows else ((),) * len(self.convert)
        for (name, convert), values in zip(self.convert.items(), columns, strict=True):
            self._parts[name].append(convert(values))

    def register(self, revision: int) -> Register:
        """All that was taken."""
        self.take(())
        v = {name: np.concatenate(parts) for name, parts in self._parts.items()}
        antennas, modes = list(self._shared.antennas.values()), list(self._shared.modes.values())
        first = np.flatnonzero(np.diff(v["link_id"], prepend=-1))
        site_id, at, site = np.unique(v["site_id"], return_index=True, return_inverse=True)
        link = np.searchsorted(v["link_id"][first], v["link_id"])
        ground = v["site__ground_height_m"]
        values: dict[str, Any] = {
            "station_id": v["id"],
            "link_id": v["link_id"],
            "role": v["role"],
            "own": v["link__holder__own"],
            "latitude_deg": v["site__latitude_deg"],
            "longitude_deg": v["site__longitude_deg"],
            "ground_known": ~np.isnan(ground),
            "ground_height_m": np.nan_to_num(ground),
            "antenna_height_agl_m": v["antenna_height_agl_m"],
            "vertical": v["polarisation"],
            "line_losses_db": v["feeder_loss_db"] + v["duplexer_loss_db"],
            "antenna": v["antenna_type_id"],
            "mode": v["mode_id"],
            "gain_dbi": _floats([a.gain_dbi for a in antennas])[v["antenna_type_id"]],
            "xpd_db": _floats([a.cross_polar_discrimination_db for a in antennas])[v["antenna_type_id"]],
            "tx_power_dbm": v["tx_power_dbm"],
            "tx_hz": v["tx_frequency_hz"],
            "rx_hz": v["rx_frequency_hz"],
            "starts": v["link__starts_on"],
            "ends": v["link__ends_on"],
            "required_ci_db": _floats([m.required_ci_db for m in modes])[v["mode_id"]],
        }
        upright = np.array([is_omnidirectional(a) for a in antennas], dtype=bool)[v["antenna_type_id"]]
        values["azimuth_deg"], values["tilt_deg"] = _pointing(
            values, v["azimuth_deg"], v["tilt_deg"], upright=upright
        )
        made: dict[str, Any] = {
            name: np.ascontiguousarray(values[name].astype(kind, copy=False))
            for name, kind in COLUMN_TYPES.items()
        }
        labels, label = self.labels.sorted(v["label"])
        authorities, authority = self.authorities.sorted(v["licensed_channel__licence__authority__code"])
        environments, environment = self.environments.sorted(v["site__environment"])
        holders, holder = self.holders.sorted(v["link__holder__name"][first])
        statuses, status = self.statuses.sorted(v["link__status"][first])
        assumptions, assumed = self.assumptions.sorted(v["link__assumptions"][first])
        numbers = v["link_id"][first]
        return Register(
            revision=revision,
            columns=Columns(**made),
            words=Words(label, site, link, ~np.isnan(v["azimuth_deg"]), authority, environment),
            links=LinkTable(
                id=numbers,
                code=_texts(v["link__code"][first]),
                kind=v["link__kind"][first],
                holder=holder,
                status=status,
                reserved_until=v["link__reserved_until"][first],
                plan=v["link__channel_plan_id"][first],
            ),
            sites=SiteTable(site_id, _texts(v["site__code"][at])),
            tables=Tables(
                antennas, modes, list(self._shared.plans.values()), authorities, environments, labels,
                holders, statuses,
                {
                    int(numbers[i]): assumptions[assumed[i]]
                    for i in np.flatnonzero([bool(assumptions[a]) for a in assumed])
                },
            ),
        )  # fmt: skip


def _pointing(
    values: dict[str, Any], azimuth: FloatArray, tilt: FloatArray, *, upright: BoolArray
) -> tuple[FloatArray, FloatArray]:
    """Azimuth and tilt in effect, as the gatherer of records has them: entered, else toward the other end or the hub.

    ``upright``: the antennas that are not aimed.
    """
    link_id, role = _ints(values["link_id"]), values["role"]
    n = len(link_id)
    if not n:
        return azimuth, np.nan_to_num(tilt)
    first = np.searchsorted(link_id, link_id, side="left")
    last = np.searchsorted(link_id, link_id, side="right")
    numbers = np.arange(n)
    target = np.where(numbers == first, np.where(last - first > 1, first + 1, -1), first)
    hubs = numbers[role == HUB]
    place = np.searchsorted(link_id[hubs], link_id, side="left")
    hub = np.append(hubs, -1)[np.minimum(place, len(hubs))]
    has_hub = (hub >= 0) & (link_id[hub] == link_id)
    target = np.where(role == REMOTE, np.where(has_hub, hub, -1), target)
    target[role == HUB] = -1
    aimed = np.flatnonzero(target >= 0)
    to = target[aimed]
    latitude, longitude = values["latitude_deg"], values["longitude_deg"]
    height = values["ground_height_m"] + _floats(values["antenna_height_agl_m"])
    length_m, toward, _ = inverse(latitude[aimed], longitude[aimed], latitude[to], longitude[to])
    azimuth, tilt = azimuth.copy(), tilt.copy()
    unset = np.isnan(azimuth[aimed])
    azimuth[aimed[unset]] = toward[unset]
    up = np.zeros(len(aimed))
    apart = length_m > 0.0
    up[apart] = elevation_deg(length_m[apart] / 1e3, height[aimed][apart], height[to][apart])
    unset = np.isnan(tilt[aimed]) & ~upright[aimed]
    tilt[aimed[unset]] = up[unset]
    return azimuth, np.nan_to_num(tilt)


def _ints(values: Sequence[Any]) -> IntArray:
    return np.array(values, dtype=np.int64)


def _floats(values: Sequence[Any]) -> FloatArray:
    return np.array(values, dtype=np.float64)


def _flags(values: Sequence[Any]) -> np.ndarray:
    return np.array(values, dtype=np.bool_)


def _texts(values: Sequence[Any] | np.ndarray) -> np.ndarray:
    return np.array(values, dtype=np.str_)


def _hertz(values: Sequence[int | None]) -> IntArray:
    """None is 0; whole numbers up to 2^53 are themselves as floats."""
    return np.nan_to_num(np.array(values, dtype=np.float64)).astype(np.int64)


def _vertical(values: Sequence[str]) -> np.ndarray:
    return np.array(_numbered(values, "V".__eq__), dtype=np.bool_)


def _days(empty: int) -> Convert:
    def convert(values: Sequence[dt.date | None]) -> IntArray:
        return _numbered(values, lambda day: day.toordinal() if day else empty)

    return convert


def _keys(records: dict[int, Any]) -> Convert:
    """The place of a key among the records; −1 where there is none."""
    place: dict[int | None, int] = {key: i for i, key in enumerate(records)}

    def convert(values: Sequence[int | None]) -> IntArray:
        return _numbered(values, lambda key: place.get(key, -1))

    return convert


def _numbered(values: Sequence[Any], number: Callable[[Any], int]) -> IntArray:
    """A number for each value, asked for once for each different one."""
    numbers = {value: number(value) for value in dict.fromkeys(values)}
    return np.fromiter(map(numbers.__getitem__, values), dtype=np.int64, count=len(values))
