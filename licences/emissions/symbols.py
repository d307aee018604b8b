"""The symbols of a class of emission: ITU Radio Regulations, Appendix 1, Section II.

First, second and third symbols: as read in 47 CFR 2.201(c) to (e), which repeats
the Radio Regulations. Fifth symbol: as read in a published quotation of the same
Appendix. Fourth symbol: from memory, not verified.
"""

from __future__ import annotations

from typing import Final

MODULATION: Final = {
    "N": "an unmodulated carrier",
    "A": "amplitude modulation, double sideband",
    "H": "single sideband, full carrier",
    "R": "single sideband, reduced or variable level carrier",
    "J": "single sideband, suppressed carrier",
    "B": "independent sidebands",
    "C": "vestigial sideband",
    "F": "frequency modulation",
    "G": "phase modulation",
    "D": "amplitude and angle modulation, simultaneously or in a pre-established sequence",
    "P": "a sequence of unmodulated pulses",
    "K": "pulses modulated in amplitude",
    "L": "pulses modulated in width or duration",
    "M": "pulses modulated in position or phase",
    "Q": "pulses during which the carrier is angle-modulated",
    "V": "pulses modulated in a combination of ways or by other means",
    "W": "a combination of two or more of amplitude, angle and pulse modulation",
    "X": "modulation not otherwise covered",
}

SIGNAL: Final = {
    "0": "no modulating signal",
    "1": "a single channel with digital information, without a modulating sub-carrier",
    "2": "a single channel with digital information, with a modulating sub-carrier",
    "3": "a single channel with analogue information",
    "7": "two or more channels with digital information",
    "8": "two or more channels with analogue information",
    "9": "digital and analogue channels together",
    "X": "a modulating signal not otherwise covered",
}

INFORMATION: Final = {
    "N": "no information transmitted",
    "A": "telegraphy for aural reception",
    "B": "telegraphy for automatic reception",
    "C": "facsimile",
    "D": "data transmission, telemetry, telecommand",
    "E": "telephony, including sound broadcasting",
    "F": "television (video)",
    "W": "a combination of kinds of information",
    "X": "information not otherwise covered",
}

DETAIL: Final = {
    "A": "two-condition code with elements of differing number or duration",
    "B": "two-condition code with elements of the same number and duration, no error correction",
    "C": "two-condition code with elements of the same number and duration, with error correction",
    "D": "four-condition code, each condition a signal element",
    "E": "multi-condition code, each condition a signal element",
    "F": "multi-condition code, each condition or combination a character",
    "G": "sound of broadcasting quality, monophonic",
    "H": "sound of broadcasting quality, stereophonic or quadraphonic",
    "J": "sound of commercial quality",
    "K": "sound of commercial quality with frequency inversion or band-splitting",
    "L": "sound of commercial quality with separate signals that control the level",
    "M": "monochrome",
    "N": "colour",
    "W": "a combination of details",
    "X": "a detail not otherwise covered",
}

MULTIPLEX: Final = {
    "N": "no multiplex",
    "C": "code-division multiplex",
    "F": "frequency-division multiplex",
    "T": "time-division multiplex",
    "W": "frequency-division and time-division multiplex together",
    "X": "another kind of multiplex",
}

# position in the class of emission, the words for an error, the table
CLASS_SYMBOLS: Final = (
    ("type of modulation", MODULATION),
    ("nature of the modulating signal", SIGNAL),
    ("type of information", INFORMATION),
    ("details of the signal", DETAIL),
    ("nature of the multiplex", MULTIPLEX),
)
ORDINALS: Final = ("first", "second", "third", "fourth", "fifth")
