"""The lines of the sheet, and the sentences that stand on every sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class Line:
    """One figure of the sheet: what, how much, and what belongs beside it."""

    name: str
    value: str
    note: str = ""


CAUTIONS: Final = (
    "Licence first: nothing on this sheet is a permission to transmit.",
    "Never key a transmitter into an open port: a load or an antenna stands on every port before power does.",
    "Climb and isolate under the rules of the structure's owner, with people who are trained for it; "
    "switch off before working near an antenna.",
    "Circuits that carry protection are touched only with the protection engineer's release.",
    "Local codes and licensed practice come before anything written here.",
)

BENCH: Final = (
    "Both radios on the bench, off. A dummy load rated for the radio's highest power on every port: "
    "transmitter, receiver side of the duplexer, antenna port.",
    "Set the lowest power first. Set the frequencies below and compare both ends: what one transmits the other receives.",
    "Power on into the loads. Measure frequency, occupied bandwidth and output at the lowest power, "
    "then at the power to set; read the setting back.",
    "Transmitters off: measure the isolation between the transmit and the receive port of the duplexer "
    "at both frequencies and compare it with what is needed.",
    "Connect the ends through attenuators, at the lowest power, until the predicted level arrives. "
    "Measure round trip and throughput there.",
)

RECORD: Final = (
    ("transmit frequency as found", "MHz"),
    ("receive frequency as found", "MHz"),
    ("output power as found", "dBm"),
    ("channel width as found", "kHz"),
    ("modulation as found", ""),
    ("received level", "dBm"),
    ("isolation measured", "dB"),
    ("round trip", "ms"),
    ("throughput", "kbit/s"),
    ("who", ""),
    ("when", ""),
    ("notes", ""),
)
