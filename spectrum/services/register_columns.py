"""The live stations of the register as columns, read column by column, kept in files until the register changes."""

from __future__ import annotations

import datetime as dt
import hashlib
import shutil
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from django.conf import settings
from django.db import connection
from django.db.models import Count, Max, QuerySet

from sites.geodesy import inverse
from sites.models import ChangeRecord, Site
from spectrum.conflicts.columns import COLUMN_TYPES, HUB, REMOTE, ROLES, Columns, FloatArray, IntArray
from spectrum.conflicts.gather import Shared, shared_in_force
from spectrum.conflicts.network import FAR_FUTURE, FAR_PAST
from spectrum.conflicts.snapshot import LinkTable, Register, SiteTable, Tables, Words, load, save
from spectrum.conflicts.snapshot.register import KINDS
from spectrum.models import Link, Station
from spectrum.radio.antennas.pointing import elevation_deg

KEPT_REVISIONS = 2
ROWS_AT_A_TIME = 20_000
_STATION = (
    "id", "link_id", "label", "role", "site_id", "antenna_type_id", "antenna_height_agl_m", "azimuth_deg",
    "tilt_deg", "polarisation", "feeder_loss_db", "duplexer_loss_db", "mode_id", "tx_power_dbm",
    "tx_frequency_hz", "rx_frequency_hz", "licensed_channel__licence__authority__code",
)  # fmt: skip
_LINK = (
    "id", "code", "kind", "holder__name", "holder__own", "status", "starts_on", "ends_on", "reserved_until",
    "channel_plan_id", "assumptions",
)  # fmt: skip
_SITE = ("id", "code", "latitude_deg", "longitude_deg", "ground_height_m", "environment")


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
    row = ChangeRecord.objects.aggregate(number=Max("id"), changes=Count("id"), at=Max("at"))
    return Revision(row["number"] or 0, row["changes"], row["at"])


def register_at(name: str) -> Register | None:
    """The register of the revision of that name, from its files or, if it is the present one, read and kept.

    None when the register has moved on and no file of that revision is at hand.
    """
    folder = _folder() / name
    kept = load(folder)
    if kept is not None:
        return kept
    revision = revision_now()
    if revision.name != name:
        return None
    register = read_register(revision)
    if revision_now() != revision:
        return None
    save(register, folder)
    _forget_old(folder)
    return load(folder)


def read_register(
    revision: Revision, links: Collection[int] | None = None, shared: Shared | None = None
) -> Register:
    """Read all live stations, or those of some links, column by column; ``shared`` where it is at hand already."""
    live: QuerySet[Any] = Link.objects.filter(status__in=Link.LIVE)
    stations: QuerySet[Any] = Station.objects.filter(link__status__in=Link.LIVE)
    sites: QuerySet[Any] = Site.objects.all()
    if links is not None:
        live, stations = live.filter(pk__in=links), stations.filter(link__in=links)
        sites = sites.filter(pk__in=stations.order_by().values("site_id"))
    s = _columns(stations.order_by("link_id", "label"), _STATION)
    of_links = _columns(live.order_by("id"), _LINK)
    of_sites = _columns(sites.order_by("id"), _SITE)
    shared = shared or shared_in_force()
    link = np.searchsorted(_ints(of_links["id"]), _ints(s["link_id"]))
    site = np.searchsorted(_ints(of_sites["id"]), _ints(s["site_id"]))
    antenna, antennas = _numbered(s["antenna_type_id"], shared.antennas)
    mode, modes = _numbered(s["mode_id"], shared.modes)
    authorities, authority = _table(
        ["" if a is None else a for a in s["licensed_channel__licence__authority__code"]]
    )
    environments, environment = _table(of_sites["environment"])
    labels, label = _table(s["label"])
    holders, holder = _table(of_links["holder__name"])
    statuses, status = _table(of_links["status"])
    plan, plans = _numbered(of_links["channel_plan_id"], shared.plans)
    role = _ints([ROLES.index(r) for r in s["role"]])
    ground_known = np.array([g is not None for g in of_sites["ground_height_m"]], dtype=bool)
    values: dict[str, Any] = {
        "station_id": s["id"],
        "link_id": s["link_id"],
        "role": role,
        "own": np.array(of_links["holder__own"], dtype=bool)[link],
        "latitude_deg": _floats(of_sites["latitude_deg"])[site],
        "longitude_deg": _floats(of_sites["longitude_deg"])[site],
        "ground_known": ground_known[site],
        "ground_height_m": np.nan_to_num(_floats(of_sites["ground_height_m"]))[site],
        "antenna_height_agl_m": s["antenna_height_agl_m"],
        "vertical": [p == "V" for p in s["polarisation"]],
        "line_losses_db": _floats(s["feeder_loss_db"]) + _floats(s["duplexer_loss_db"]),
        "antenna": antenna,
        "mode": mode,
        "gain_dbi": _floats([a.gain_dbi for a in antennas])[antenna],
        "xpd_db": _floats([a.cross_polar_discrimination_db for a in antennas])[antenna],
        "tx_power_dbm": _floats(s["tx_power_dbm"]),
        "tx_hz": [f or 0 for f in s["tx_frequency_hz"]],
        "rx_hz": [f or 0 for f in s["rx_frequency_hz"]],
        "starts": _days(of_links["starts_on"], FAR_PAST)[link],
        "ends": _days(of_links["ends_on"], FAR_FUTURE)[link],
        "required_ci_db": _floats([m.required_ci_db for m in modes])[mode],
    }
    entered = _floats(s["azimuth_deg"])
    values["azimuth_deg"], values["tilt_deg"] = _pointing(values, entered, _floats(s["tilt_deg"]))
    made: dict[str, Any] = {
        name: np.ascontiguousarray(np.asarray(values[name], dtype=kind))
        for name, kind in COLUMN_TYPES.items()
    }
    return Register(
        revision=revision.number,
        columns=Columns(**made),
        words=Words(label, site, link, ~np.isnan(entered), authority, environment[site]),
        links=LinkTable(
            id=_ints(of_links["id"]),
            code=np.array(of_links["code"], dtype=np.str_),
            kind=_ints([KINDS.index(k) for k in of_links["kind"]]),
            holder=holder,
            status=status,
            reserved_until=_ints([d.toordinal() if d else 0 for d in of_links["reserved_until"]]),
            plan=plan,
        ),
        sites=SiteTable(_ints(of_sites["id"]), np.array(of_sites["code"], dtype=np.str_)),
        tables=Tables(
            antennas, modes, plans, authorities, environments, labels, holders, statuses,
            {k: a for k, a in zip(of_links["id"], of_links["assumptions"], strict=True) if a},
        ),
    )  # fmt: skip


def _pointing(values: dict[str, Any], azimuth: FloatArray, tilt: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Azimuth and tilt in effect, as the gatherer of records has them: entered, else toward the other end or the hub."""
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
    unset = np.isnan(tilt[aimed])
    tilt[aimed[unset]] = up[unset]
    return azimuth, np.nan_to_num(tilt)


def _columns(rows: QuerySet[Any], names: tuple[str, ...]) -> dict[str, list[Any]]:
    columns: list[list[Any]] = [[] for _ in names]
    batch: list[tuple[Any, ...]] = []
    for row in rows.values_list(*names).iterator(chunk_size=ROWS_AT_A_TIME):
        batch.append(row)
        if len(batch) == ROWS_AT_A_TIME:
            _take(columns, batch)
    _take(columns, batch)
    return dict(zip(names, columns, strict=True))


def _take(columns: list[list[Any]], batch: list[tuple[Any, ...]]) -> None:
    for column, values in zip(columns, zip(*batch, strict=True), strict=False):
        column.extend(values)
    batch.clear()


def _ints(values: Any) -> IntArray:
    return np.asarray(values, dtype=np.int64)


def _floats(values: Any) -> FloatArray:
    return np.asarray(values, dtype=np.float64)


def _days(values: list[dt.date | None], empty: dt.date) -> IntArray:
    return _ints([(day or empty).toordinal() for day in values])


def _table(values: list[str]) -> tuple[list[str], IntArray]:
    """The different words, and the number of each value among them."""
    words = sorted(set(values))
    number = {word: i for i, word in enumerate(words)}
    return words, _ints([number[value] for value in values])


def _numbered(keys: list[int | None], records: dict[int, Any]) -> tuple[IntArray, list[Any]]:
    """The place of each key among the records, −1 where there is none, and the records in that order."""
    place: dict[int | None, int] = {key: i for i, key in enumerate(records)}
    return _ints([place.get(key, -1) for key in keys]), list(records.values())


def _folder() -> Path:
    """One folder of revisions for each database, for several may share the folder of an installation."""
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
