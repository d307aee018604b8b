"""What the pack says of one licensed channel."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext, gettext_noop

from licences.models import LicensedChannel
from licences.standing import Standing
from sites.positions import format_dms
from sites.reading import written_day
from sites.templatetags.figures import fixed, khz, mhz, power, power_other
from spectrum.commissioning.power import POWER_KINDS
from spectrum.commissioning.words import Line

NO_LIMIT = gettext_noop("no limit stated")


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
        gettext("{licence}, channel {channel}: {frequency_mhz} MHz").format(
            licence=licence, channel=channel.label, frequency_mhz=mhz(channel.frequency_hz)
        ),
        [
            Line(
                gettext("standing"),
                standing.words,
                gettext("first day without it {ended_on}").format(ended_on=written_day(channel.ended_on))
                if channel.ended_on
                else "",
            ),
            Line(gettext("used here by"), ", ".join(users) or gettext("no station here")),
            Line(gettext("assigned frequency"), f"{mhz(channel.frequency_hz)} MHz"),
            Line(gettext("channel width"), f"{khz(channel.channel_width_hz)} kHz", _occupied(channel)),
            Line(gettext("emissions"), ", ".join(channel.emission_designators) or gettext(NO_LIMIT)),
            Line(gettext("modulations"), ", ".join(channel.modulations) or gettext(NO_LIMIT)),
            Line(gettext("power limit"), *_power(channel)),
            Line(
                gettext("antenna height, at most"),
                gettext(NO_LIMIT)
                if channel.antenna_height_max_m is None
                else gettext("{height_m} m above ground").format(
                    height_m=fixed(channel.antenna_height_max_m, 1)
                ),
            ),
            Line(gettext("azimuth"), _azimuth(channel)),
            Line(gettext("polarisation"), channel.get_polarisation_display() or gettext(NO_LIMIT)),
            Line(gettext("where"), *_where(channel)),
            Line(
                gettext("in force"),
                gettext("{in_force} to {expires}").format(
                    in_force=written_day(in_force) if in_force else gettext("not granted"),
                    expires=written_day(expires) if expires else gettext("no fixed end"),
                ),
            ),
        ],
    )


def _occupied(channel: LicensedChannel) -> str:
    if channel.occupied_bandwidth_hz is None:
        return ""
    return gettext("occupied bandwidth at most {bandwidth_khz} kHz").format(
        bandwidth_khz=khz(channel.occupied_bandwidth_hz)
    )


def _power(channel: LicensedChannel) -> tuple[str, str]:
    if channel.power_limit_dbm is None:
        return gettext(NO_LIMIT), ""
    kind = POWER_KINDS[channel.power_kind]
    return f"{power(channel.power_limit_dbm)} {kind}", power_other(channel.power_limit_dbm)


def _azimuth(channel: LicensedChannel) -> str:
    if channel.azimuth_deg is None or channel.azimuth_tolerance_deg is None:
        return gettext(NO_LIMIT) if channel.azimuth_deg is None else f"{fixed(channel.azimuth_deg, 1)}°"
    return f"{fixed(channel.azimuth_deg, 1)}° ± {fixed(channel.azimuth_tolerance_deg, 1)}°"


def _where(channel: LicensedChannel) -> tuple[str, str]:
    if channel.site is None:
        return gettext("inside the licensed area"), ""
    latitude, longitude = channel.latitude_deg, channel.longitude_deg
    if latitude is None or longitude is None:
        latitude, longitude = channel.site.latitude_deg, channel.site.longitude_deg
    tolerance = (
        gettext("no tolerance stated")
        if channel.tolerance_m is None
        else gettext("within {distance} m").format(distance=fixed(channel.tolerance_m, 0))
    )
    return format_dms(latitude, longitude), f"{channel.site.code}, {tolerance}"
