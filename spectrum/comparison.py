"""A station beside its licensed channel, limit by limit, as text for a table."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.limits import DIPOLE_GAIN_DBI, Allowance, LimitResult
from sites.templatetags.figures import NOT_KNOWN, fixed, khz, mhz, power
from spectrum.conflicts.licence_checks import compare_station
from spectrum.conflicts.network import ChannelRecord, StationRecord

_TITLES = {
    "frequency": _("frequency"),
    "channel_width": _("channel width"),
    "occupied_bandwidth": _("occupied bandwidth"),
    "emission": _("emission"),
    "modulation": _("modulation"),
    "power": _("power"),
    "position": _("position"),
    "antenna_height": _("antenna height"),
    "azimuth": _("azimuth"),
    "polarisation": _("polarisation"),
}
_POWER_KINDS = {"tx_output": _("transmitter output"), "erp": "e.r.p.", "eirp": "e.i.r.p."}
_SHOWN_DECIMALS = {"Hz": 0, "m": 0, "dB": 1, "deg": 1}


@dataclass(frozen=True)
class LimitRow:
    """One limit: what is licensed, what is used, the margin, and the verdict (None: cannot be judged)."""

    title: str
    licensed: str
    used: str
    margin: str
    within: bool | None
    sentence: str


def limit_rows(station: StationRecord, channel: ChannelRecord) -> list[LimitRow]:
    """Every limit of a licensed channel beside what a transmitting station does."""
    rows = []
    for result in compare_station(station, channel):
        licensed, used = _texts(result, station, channel.allowance)
        rows.append(
            LimitRow(
                _title(result, channel.allowance),
                licensed,
                used,
                _margin(result),
                result.within,
                result.sentence,
            )
        )
    return rows


def eirp_dbm(station: StationRecord) -> float | None:
    """Radiated power of a station in its main direction (RR 1.161): output, less line losses, plus antenna gain."""
    if station.tx_power_dbm is None:
        return None
    return station.tx_power_dbm - station.line_losses_db + station.antenna.gain_dbi


def _title(result: LimitResult, allowed: Allowance) -> str:
    title = str(_TITLES[result.kind])
    return f"{title} ({_POWER_KINDS[allowed.power_kind]})" if result.kind == "power" else title


def _margin(result: LimitResult) -> str:
    if result.margin is None:
        return NOT_KNOWN
    if result.margin_unit == "Hz":
        return f"{khz(round(result.margin))} kHz"
    unit = "°" if result.margin_unit == "deg" else f" {result.margin_unit}"
    return f"{fixed(result.margin, _SHOWN_DECIMALS[result.margin_unit])}{unit}"


def _texts(result: LimitResult, station: StationRecord, allowed: Allowance) -> tuple[str, str]:  # noqa: PLR0911
    mode = station.mode
    match result.kind:
        case "frequency":
            return f"{mhz(allowed.frequency_hz)} MHz", f"{mhz(station.tx_frequency_hz)} MHz"
        case "channel_width":
            return f"{khz(allowed.channel_width_hz)} kHz", f"{khz(mode.channel_width_hz)} kHz"
        case "occupied_bandwidth":
            limit = allowed.occupied_bandwidth_hz
            # without a limit of its own the emission has to fit into the licensed channel
            licensed = f"{khz(limit)} kHz" if limit else _of_the_channel(allowed)
            return licensed, f"{khz(mode.occupied_bandwidth_hz)} kHz"
        case "emission":
            return ", ".join(allowed.emission_designators) or gettext("none listed"), mode.emission_designator
        case "modulation":
            return ", ".join(allowed.modulations) or gettext("no limit"), mode.modulation
        case "power":
            return _power(station, allowed)
        case "position":
            return _position(result, allowed)
        case "antenna_height":
            limit_m = allowed.antenna_height_max_agl_m
            return _or_no_limit(limit_m, " m"), f"{fixed(station.antenna_height_agl_m, 1)} m"
        case "azimuth":
            azimuth = _or_no_limit(allowed.azimuth_deg, "°")
            if allowed.azimuth_deg is not None and allowed.azimuth_tolerance_deg is not None:
                azimuth += f" ± {fixed(allowed.azimuth_tolerance_deg, 1)}°"
            return azimuth, NOT_KNOWN if station.azimuth_deg is None else f"{fixed(station.azimuth_deg, 1)}°"
        case "polarisation":
            return allowed.polarisation or gettext("no limit"), station.polarisation


def _of_the_channel(allowed: Allowance) -> str:
    return gettext("{width} kHz (the channel)").format(width=khz(allowed.channel_width_hz))


def _or_no_limit(value: float | None, unit: str) -> str:
    return gettext("no limit") if value is None else f"{fixed(value, 1)}{unit}"


def _power(station: StationRecord, allowed: Allowance) -> tuple[str, str]:
    radiated = eirp_dbm(station)
    used = {
        "tx_output": station.tx_power_dbm,
        "erp": None if radiated is None else radiated - DIPOLE_GAIN_DBI,
        "eirp": radiated,
    }[allowed.power_kind]
    licensed = gettext("not stated") if allowed.power_limit_dbm is None else power(allowed.power_limit_dbm)
    return licensed, power(used)


def _position(result: LimitResult, allowed: Allowance) -> tuple[str, str]:
    if allowed.area is not None:
        where = (
            NOT_KNOWN
            if result.margin is None
            else (
                gettext("{distance} m inside") if result.within else gettext("{distance} m outside")
            ).format(distance=fixed(abs(result.margin), 0))
        )
        return gettext("inside the area"), where
    if allowed.tolerance_m is None:
        return gettext("no tolerance stated"), NOT_KNOWN
    away = (
        NOT_KNOWN
        if result.margin is None
        else gettext("{distance} m away").format(distance=fixed(allowed.tolerance_m - result.margin, 0))
    )
    return gettext("within {distance} m").format(distance=fixed(allowed.tolerance_m, 0)), away
