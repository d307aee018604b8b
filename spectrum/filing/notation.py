"""The figures of a station in the notation that authorities ask, each with the place where it is entered."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.applying import Filled, Where
from licences.models import Application
from sites.positions import format_dms
from sites.templatetags.figures import fixed, khz, mhz, watts

from .figures import StationFigures

SECONDS_DECIMALS = 1  # about 3 m, what public forms ask
POLARISATION = {"H": _("H, horizontal"), "V": _("V, vertical")}
DBM_OF_DBW = 30.0
SHOWN_RECEIVERS = 40


def asked_dbm(power_dbm: float) -> float:
    """A power rounded up to 0.01 dB, so that what is asked is never below what is sent.

    >>> asked_dbm(41.8412), asked_dbm(30.0)
    (41.85, 30.0)
    """
    # A sum of decimal fractions leaves a binary residue that must not cost a hundredth.
    return math.ceil(round(power_dbm * 100.0, 6)) / 100.0


def general_values(application: Application) -> dict[str, Filled]:
    """What belongs to the application and not to one station."""
    here = Where(
        "licences.application",
        application.pk,
        gettext("application {application}").format(application=application.number),
    )
    return {
        "purpose": Filled(gettext("new licence"), here),
        "holder": Filled(application.holder.name, here),
        "contact": Filled(application.contact, here),
        "remarks": Filled(application.remarks or gettext("none"), here),
    }


def station_values(figures: StationFigures, link_id: int, link_code: str) -> dict[str, Filled]:
    """Every field of one station, by key; empty where the register does not know it."""
    f = figures
    link = Where(
        "spectrum.link",
        link_id,
        gettext("link {link}, station {station}").format(link=link_code, station=f.label),
    )
    site = Where("places.site", f.site_id, gettext("site {site}").format(site=f.site_code))
    radio = Where("spectrum.radiotype", f.radio_type_id, gettext("radio type {radio}").format(radio=f.radio))
    antenna = Where(
        "places.antennatype", f.antenna_type_id, gettext("antenna type {antenna}").format(antenna=f.antenna)
    )
    heard = Where(
        "spectrum.link",
        link_id,
        gettext("link {link}: no station of it listens on what {station} sends").format(
            link=link_code, station=f.label
        ),
    )
    written: Mapping[str, tuple[str, Where]] = {
        "tx_site": (f"{f.site_code} {f.site_name}", site),
        "region": (f.region, site),
        "position": (format_dms(f.latitude_deg, f.longitude_deg, SECONDS_DECIMALS), site),
        "ground_height": (_number(f.ground_height_m, 1, "m"), site),
        "structure_height": (_number(f.structure_height_m, 1, "m"), site),
        "rx_site": (_each(f, lambda r: f"{r['code']} {r['name']}"), heard),
        "rx_position": (
            _each(f, lambda r: format_dms(r["latitude_deg"], r["longitude_deg"], SECONDS_DECIMALS)),
            heard,
        ),
        "path_length": (_each(f, lambda r: f"{fixed(r['length_km'], 2)} km"), heard),
        "tx_frequency": (f"{mhz(f.tx_frequency_hz)} MHz", link),
        "rx_frequency": (f"{mhz(f.rx_frequency_hz)} MHz" if f.rx_frequency_hz else "", link),
        "channel": (_channel(f), link),
        "band_half": (
            "" if f.sends_high is None else gettext("high") if f.sends_high else gettext("low"),
            link,
        ),
        "channel_width": (f"{khz(f.channel_width_hz)} kHz", radio),
        "starts_on": (f.starts_on, link),
        "station_class": ("FX", link),
        "designator": (f.emission_designator, radio),
        "modulation": (f.modulation, radio),
        "bit_rate": (_number(f.bit_rate_kbps, 1, "kbit/s"), radio),
        "radio": (f.radio, radio),
        "antenna_power": (_dbw(f.antenna_power_dbm), link),
        "eirp": (_power(f.eirp_dbm), link),
        "erp": (_power(f.erp_dbm), link),
        "losses": (_number(f.line_losses_db, 1, "dB"), link),
        "antenna": (f.antenna, antenna),
        "gain": (_number(f.gain_dbi, 1, "dBi"), antenna),
        "beamwidth": (_beamwidth(f), antenna),
        "polarisation": (str(POLARISATION.get(f.polarisation, f.polarisation)), link),
        "azimuth": (_azimuth(f), link),
        "tilt": (f"{fixed(f.tilt_deg, 1)}°", link),
        "antenna_height": (_number(f.antenna_height_agl_m, 1, "m"), link),
        "receiver": (
            gettext("threshold {threshold_dbm} dBm, noise figure {noise_figure_db} dB").format(
                threshold_dbm=fixed(f.receiver_threshold_dbm, 1),
                noise_figure_db=fixed(f.noise_figure_db, 1),
            ),
            radio,
        ),
    }
    return {key: Filled(value, where) for key, (value, where) in written.items()}


def _number(value: float | None, decimals: int, unit: str) -> str:
    return "" if value is None else f"{fixed(value, decimals)} {unit}"


def _each(figures: StationFigures, say: Callable[[dict[str, Any]], str]) -> str:
    texts = [say(receiver) for receiver in figures.receivers]
    shown = "; ".join(texts[:SHOWN_RECEIVERS])
    more = len(texts) - SHOWN_RECEIVERS
    return gettext("{shown}; and {more} more").format(shown=shown, more=more) if more > 0 else shown


def _channel(f: StationFigures) -> str:
    return (
        gettext("{plan}, channel {channel}").format(plan=f.plan, channel=f.channel)
        if f.plan and f.channel is not None
        else ""
    )


def _dbw(dbm: float) -> str:
    power = asked_dbm(dbm)
    return f"{fixed(power, 2)} dBm ({fixed(power - DBM_OF_DBW, 2)} dBW)"


def _power(dbm: float) -> str:
    power = asked_dbm(dbm)
    return f"{fixed(power, 2)} dBm ({watts(power)})"


def _beamwidth(f: StationFigures) -> str:
    if f.omnidirectional:
        return gettext("360° (omnidirectional)")
    return "" if f.beamwidth_deg is None else f"{fixed(f.beamwidth_deg, 1)}°"


def _azimuth(f: StationFigures) -> str:
    if f.omnidirectional:
        return gettext("omnidirectional")
    return "" if f.azimuth_deg is None else f"{fixed(round(f.azimuth_deg, 1) % 360.0, 1)}°"
