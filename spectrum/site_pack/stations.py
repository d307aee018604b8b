"""What the pack says of one station."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext

from licences.limits import DIPOLE_GAIN_DBI
from sites.templatetags.figures import NOT_KNOWN, fixed, khz, mhz, power, power_figure, power_other
from spectrum.commissioning.exposure import exposure_lines
from spectrum.commissioning.words import Line
from spectrum.comparison import eirp_dbm
from spectrum.conflicts.network import StationRecord
from spectrum.models import CommissioningRecord, Station


@dataclass(frozen=True)
class StationPart:
    """One station: what an inspector measures first, the rest as lines, what is off, and the exposure distances."""

    station: Station
    name: str
    heading: str
    sends: bool
    transmits: str
    receives: str
    eirp: str
    emission: str
    licensed_by: str
    lines: list[Line]
    off: list[str]
    exposure: list[Line]


def station_part(
    station: Station, record: StationRecord, off: list[str], found: CommissioningRecord | None
) -> StationPart:
    """A station at the settings that are planned for it; what was found there last stands beside."""
    link, mode = station.link, record.mode
    radiated = eirp_dbm(record) if record.tx_frequency_hz is not None else None
    licensed_by = record.channel.name if record.channel is not None else gettext("no licensed channel")
    title = f"{record.name}{f', {link.name}' if link.name else ''}"
    return StationPart(
        station=station,
        name=record.name,
        heading=title,
        sends=record.tx_frequency_hz is not None,
        transmits=mhz(record.tx_frequency_hz),
        receives=mhz(record.rx_frequency_hz),
        eirp=power_figure(radiated),
        emission=mode.emission_designator,
        licensed_by=licensed_by if record.tx_frequency_hz is not None else gettext("receives only"),
        lines=[
            Line(
                gettext("holder"),
                link.holder.name,
                gettext("the link is {status}").format(status=link.get_status_display()),
            ),
            Line(
                gettext("allowed by"),
                licensed_by
                if record.tx_frequency_hz is not None
                else gettext("nothing needed: receives only"),
            ),
            Line(gettext("transmits"), _with(mhz(record.tx_frequency_hz), " MHz")),
            Line(gettext("receives"), _with(mhz(record.rx_frequency_hz), " MHz")),
            Line(
                gettext("emission"),
                mode.emission_designator,
                gettext("{width_khz} kHz channel, {modulation}").format(
                    width_khz=khz(mode.channel_width_hz), modulation=mode.modulation
                ),
            ),
            Line(gettext("transmitter output"), power(record.tx_power_dbm), power_other(record.tx_power_dbm)),
            Line(gettext("feeder and other losses"), f"{fixed(record.line_losses_db, 1)} dB"),
            Line(
                "e.r.p.",
                power(None if radiated is None else radiated - DIPOLE_GAIN_DBI),
                gettext("relative to a half-wave dipole"),
            ),
            Line("e.i.r.p.", power(radiated), gettext("relative to an isotropic antenna")),
            Line(gettext("antenna"), record.antenna.name, f"{fixed(record.antenna.gain_dbi, 1)} dBi"),
            Line(
                gettext("antenna height"),
                gettext("{height_m} m above ground").format(height_m=fixed(record.antenna_height_agl_m, 1)),
            ),
            Line(
                gettext("azimuth"),
                _azimuth(record),
                gettext("as entered") if record.azimuth_entered else gettext("toward the other end"),
            ),
            Line(gettext("polarisation"), station.get_polarisation_display()),
            Line(gettext("radio"), station.radio_type.name, station.mode.label),
            Line(
                gettext("last visited"),
                gettext("no record") if found is None else f"{found.found_on}",
                "" if found is None else found.found_by,
            ),
        ],
        off=off,
        exposure=exposure_lines(record, None),
    )


def _with(text: str, unit: str) -> str:
    return text if text == NOT_KNOWN else f"{text}{unit}"


def _azimuth(record: StationRecord) -> str:
    if record.azimuth_deg is None:
        return NOT_KNOWN
    return gettext("{azimuth_deg}° from true north").format(azimuth_deg=fixed(record.azimuth_deg, 1))
