"""What the authority granted beside what was asked, and what the register has beside what was filed: in sentences."""

from __future__ import annotations

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.applying import FIELDS, Filled
from licences.models import LicensedChannel
from sites.templatetags.figures import fixed, khz, mhz

from .figures import StationFigures
from .notation import asked_dbm

_KIND_WORDS = {"tx_output": _("transmitter output"), "erp": "e.r.p.", "eirp": "e.i.r.p."}


def asked_power_dbm(figures: StationFigures, kind: str) -> float:
    """The power that was asked, in one of the kinds of a licence's limit, rounded up to 0.01 dB."""
    powers = {
        LicensedChannel.PowerKind.TX_OUTPUT: figures.tx_power_dbm,
        LicensedChannel.PowerKind.ERP: figures.erp_dbm,
        LicensedChannel.PowerKind.EIRP: figures.eirp_dbm,
    }
    return asked_dbm(powers[LicensedChannel.PowerKind(kind)])


def granted_otherwise(figures: StationFigures, channel: LicensedChannel) -> list[str]:
    """Each difference between what was asked and what was granted, as a sentence; none where they agree."""
    said = []
    if channel.frequency_hz != figures.tx_frequency_hz:
        said.append(
            _differ(
                gettext("frequency"),
                f"{mhz(channel.frequency_hz)} MHz",
                f"{mhz(figures.tx_frequency_hz)} MHz",
            )
        )
    if channel.channel_width_hz != figures.channel_width_hz:
        said.append(
            _differ(
                gettext("channel width"),
                f"{khz(channel.channel_width_hz)} kHz",
                f"{khz(figures.channel_width_hz)} kHz",
            )
        )
    if channel.power_limit_dbm is not None:
        asked = asked_power_dbm(figures, channel.power_kind)
        if abs(channel.power_limit_dbm - asked) >= 0.005:
            kind = str(_KIND_WORDS[channel.power_kind])
            said.append(_differ(kind, f"{fixed(channel.power_limit_dbm, 2)} dBm", f"{fixed(asked, 2)} dBm"))
    if channel.emission_designators and figures.emission_designator not in channel.emission_designators:
        said.append(
            _differ(gettext("emission"), ", ".join(channel.emission_designators), figures.emission_designator)
        )
    height = channel.antenna_height_max_m
    if height is not None and abs(height - figures.antenna_height_agl_m) >= 0.05:
        said.append(
            _differ(
                gettext("antenna height"),
                gettext("up to {height} m").format(height=fixed(height, 1)),
                f"{fixed(figures.antenna_height_agl_m, 1)} m",
            )
        )
    if channel.polarisation and channel.polarisation != figures.polarisation:
        said.append(_differ(gettext("polarisation"), channel.polarisation, figures.polarisation))
    return said


def _differ(what: str, granted: str, asked: str) -> str:
    return gettext("{what}: granted {granted}, asked {asked}").format(what=what, granted=granted, asked=asked)


def moved_since(filed: dict[str, Filled], now: dict[str, Filled]) -> list[str]:
    """Each field whose value in the register is no longer the one that was filed."""
    return [
        gettext("{title}: filed {filed}, the register has {now}").format(
            title=field.title,
            filed=filed[key].value or gettext("nothing"),
            now=now[key].value or gettext("nothing"),
        )
        for key, field in FIELDS.items()
        if key in filed and key in now and filed[key].value != now[key].value
    ]
