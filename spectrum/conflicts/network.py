"""The register as the engine sees it: plain records and, for the radio checks, columns of numbers."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from licences.limits import Allowance
from spectrum.radio.masks import Mask

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
    """A licence's dates; ``renewal_opens_on`` and ``last_filing_on`` follow from the authority's policy."""

    id: int
    name: str
    own: bool
    authority: str
    granted_on: dt.date
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


IntArray = npt.NDArray[np.int64]
FloatArray = npt.NDArray[np.float64]


@dataclass
class Network:
    """Everything one run looks at, as it stands on a date.

    ``stations`` are in a fixed order; the columns below have one entry a
    station. Frequencies are whole Hz, 0 where the station does not transmit
    (or receive); periods are ordinal days, both ends included.
    """

    as_of: dt.date
    stations: list[StationRecord]
    licences: list[LicenceRecord] = field(default_factory=list)
    channels: list[ChannelRecord] = field(default_factory=list)

    def __post_init__(self) -> None:
        s = self.stations
        self.antennas = list({id(x.antenna): x.antenna for x in s}.values())
        self.modes = list({id(x.mode): x.mode for x in s}.values())
        antenna_number = {id(a): i for i, a in enumerate(self.antennas)}
        mode_number = {id(m): i for i, m in enumerate(self.modes)}

        def floats(values: list[float]) -> FloatArray:
            return np.array(values, dtype=np.float64)

        def ints(values: list[int]) -> IntArray:
            return np.array(values, dtype=np.int64)

        self.link_id = ints([x.link.id for x in s])
        self.latitude_deg = floats([x.latitude_deg for x in s])
        self.longitude_deg = floats([x.longitude_deg for x in s])
        self.ground_known = np.array([x.ground_height_m is not None for x in s], dtype=bool)
        self.ground_height_m = floats([x.ground_height_m or 0.0 for x in s])
        self.antenna_height_agl_m = floats([x.antenna_height_agl_m for x in s])
        self.azimuth_deg = floats([np.nan if x.azimuth_deg is None else x.azimuth_deg for x in s])
        self.tilt_deg = floats([x.tilt_deg for x in s])
        self.vertical = np.array([x.polarisation == "V" for x in s], dtype=bool)
        self.line_losses_db = floats([x.line_losses_db for x in s])
        self.antenna = ints([antenna_number[id(x.antenna)] for x in s])
        self.mode = ints([mode_number[id(x.mode)] for x in s])
        self.gain_dbi = floats([x.antenna.gain_dbi for x in s])
        self.xpd_db = floats([x.antenna.cross_polar_discrimination_db for x in s])
        self.tx_power_dbm = floats([np.nan if x.tx_power_dbm is None else x.tx_power_dbm for x in s])
        self.tx_hz = ints([x.tx_frequency_hz or 0 for x in s])
        self.rx_hz = ints([x.rx_frequency_hz or 0 for x in s])
        self.starts = ints([x.link.starts_on.toordinal() for x in s])
        self.ends = ints([x.link.ends_on.toordinal() for x in s])
        self.authority = [x.channel.licence.authority if x.channel else "" for x in s]
        self.required_ci_db = floats([x.mode.required_ci_db for x in s])
        self.environment = np.array([x.environment for x in s], dtype=object)

        self._of_link: dict[int, list[int]] = {}
        for number, x in enumerate(s):
            self._of_link.setdefault(x.link.id, []).append(number)

    def __len__(self) -> int:
        return len(self.stations)

    def partners(self, station: int) -> list[int]:
        """The stations of the same link that this one listens to: the other end, the hub, or the remotes."""
        this = self.stations[station]
        others = [n for n in self._of_link[this.link.id] if n != station and self.tx_hz[n] > 0]
        if this.role == "remote":
            return [n for n in others if self.stations[n].role == "hub"]
        return others
