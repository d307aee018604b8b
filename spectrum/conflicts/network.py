"""The register as the engine sees it: plain records and, for the radio checks, columns of numbers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, TypeVar, overload

import numpy as np
import numpy.typing as npt

from licences.limits import Allowance
from licences.standing import (
    RenewalDates,
    Standing,
    channel_dates,
    runs_out_before,
    standing_by_dates,
)
from spectrum.radio.masks import Mask

from .columns import COLUMN_TYPES, HUB, REMOTE, ROLES, Columns, IntArray

T = TypeVar("T")
StrArray = npt.NDArray[np.str_]

FAR_FUTURE = dt.date(9999, 12, 31)
FAR_PAST = dt.date(1, 1, 1)


@dataclass(frozen=True)
class AntennaRecord:
    """An antenna type, as the pattern functions need it."""

    name: str
    pattern: str
    gain_dbi: float
    frequency_min_mhz: float
    frequency_max_mhz: float
    cross_polar_discrimination_db: float
    diameter_m: float | None = None
    beamwidth_deg: float | None = None
    points: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class ModeRecord:
    """A radio in one of its modes. ``nominal_masks`` says which masks are stand-ins."""

    name: str
    channel_width_hz: int
    occupied_bandwidth_hz: int
    emission_designator: str
    modulation: str
    noise_figure_db: float
    tuning_min_mhz: float
    tuning_max_mhz: float
    power_min_dbm: float
    power_max_dbm: float
    emission: Mask
    selectivity: Mask
    required_ci_db: float
    nominal_masks: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlanRecord:
    """A channel plan in whole Hz."""

    code: str
    first_go_hz: int
    spacing_hz: int
    channel_count: int
    duplex_spacing_hz: int


@dataclass(frozen=True)
class LicenceRecord:
    """A licence's dates; ``renewal_opens_on`` and ``last_filing_on`` follow from the authority's policy.

    ``granted_on`` None: applied for, and in force in the far future at the earliest. ``continues``: it stays
    in force after ``expires_on`` until its renewal is decided.
    """

    id: int
    name: str
    own: bool
    authority: str
    granted_on: dt.date | None
    in_force_from: dt.date
    expires_on: dt.date | None
    ended_on: dt.date | None
    renewal_filed_on: dt.date | None
    bring_into_use_by: dt.date | None
    brought_into_use_on: dt.date | None
    renewal_opens_on: dt.date | None
    last_filing_on: dt.date | None
    unused_after_days: int
    yearly_fee: str = ""
    ended_how: str = ""
    use_notice_by: dt.date | None = None
    use_notified_on: dt.date | None = None
    let_expire_on: dt.date | None = None
    fee_due_on: dt.date | None = None
    fee_lapses_on: dt.date | None = None
    continues: bool = False


@dataclass(frozen=True)
class ChannelRecord:
    """A licensed channel: its limits and its own dates (its licence's where it has none)."""

    id: int
    name: str
    licence: LicenceRecord
    allowance: Allowance
    site_id: int | None
    in_force_from: dt.date
    expires_on: dt.date | None
    ended_on: dt.date | None
    ended_how: str = ""

    def standing(self, on: dt.date) -> Standing:
        """How the channel stands on a day, by the rules of licences.standing."""
        if self.licence.granted_on is None and self.licence.ended_on is None:
            return Standing.APPLIED
        dates = channel_dates(
            self.licence,
            in_force_from=self.in_force_from,
            expires_on=self.expires_on,
            ended_on=self.ended_on,
            ended_how=self.ended_how,
        )
        renewal = None
        if self.licence.renewal_opens_on and self.licence.last_filing_on and dates.expires_on:
            renewal = RenewalDates(
                self.licence.renewal_opens_on,
                self.licence.last_filing_on,
                dates.expires_on,
                self.licence.continues,
            )
        return standing_by_dates(dates, renewal, on)

    @property
    def last_day(self) -> dt.date:
        """The last day on which it allows transmission; ``ended_on`` is the first day without it.

        It has none by its expiry while its licence continues, unless it runs out before its licence.
        """
        if self.licence.continues and not runs_out_before(self.expires_on, self.licence.expires_on):
            return self._last_day([])
        return self.stated_last_day

    @property
    def stated_last_day(self) -> dt.date:
        """The same as the paper states it, whether or not the licence continues beyond its expiry."""
        return self._last_day([d for d in (self.expires_on, self.licence.expires_on) if d is not None])

    def _last_day(self, ends: list[dt.date]) -> dt.date:
        ends += [d - dt.timedelta(days=1) for d in (self.ended_on, self.licence.ended_on) if d is not None]
        return min(ends, default=FAR_FUTURE)


@dataclass(frozen=True)
class LinkRecord:
    """A link: who, what standing, when."""

    id: int
    code: str
    kind: str
    holder: str
    own: bool
    status: str
    starts_on: dt.date
    ends_on: dt.date
    reserved_until: dt.date | None
    plan: PlanRecord | None
    assumptions: str = ""


@dataclass(frozen=True)
class StationRecord:
    """One end of a link. Azimuth and tilt are those in effect: entered, or computed toward the other end."""

    id: int
    link: LinkRecord
    label: str
    role: str
    site_id: int
    site_code: str
    latitude_deg: float
    longitude_deg: float
    ground_height_m: float | None
    antenna_height_agl_m: float
    azimuth_deg: float | None
    azimuth_entered: bool
    tilt_deg: float
    polarisation: str
    line_losses_db: float
    environment: str
    antenna: AntennaRecord
    mode: ModeRecord
    tx_power_dbm: float | None
    tx_frequency_hz: int | None
    rx_frequency_hz: int | None
    channel: ChannelRecord | None = None

    @property
    def name(self) -> str:
        return f"{self.link.code}/{self.label}"


@dataclass
class Network:
    """Everything one run looks at, as it stands on a date.

    ``stations`` are in a fixed order, and the columns (see :class:`.columns.Columns`) have one entry a
    station. Made of records, the columns are taken from them; a large register comes with its ``columns``,
    ``antennas``, ``modes``, and with ``stations`` that are made when asked for.
    """

    as_of: dt.date
    stations: Sequence[StationRecord]
    licences: list[LicenceRecord] = field(default_factory=list)
    channels: list[ChannelRecord] = field(default_factory=list)
    columns: Columns | None = None
    antennas: list[AntennaRecord] = field(default_factory=list)
    modes: list[ModeRecord] = field(default_factory=list)
    authority: StrArray = field(default_factory=lambda: np.empty(0, dtype=np.str_))
    environment: StrArray = field(default_factory=lambda: np.empty(0, dtype=np.str_))

    def __post_init__(self) -> None:
        if self.columns is None:
            self.columns, self.antennas, self.modes = columns_of(self.stations)
            self.authority = _strings(x.channel.licence.authority if x.channel else "" for x in self.stations)
            self.environment = _strings(x.environment for x in self.stations)
        c = self.columns
        self.station_id, self.link_id, self.role, self.own = c.station_id, c.link_id, c.role, c.own
        self.latitude_deg, self.longitude_deg = c.latitude_deg, c.longitude_deg
        self.ground_known, self.ground_height_m = c.ground_known, c.ground_height_m
        self.antenna_height_agl_m, self.azimuth_deg, self.tilt_deg = (
            c.antenna_height_agl_m,
            c.azimuth_deg,
            c.tilt_deg,
        )
        self.vertical, self.line_losses_db = c.vertical, c.line_losses_db
        self.antenna, self.mode = c.antenna, c.mode
        self.gain_dbi, self.xpd_db = c.gain_dbi, c.xpd_db
        self.tx_power_dbm, self.tx_hz, self.rx_hz = c.tx_power_dbm, c.tx_hz, c.rx_hz
        self.starts, self.ends, self.required_ci_db = c.starts, c.ends, c.required_ci_db

    def __len__(self) -> int:
        return len(self.link_id)

    def wanted_pairs(self, receivers: IntArray) -> tuple[IntArray, IntArray]:
        """Every receiver named with each station of its link that it listens to, on its frequency.

        An end listens to the other end, a remote to the hub, a hub to its remotes.
        """
        sends = np.flatnonzero(self.tx_hz > 0)
        parts = []
        for listeners, senders in (
            (receivers[self.role[receivers] == REMOTE], sends[self.role[sends] == HUB]),
            (receivers[self.role[receivers] != REMOTE], sends),
        ):
            ordered = senders[np.argsort(self.link_id[senders], kind="stable")]
            tx, rx = joined(self.link_id[ordered], ordered, self.link_id[listeners], listeners)
            heard = (tx != rx) & (self.tx_hz[tx] == self.rx_hz[rx])
            parts.append((tx[heard], rx[heard]))
        return np.concatenate([tx for tx, _ in parts]), np.concatenate([rx for _, rx in parts])


def with_records(network: Network, records: Sequence[StationRecord], *, but: int | None = None) -> Network:
    """A network with stations given as records after its own, and without the link ``but``.

    Nothing is made of the network's own stations; licences and channels are left out.
    """
    kept = np.flatnonzero(network.link_id != but) if but is not None else np.arange(len(network))
    added = Network(as_of=network.as_of, stations=records)
    antennas, antenna = _one_table(network.antennas, added.antennas)
    modes, mode = _one_table(network.modes, added.modes)
    columns, more = network.columns, added.columns
    if columns is None or more is None:
        raise TypeError("A network has columns once it is made.")
    return Network(
        as_of=network.as_of,
        stations=_Chained(network.stations, kept, records),
        columns=columns.part(kept).followed_by(
            replace(more, antenna=antenna[more.antenna], mode=mode[more.mode])
        ),
        antennas=antennas,
        modes=modes,
        authority=np.concatenate((network.authority[kept], added.authority)),
        environment=np.concatenate((network.environment[kept], added.environment)),
    )


def _one_table(mine: list[T], theirs: list[T]) -> tuple[list[T], IntArray]:
    """What two tables hold, once each, after the first as it is; and where each row of the second stands."""
    table, number = list(mine), {value: i for i, value in enumerate(mine)}
    for value in theirs:
        if value not in number:
            number[value] = len(table)
            table.append(value)
    return table, np.array([number[value] for value in theirs], dtype=np.int64)


class _Chained(Sequence[StationRecord]):
    """Some stations of one sequence, then all of another, each taken when it is asked for."""

    def __init__(
        self, first: Sequence[StationRecord], kept: IntArray, second: Sequence[StationRecord]
    ) -> None:
        self._first, self._kept, self._second = first, kept, second

    def __len__(self) -> int:
        return len(self._kept) + len(self._second)

    @overload
    def __getitem__(self, index: int) -> StationRecord: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[StationRecord]: ...
    def __getitem__(self, index: int | slice) -> StationRecord | Sequence[StationRecord]:
        if isinstance(index, slice):
            return [self[i] for i in range(*index.indices(len(self)))]
        i = int(index) if index >= 0 else len(self) + int(index)
        if not 0 <= i < len(self):
            raise IndexError(f"There are {len(self)} stations; number {index} was asked for.")
        return self._first[int(self._kept[i])] if i < len(self._kept) else self._second[i - len(self._kept)]


def joined(
    sorted_keys: IntArray, values: IntArray, wanted: IntArray, askers: IntArray
) -> tuple[IntArray, IntArray]:
    """Each asker with every value whose key is the wanted one: an inner join of sorted keys."""
    first = np.searchsorted(sorted_keys, wanted, side="left")
    last = np.searchsorted(sorted_keys, wanted, side="right")
    return expanded(values, first, last, askers)


def expanded(
    values: IntArray, first: IntArray, last: IntArray, askers: IntArray
) -> tuple[IntArray, IntArray]:
    """Each asker with ``values[first:last]`` of its own first and last."""
    count = np.maximum(last - first, 0)
    within = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    return values[np.repeat(first, count) + within], np.repeat(askers, count)


def columns_of(
    stations: Sequence[StationRecord],
) -> tuple[Columns, list[AntennaRecord], list[ModeRecord]]:
    """Columns of records, with the tables of antennas and modes that they count in."""
    s = list(stations)
    antennas = list({id(x.antenna): x.antenna for x in s}.values())
    modes = list({id(x.mode): x.mode for x in s}.values())
    antenna_number = {id(a): i for i, a in enumerate(antennas)}
    mode_number = {id(m): i for i, m in enumerate(modes)}
    values: dict[str, list[Any]] = {
        "station_id": [x.id for x in s],
        "link_id": [x.link.id for x in s],
        "role": [ROLES.index(x.role) for x in s],
        "own": [x.link.own for x in s],
        "latitude_deg": [x.latitude_deg for x in s],
        "longitude_deg": [x.longitude_deg for x in s],
        "ground_known": [x.ground_height_m is not None for x in s],
        "ground_height_m": [x.ground_height_m or 0.0 for x in s],
        "antenna_height_agl_m": [x.antenna_height_agl_m for x in s],
        "azimuth_deg": [np.nan if x.azimuth_deg is None else x.azimuth_deg for x in s],
        "tilt_deg": [x.tilt_deg for x in s],
        "vertical": [x.polarisation == "V" for x in s],
        "line_losses_db": [x.line_losses_db for x in s],
        "antenna": [antenna_number[id(x.antenna)] for x in s],
        "mode": [mode_number[id(x.mode)] for x in s],
        "gain_dbi": [x.antenna.gain_dbi for x in s],
        "xpd_db": [x.antenna.cross_polar_discrimination_db for x in s],
        "tx_power_dbm": [np.nan if x.tx_power_dbm is None else x.tx_power_dbm for x in s],
        "tx_hz": [x.tx_frequency_hz or 0 for x in s],
        "rx_hz": [x.rx_frequency_hz or 0 for x in s],
        "starts": [x.link.starts_on.toordinal() for x in s],
        "ends": [x.link.ends_on.toordinal() for x in s],
        "required_ci_db": [x.mode.required_ci_db for x in s],
    }
    made: dict[str, Any] = {name: np.array(values[name], dtype=kind) for name, kind in COLUMN_TYPES.items()}
    return Columns(**made), antennas, modes


def _strings(values: Iterable[str]) -> StrArray:
    return np.array(list(values), dtype=np.str_)
