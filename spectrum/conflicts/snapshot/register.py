"""All live stations of a register as columns and tables; records are made of them one by one, when asked for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Hashable, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any, TypeVar, overload

import numpy as np
import numpy.typing as npt

from spectrum.conflicts.columns import ROLES, BoolArray, Columns, IntArray
from spectrum.conflicts.network import (
    AntennaRecord,
    LinkRecord,
    ModeRecord,
    Network,
    PlanRecord,
    StationRecord,
)

StrArray = npt.NDArray[np.str_]
KINDS = ("ptp", "ptmp")
# A finding asks for its two stations a dozen times; a run over the whole register does not keep them all.
MOST_KEPT = 4096
T = TypeVar("T", bound=Hashable)


@dataclass(frozen=True)
class Words:
    """What the records of stations hold besides the columns: one entry a station, numbers of table rows."""

    label: IntArray
    site: IntArray
    link: IntArray
    azimuth_entered: BoolArray
    authority: IntArray
    environment: IntArray


@dataclass(frozen=True)
class LinkTable:
    """One entry a link. ``reserved_until`` is an ordinal day, 0 for none; ``plan`` is −1 for none."""

    id: IntArray
    code: StrArray
    kind: IntArray
    holder: IntArray
    status: IntArray
    reserved_until: IntArray
    plan: IntArray


@dataclass(frozen=True)
class SiteTable:
    """One entry a site."""

    id: IntArray
    code: StrArray


@dataclass(frozen=True)
class Tables:
    """The few different things that many rows share, and the assumptions of links that have any."""

    antennas: list[AntennaRecord]
    modes: list[ModeRecord]
    plans: list[PlanRecord]
    authorities: list[str]
    environments: list[str]
    labels: list[str]
    holders: list[str]
    statuses: list[str]
    assumptions: dict[int, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Register:
    """Columns and tables of one revision; ``revision`` is the number of the last change that is in it."""

    revision: int
    columns: Columns
    words: Words
    links: LinkTable
    sites: SiteTable
    tables: Tables

    def __len__(self) -> int:
        return len(self.columns)

    def live(self, as_of: dt.date) -> Register:
        """The links that are or will be live on or after a date."""
        live = self.columns.ends >= as_of.toordinal()
        return self if live.all() else self.part(live)

    def site_ids(self) -> IntArray:
        """The key of every station's site."""
        return np.asarray(self.sites.id[self.words.site])

    def network(self, as_of: dt.date) -> Network:
        """The links that are or will be live on or after a date, ready for a run."""
        register = self.live(as_of)
        tables, words = register.tables, register.words
        return Network(
            as_of=as_of,
            stations=StationRows(register),
            columns=register.columns,
            antennas=tables.antennas,
            modes=tables.modes,
            authority=np.array(tables.authorities or [""], dtype=np.str_)[words.authority],
            environment=np.array(tables.environments or [""], dtype=np.str_)[words.environment],
        )

    def part(self, chosen: npt.NDArray[Any]) -> Register:
        """The stations chosen by a mask or by number; tables are kept whole."""
        words = Words(**{f.name: getattr(self.words, f.name)[chosen] for f in fields(Words)})
        return replace(self, columns=self.columns.part(chosen), words=words)

    def with_changes(self, gone: Collection[int], newer: Register) -> Register:
        """This register without the links ``gone`` (tombstones), and with the stations of ``newer`` (the delta).

        A changed link is in both. The result has the revision of ``newer`` and the order of stations that
        a register made anew would have.
        """
        buried = np.isin(self.columns.link_id, np.fromiter(gone, dtype=np.int64, count=len(gone)))
        base = self.part(~buried)
        mine, theirs = base.tables, newer.tables
        tables, maps = {}, {}
        for name in (
            "antennas",
            "modes",
            "plans",
            "authorities",
            "environments",
            "labels",
            "holders",
            "statuses",
        ):
            tables[name], maps[name] = _merged(getattr(mine, name), getattr(theirs, name))
        columns = base.columns.followed_by(
            replace(
                newer.columns,
                antenna=maps["antennas"][newer.columns.antenna],
                mode=maps["modes"][newer.columns.mode],
            )
        )
        words = Words(
            label=np.concatenate((base.words.label, maps["labels"][newer.words.label])),
            site=np.concatenate((base.words.site, newer.words.site + len(base.sites.id))),
            link=np.concatenate((base.words.link, newer.words.link + len(base.links.id))),
            azimuth_entered=np.concatenate((base.words.azimuth_entered, newer.words.azimuth_entered)),
            authority=np.concatenate((base.words.authority, maps["authorities"][newer.words.authority])),
            environment=np.concatenate(
                (base.words.environment, maps["environments"][newer.words.environment])
            ),
        )
        more = newer.links
        more = replace(
            more,
            holder=maps["holders"][more.holder],
            status=maps["statuses"][more.status],
            plan=np.append(maps["plans"], -1)[more.plan],
        )
        joined = Register(
            revision=newer.revision,
            columns=columns,
            words=words,
            links=_concatenated(base.links, more),
            sites=_concatenated(base.sites, newer.sites),
            tables=Tables(
                **tables,
                assumptions={k: v for k, v in mine.assumptions.items() if k not in gone} | theirs.assumptions,
            ),
        )
        names = np.array(joined.tables.labels, dtype=np.str_)[words.label]
        return joined.part(np.lexsort((names, columns.link_id)))


class StationRows(Sequence[StationRecord]):
    """The stations of a register as records, each made when it is asked for; the latest are kept."""

    def __init__(self, register: Register) -> None:
        self._register, self._size = register, len(register)
        self._links: dict[int, LinkRecord] = {}
        self._made: dict[int, StationRecord] = {}

    def __len__(self) -> int:
        return self._size

    @overload
    def __getitem__(self, index: int) -> StationRecord: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[StationRecord]: ...
    def __getitem__(self, index: int | slice) -> StationRecord | Sequence[StationRecord]:
        if isinstance(index, slice):
            return [self[i] for i in range(*index.indices(len(self)))]
        i = int(index)
        made = self._made.get(i)
        if made is not None:
            return made
        i = i if i >= 0 else self._size + i
        if not 0 <= i < self._size:
            raise IndexError(f"There are {self._size} stations; number {index} was asked for.")
        if len(self._made) >= MOST_KEPT:
            self._made.clear()
        self._made[i] = self._record(i)
        return self._made[i]

    def _record(self, i: int) -> StationRecord:
        c, w, tables = self._register.columns, self._register.words, self._register.tables
        site, azimuth, power = int(w.site[i]), float(c.azimuth_deg[i]), float(c.tx_power_dbm[i])
        return StationRecord(
            id=int(c.station_id[i]),
            link=self._link(i),
            label=tables.labels[w.label[i]],
            role=ROLES[c.role[i]],
            site_id=int(self._register.sites.id[site]),
            site_code=str(self._register.sites.code[site]),
            latitude_deg=float(c.latitude_deg[i]),
            longitude_deg=float(c.longitude_deg[i]),
            ground_height_m=float(c.ground_height_m[i]) if c.ground_known[i] else None,
            antenna_height_agl_m=float(c.antenna_height_agl_m[i]),
            azimuth_deg=None if np.isnan(azimuth) else azimuth,
            azimuth_entered=bool(w.azimuth_entered[i]),
            tilt_deg=float(c.tilt_deg[i]),
            polarisation="V" if c.vertical[i] else "H",
            line_losses_db=float(c.line_losses_db[i]),
            environment=tables.environments[w.environment[i]],
            antenna=tables.antennas[c.antenna[i]],
            mode=tables.modes[c.mode[i]],
            tx_power_dbm=None if np.isnan(power) else power,
            tx_frequency_hz=int(c.tx_hz[i]) or None,
            rx_frequency_hz=int(c.rx_hz[i]) or None,
        )

    def _link(self, i: int) -> LinkRecord:
        c, table, tables = self._register.columns, self._register.links, self._register.tables
        row = int(self._register.words.link[i])
        if row not in self._links:
            number, reserved, plan = int(table.id[row]), int(table.reserved_until[row]), int(table.plan[row])
            self._links[row] = LinkRecord(
                id=number,
                code=str(table.code[row]),
                kind=KINDS[table.kind[row]],
                holder=tables.holders[table.holder[row]],
                own=bool(c.own[i]),
                status=tables.statuses[table.status[row]],
                starts_on=dt.date.fromordinal(int(c.starts[i])),
                ends_on=dt.date.fromordinal(int(c.ends[i])),
                reserved_until=dt.date.fromordinal(reserved) if reserved else None,
                plan=None if plan < 0 else tables.plans[plan],
                assumptions=tables.assumptions.get(number, ""),
            )
        return self._links[row]


def _merged(mine: list[T], theirs: list[T]) -> tuple[list[T], IntArray]:
    """One table of both without doubles, and where each row of the second stands in it."""
    number = {value: i for i, value in enumerate(mine)}
    for value in theirs:
        number.setdefault(value, len(number))
    return list(number), np.array([number[value] for value in theirs], dtype=np.int64)


def _concatenated(one: Any, other: Any) -> Any:
    return type(one)(
        **{f.name: np.concatenate((getattr(one, f.name), getattr(other, f.name))) for f in fields(one)}
    )
