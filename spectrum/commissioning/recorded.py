"""The latest record of a station beside what was expected."""

from __future__ import annotations

from dataclasses import dataclass, field

from sites.saying import said
from sites.templatetags.figures import fixed, khz, mhz
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
    service = "the service needs"
    round_trip, rate = fixed(link.required_round_trip_ms, 1), fixed(link.required_bit_rate_kbps, 1)
    shown = (
        ("transmit frequency", row.tx_frequency_hz, f"{mhz(row.tx_frequency_hz)} MHz", f"planned {tx} MHz"),
        ("receive frequency", row.rx_frequency_hz, f"{mhz(row.rx_frequency_hz)} MHz", f"planned {rx} MHz"),
        ("output power", row.tx_power_dbm, f"{fixed(row.tx_power_dbm, 1)} dBm", f"planned {fixed(station.tx_power_dbm, 1)} dBm"),
        ("channel width", row.channel_width_hz, f"{khz(row.channel_width_hz)} kHz", f"planned {khz(mode.channel_width_hz)} kHz"),
        ("modulation", row.modulation or None, row.modulation, f"planned {mode.modulation}"),
        ("received level", row.received_level_dbm, f"{fixed(row.received_level_dbm, 1)} dBm", f"predicted {wanted}"),
        ("isolation", row.isolation_db, f"{fixed(row.isolation_db, 1)} dB", f"needed {needed}"),
        ("round trip", row.round_trip_ms, f"{fixed(row.round_trip_ms, 1)} ms", f"{service} {round_trip} ms"),
        ("throughput", row.throughput_kbps, f"{fixed(row.throughput_kbps, 1)} kbit/s", f"{service} {rate} kbit/s"),
    )  # fmt: skip
    lines = [Line(name, text, note) for name, value, text, note in shown if value is not None]
    if row.notes:
        lines.append(Line("notes", row.notes))
    return Recorded(row, lines, [said(draft.headline) for draft in drafts])
