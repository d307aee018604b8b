"""The symbols of a class of emission: ITU Radio Regulations, Appendix 1, Section II.

First, second and third symbols: as read in 47 CFR 2.201(c) to (e), which repeats
the Radio Regulations. Fifth symbol: as read in a published quotation of the same
Appendix. Fourth symbol: from memory, not verified.
"""

from __future__ import annotations

from typing import Final

from sites.words import gettext_noop as _

MODULATION: Final = {
    "N": _("an unmodulated carrier"),
    "A": _("amplitude modulation, double sideband"),
    "H": _("single sideband, full carrier"),
    "R": _("single sideband, reduced or variable level carrier"),
    "J": _("single sideband, suppressed carrier"),
    "B": _("independent sidebands"),
    "C": _("vestigial sideband"),
    "F": _("frequency modulation"),
    "G": _("phase modulation"),
    "D": _("amplitude and angle modulation, simultaneously or in a pre-established sequence"),
    "P": _("a sequence of unmodulated pulses"),
    "K": _("pulses modulated in amplitude"),
    "L": _("pulses modulated in width or duration"),
    "M": _("pulses modulated in position or phase"),
    "Q": _("pulses during which the carrier is angle-modulated"),
    "V": _("pulses modulated in a combination of ways or by other means"),
    "W": _("a combination of two or more of amplitude, angle and pulse modulation"),
    "X": _("modulation not otherwise covered"),
}

SIGNAL: Final = {
    "0": _("no modulating signal"),
    "1": _("a single channel with digital information, without a modulating sub-carrier"),
    "2": _("a single channel with digital information, with a modulating sub-carrier"),
    "3": _("a single channel with analogue information"),
    "7": _("two or more channels with digital information"),
    "8": _("two or more channels with analogue information"),
    "9": _("digital and analogue channels together"),
    "X": _("a modulating signal not otherwise covered"),
}

INFORMATION: Final = {
    "N": _("no information transmitted"),
    "A": _("telegraphy for aural reception"),
    "B": _("telegraphy for automatic reception"),
    "C": _("facsimile"),
    "D": _("data transmission, telemetry, telecommand"),
    "E": _("telephony, including sound broadcasting"),
    "F": _("television (video)"),
    "W": _("a combination of kinds of information"),
    "X": _("information not otherwise covered"),
}

DETAIL: Final = {
    "A": _("two-condition code with elements of differing number or duration"),
    "B": _("two-condition code with elements of the same number and duration, no error correction"),
    "C": _("two-condition code with elements of the same number and duration, with error correction"),
    "D": _("four-condition code, each condition a signal element"),
    "E": _("multi-condition code, each condition a signal element"),
    "F": _("multi-condition code, each condition or combination a character"),
    "G": _("sound of broadcasting quality, monophonic"),
    "H": _("sound of broadcasting quality, stereophonic or quadraphonic"),
    "J": _("sound of commercial quality"),
    "K": _("sound of commercial quality with frequency inversion or band-splitting"),
    "L": _("sound of commercial quality with separate signals that control the level"),
    "M": _("monochrome"),
    "N": _("colour"),
    "W": _("a combination of details"),
    "X": _("a detail not otherwise covered"),
}

MULTIPLEX: Final = {
    "N": _("no multiplex"),
    "C": _("code-division multiplex"),
    "F": _("frequency-division multiplex"),
    "T": _("time-division multiplex"),
    "W": _("frequency-division and time-division multiplex together"),
    "X": _("another kind of multiplex"),
}

# position in the class of emission, the words for an error, the table
CLASS_SYMBOLS: Final = (
    (_("type of modulation"), MODULATION),
    (_("nature of the modulating signal"), SIGNAL),
    (_("type of information"), INFORMATION),
    (_("details of the signal"), DETAIL),
    (_("nature of the multiplex"), MULTIPLEX),
)
ORDINALS: Final = (_("first"), _("second"), _("third"), _("fourth"), _("fifth"))
