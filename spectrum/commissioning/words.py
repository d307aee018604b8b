"""The lines of the sheet, and the sentences that stand on every sheet."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True)
class Line:
    """One figure of the sheet: what, how much, and what belongs beside it."""

    name: str
    value: str
    note: str = ""


CAUTIONS: Final = (
    _("Licence first: nothing on this sheet is a permission to transmit."),
    _(
        "Never key a transmitter into an open port: a load or an antenna stands on every port before power does."
    ),
    _(
        "Climb and isolate under the rules of the structure's owner, with people who are trained for it; "
        "switch off before working near an antenna."
    ),
    _("Circuits that carry protection are touched only with the protection engineer's release."),
    _("Local codes and licensed practice come before anything written here."),
)

BENCH: Final = (
    _(
        "Both radios on the bench, off. A dummy load rated for the radio's highest power on every port: "
        "transmitter, receiver side of the duplexer, antenna port."
    ),
    _(
        "Set the lowest power first. Set the frequencies below and compare both ends: what one transmits the other receives."
    ),
    _(
        "Power on into the loads. Measure frequency, occupied bandwidth and output at the lowest power, "
        "then at the power to set; read the setting back."
    ),
    _(
        "Transmitters off: measure the isolation between the transmit and the receive port of the duplexer "
        "at both frequencies and compare it with what is needed."
    ),
    _(
        "Connect the ends through attenuators, at the lowest power, until the predicted level arrives. "
        "Measure round trip and throughput there."
    ),
)

RECORD: Final = (
    (_("transmit frequency as found"), "MHz"),
    (_("receive frequency as found"), "MHz"),
    (_("output power as found"), "dBm"),
    (_("channel width as found"), "kHz"),
    (_("modulation as found"), ""),
    (_("received level"), "dBm"),
    (_("isolation measured"), "dB"),
    (_("round trip"), "ms"),
    (_("throughput"), "kbit/s"),
    (_("who"), ""),
    (_("when"), ""),
    (_("notes"), ""),
)
