"""What is asked for one transmitting station, as plain figures that can be kept as they were filed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from typing import Any, Final

from licences.limits import DIPOLE_GAIN_DBI
from sites.geodesy import inverse
from sites.models import Site
from spectrum.comparison import eirp_dbm
from spectrum.conflicts.gather import one_link
from spectrum.models import Link, Station

#: What is kept of each station that listens.
RECEIVER: Final = frozenset({"site_id", "code", "name", "latitude_deg", "longitude_deg", "length_km"})


@dataclass(frozen=True)
class StationFigures:
    """One transmitting station and those that hear it; units in the names, None where the register does not know.

    ``receivers`` has one entry for each station that listens on the frequency: site code, name, latitude, longitude
    in degrees and path length in km. The keys ``*_id`` name where a figure is entered; None once that was removed.
    """

    label: str
    role: str
    site_id: int | None
    site_code: str
    site_name: str
    region: str
    latitude_deg: float
    longitude_deg: float
    ground_height_m: float | None
    structure_height_m: float | None
    receivers: list[dict[str, Any]]
    tx_frequency_hz: int
    rx_frequency_hz: int | None
    plan: str
    channel: int | None
    sends_high: bool | None
    channel_width_hz: int
    occupied_bandwidth_hz: int
    emission_designator: str
    modulation: str
    bit_rate_kbps: float
    radio_type_id: int | None
    radio: str
    receiver_threshold_dbm: float
    noise_figure_db: float
    tx_power_dbm: float
    line_losses_db: float
    antenna_type_id: int | None
    antenna: str
    gain_dbi: float
    beamwidth_deg: float | None
    polarisation: str
    azimuth_deg: float | None
    omnidirectional: bool
    tilt_deg: float
    antenna_height_agl_m: float
    starts_on: str

    @property
    def antenna_power_dbm(self) -> float:
        """Power delivered to the antenna: output less feeder and duplexer."""
        return self.tx_power_dbm - self.line_losses_db

    @property
    def eirp_dbm(self) -> float:
        """Radiated power in the main direction (RR 1.161)."""
        return self.antenna_power_dbm + self.gain_dbi

    @property
    def erp_dbm(self) -> float:
        """The same against a half-wave dipole (RR 1.162)."""
        return self.eirp_dbm - DIPOLE_GAIN_DBI

    def as_json(self) -> dict[str, Any]:
        return asdict(self)

    @classmethod
    def from_json(cls, kept: dict[str, Any]) -> StationFigures:
        return cls(**{field.name: kept[field.name] for field in fields(cls)})


def figures_of_link(link: Link, today: dt.date) -> list[tuple[Station, StationFigures]]:
    """The figures of every station of a link that transmits, in the order of its labels."""
    records = {record.id: record for record in one_link(link, today).stations}
    stations = list(link.stations.all())
    found = []
    for station in stations:
        record = records[station.pk]
        if record.tx_frequency_hz is None or eirp_dbm(record) is None:
            continue
        site, mode, antenna = station.site, station.mode, station.antenna_type
        plan, number, sends_high = _channel(link, record.tx_frequency_hz)
        figures = StationFigures(
            label=station.label,
            role=station.get_role_display(),
            site_id=site.pk,
            site_code=site.code,
            site_name=site.name,
            region=site.region,
            latitude_deg=site.latitude_deg,
            longitude_deg=site.longitude_deg,
            ground_height_m=site.ground_height_m,
            structure_height_m=site.structure_height_m,
            receivers=_receivers(station, stations),
            tx_frequency_hz=record.tx_frequency_hz,
            rx_frequency_hz=record.rx_frequency_hz,
            plan=plan,
            channel=number,
            sends_high=sends_high if number is not None else _higher(station),
            channel_width_hz=mode.channel_width_hz,
            occupied_bandwidth_hz=mode.occupied_bandwidth_hz,
            emission_designator=mode.emission_designator,
            modulation=mode.modulation,
            bit_rate_kbps=mode.bit_rate_kbps,
            radio_type_id=station.radio_type_id,
            radio=station.radio_type.name,
            receiver_threshold_dbm=mode.receiver_threshold_dbm,
            noise_figure_db=station.radio_type.noise_figure_db,
            tx_power_dbm=float(station.tx_power_dbm or 0.0),
            line_losses_db=record.line_losses_db,
            antenna_type_id=antenna.pk,
            antenna=antenna.name,
            gain_dbi=antenna.gain_dbi,
            beamwidth_deg=antenna.beamwidth_deg,
            polarisation=station.polarisation,
            azimuth_deg=None if record.azimuth_deg is None else float(record.azimuth_deg),
            omnidirectional=antenna.pattern == antenna.Pattern.F1336_OMNI,
            tilt_deg=float(record.tilt_deg),
            antenna_height_agl_m=station.antenna_height_agl_m,
            starts_on=link.starts_on.isoformat() if link.starts_on else "",
        )
        found.append((station, figures))
    return found


def _receivers(sender: Station, stations: Sequence[Station]) -> list[dict[str, Any]]:
    """Who listens to a station within its link, with the length of each path."""
    heard = [s for s in stations if s.pk != sender.pk and s.rx_frequency_hz == sender.tx_frequency_hz]
    return [
        {
            "site_id": s.site.pk,
            "code": s.site.code,
            "name": s.site.name,
            "latitude_deg": s.site.latitude_deg,
            "longitude_deg": s.site.longitude_deg,
            "length_km": _length_km(sender.site, s.site),
        }
        for s in heard
    ]


def _length_km(one: Site, other: Site) -> float:
    here, there = (one.latitude_deg, one.longitude_deg), (other.latitude_deg, other.longitude_deg)
    return float(inverse(*here, *there)[0]) / 1e3


def _channel(link: Link, frequency_hz: int) -> tuple[str, int | None, bool]:
    """The plan's code, the channel whose go or return frequency this is, and whether it is the higher of the two."""
    plan = link.channel_plan
    if plan is None:
        return "", None, False
    for offset_hz in (0, plan.duplex_spacing_hz):
        steps, rest = divmod(frequency_hz - plan.first_go_hz - offset_hz, plan.spacing_hz)
        if rest == 0 and 0 <= steps < plan.channel_count:
            pair = plan.pair_hz(steps + 1)
            return plan.code, steps + 1, frequency_hz == max(pair)
    return plan.code, None, False


def _higher(station: Station) -> bool | None:
    if station.tx_frequency_hz is None or station.rx_frequency_hz in (None, station.tx_frequency_hz):
        return None
    return station.tx_frequency_hz > (station.rx_frequency_hz or 0)
