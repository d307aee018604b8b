"""What the pack says of one licensed channel."""

from __future__ import annotations

from dataclasses import dataclass

from licences.models import LicensedChannel
from licences.standing import Standing
from sites.positions import format_dms
from sites.templatetags.figures import fixed, khz, mhz, watts
from spectrum.commissioning.power import POWER_KINDS
from spectrum.commissioning.words import Line

NO_LIMIT = "no limit stated"


@dataclass(frozen=True)
class ChannelPart:
    """One licensed channel, and which stations here use it."""

    channel: LicensedChannel
    heading: str
    lines: list[Line]


def channel_part(channel: LicensedChannel, standing: Standing, users: list[str]) -> ChannelPart:
    """A channel with its limits as licensed; ``users`` are the stations at the site that name it."""
    licence = channel.licence
    expires = channel.expires_on or licence.expires_on
    in_force = channel.in_force_from or licence.in_force_from
    return ChannelPart(
        channel,
        f"{licence}, channel {channel.label}: {mhz(channel.frequency_hz)} MHz",
        [
            Line("standing", standing.words, f"first day without it {channel.ended_on}" if channel.ended_on else ""),
            Line("used here by", ", ".join(users) or "no station here"),
            Line("assigned frequency", f"{mhz(channel.frequency_hz)} MHz"),
            Line("channel width", f"{khz(channel.channel_width_hz)} kHz", _occupied(channel)),
            Line("emissions", ", ".join(channel.emission_designators) or NO_LIMIT),
            Line("modulations", ", ".join(channel.modulations) or NO_LIMIT),
            Line("power limit", *_power(channel)),
            Line("antenna height, at most", _or_none(channel.antenna_height_max_m, " m above ground")),
            Line("azimuth", _azimuth(channel)),
            Line("polarisation", channel.get_polarisation_display() or NO_LIMIT),
            Line("where", *_where(channel)),
            Line("in force", f"{in_force or 'not granted'} to {expires or 'no fixed end'}"),
        ],
    )  # fmt: skip


def _occupied(channel: LicensedChannel) -> str:
    if channel.occupied_bandwidth_hz is None:
        return ""
    return f"occupied bandwidth at most {khz(channel.occupied_bandwidth_hz)} kHz"


def _power(channel: LicensedChannel) -> tuple[str, str]:
    if channel.power_limit_dbm is None:
        return NO_LIMIT, ""
    kind = POWER_KINDS[channel.power_kind]
    return f"{fixed(channel.power_limit_dbm, 1)} dBm {kind}", watts(channel.power_limit_dbm)


def _or_none(value: float | None, unit: str) -> str:
    return NO_LIMIT if value is None else f"{fixed(value, 1)}{unit}"


def _azimuth(channel: LicensedChannel) -> str:
    if channel.azimuth_deg is None or channel.azimuth_tolerance_deg is None:
        return _or_none(channel.azimuth_deg, "°")
    return f"{fixed(channel.azimuth_deg, 1)}° ± {fixed(channel.azimuth_tolerance_deg, 1)}°"


def _where(channel: LicensedChannel) -> tuple[str, str]:
    if channel.site is None:
        return "inside the licensed area", ""
    latitude, longitude = channel.latitude_deg, channel.longitude_deg
    if latitude is None or longitude is None:
        latitude, longitude = channel.site.latitude_deg, channel.site.longitude_deg
    tolerance = (
        "no tolerance stated" if channel.tolerance_m is None else f"within {channel.tolerance_m:.0f} m"
    )
    return format_dms(latitude, longitude), f"{channel.site.code}, {tolerance}"
