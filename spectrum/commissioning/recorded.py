"""The latest record of a station beside what was expected."""

from __future__ import annotations

from dataclasses import dataclass, field

from django.utils.translation import gettext

from sites.saying import said
from sites.templatetags.figures import fixed, khz, mhz
from sites.templatetags.figures import power as in_reader_s_unit
from spectrum.conflicts.drafts import Draft
from spectrum.conflicts.network import StationRecord
from spectrum.models import CommissioningRecord

from .words import Line


@dataclass(frozen=True)
class Recorded:
    """What was found last, each figure with what was expected, and sentences on what is off."""

    row: CommissioningRecord
    lines: list[Line] = field(default_factory=list)
    off: list[str] = field(default_factory=list)


def recorded(
    row: CommissioningRecord, station: StationRecord, wanted: str, needed: str, drafts: list[Draft]
) -> Recorded:
    """``wanted`` and ``needed`` are the predicted level and the isolation that is needed, in words."""
    link, mode = row.station.link, station.mode
    tx, rx = mhz(station.tx_frequency_hz), mhz(station.rx_frequency_hz)
    round_trip, rate = fixed(link.required_round_trip_ms, 1), fixed(link.required_bit_rate_kbps, 1)
    shown = (
        (
            gettext("transmit frequency"),
            row.tx_frequency_hz,
            f"{mhz(row.tx_frequency_hz)} MHz",
            gettext("planned {frequency_mhz} MHz").format(frequency_mhz=tx),
        ),
        (
            gettext("receive frequency"),
            row.rx_frequency_hz,
            f"{mhz(row.rx_frequency_hz)} MHz",
            gettext("planned {frequency_mhz} MHz").format(frequency_mhz=rx),
        ),
        (
            gettext("output power"),
            row.tx_power_dbm,
            in_reader_s_unit(row.tx_power_dbm),
            gettext("planned {power}").format(power=in_reader_s_unit(station.tx_power_dbm)),
        ),
        (
            gettext("channel width"),
            row.channel_width_hz,
            f"{khz(row.channel_width_hz)} kHz",
            gettext("planned {width_khz} kHz").format(width_khz=khz(mode.channel_width_hz)),
        ),
        (
            gettext("modulation"),
            row.modulation or None,
            row.modulation,
            gettext("planned {modulation}").format(modulation=mode.modulation),
        ),
        (
            gettext("received level"),
            row.received_level_dbm,
            f"{fixed(row.received_level_dbm, 1)} dBm",
            gettext("predicted {wanted}").format(wanted=wanted),
        ),
        (
            gettext("isolation"),
            row.isolation_db,
            f"{fixed(row.isolation_db, 1)} dB",
            gettext("needed {needed}").format(needed=needed),
        ),
        (
            gettext("round trip"),
            row.round_trip_ms,
            f"{fixed(row.round_trip_ms, 1)} ms",
            gettext("the service needs {round_trip} ms").format(round_trip=round_trip),
        ),
        (
            gettext("throughput"),
            row.throughput_kbps,
            f"{fixed(row.throughput_kbps, 1)} kbit/s",
            gettext("the service needs {rate} kbit/s").format(rate=rate),
        ),
    )
    lines = [Line(name, text, note) for name, value, text, note in shown if value is not None]
    if row.notes:
        lines.append(Line(gettext("notes"), row.notes))
    return Recorded(row, lines, [said(draft.headline) for draft in drafts])
