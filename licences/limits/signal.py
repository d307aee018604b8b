"""The limits on the signal itself: frequency, widths, emission, modulation, power."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from licences.emissions import EmissionFormatError, permits, width_in_words
from licences.limits.records import (
    LICENCE,
    STATION,
    STATION_AND_LICENCE,
    Allowance,
    LimitKind,
    LimitResult,
    LimitTerm,
    Transmission,
    not_limited,
    unknown,
)
from sites.sentences import joined, sentence
from sites.words import gettext_noop as _

#: Gain of a half-wave dipole over an isotropic antenna: 47 CFR 2.1 (quoting RR 1.161, 1.162) takes
#: e.i.r.p. = e.r.p. + 2.15 dB; the exact gain is 2.1509 dB.
DIPOLE_GAIN_DBI: Final = 2.15

_POWER_WORDS: Final[Mapping[str, str]] = {
    "tx_output": _("transmitter output power"),
    "erp": "e.r.p.",
    "eirp": "e.i.r.p.",
}


def frequency(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The transmit frequency against the assigned frequency (RR 1.148)."""
    offset_hz = abs(sent.frequency_hz - allowed.frequency_hz)
    terms = (
        LimitTerm(_("offset allowed from the assigned frequency"), 0, "Hz", "RR 1.148"),
        LimitTerm(
            sentence(
                _("less offset of {frequency:.6f} MHz from {assigned:.6f} MHz"),
                frequency=sent.frequency_hz / 1e6,
                assigned=allowed.frequency_hz / 1e6,
            ),
            -offset_hz,
            "Hz",
            STATION_AND_LICENCE,
        ),
    )
    if offset_hz == 0:
        said = sentence(
            _("{frequency:.6f} MHz is the assigned frequency."), frequency=sent.frequency_hz / 1e6
        )
    else:
        reach_hz = 2 * offset_hz + sent.channel_width_hz
        said = sentence(
            _(
                "{frequency:.6f} MHz is {offset} off the assigned {assigned:.6f} MHz; "
                "its channel is still inside the licensed channel."
            )
            if reach_hz <= allowed.channel_width_hz
            else _(
                "{frequency:.6f} MHz is {offset} off the assigned {assigned:.6f} MHz; "
                "its channel is not inside the licensed channel."
            ),
            frequency=sent.frequency_hz / 1e6,
            offset=width_in_words(offset_hz),
            assigned=allowed.frequency_hz / 1e6,
        )
    return LimitResult("frequency", offset_hz == 0, -offset_hz, "Hz", terms, said)


@dataclass(frozen=True)
class _WidthWords:
    """The words for one kind of width: its two terms, and the verdict either way."""

    licensed: str
    less_used: str
    wider: str
    within: str


_CHANNEL: Final = _WidthWords(
    _("licensed channel width"),
    _("less channel width used"),
    _("The channel width of {used} is {excess} wider than {limit} ({source})."),
    _("The channel width of {used} keeps within {limit} ({source})."),
)
_OCCUPIED: Final = _WidthWords(
    _("licensed occupied bandwidth"),
    _("less occupied bandwidth used"),
    _("The occupied bandwidth of {used} is {excess} wider than {limit} ({source})."),
    _("The occupied bandwidth of {used} keeps within {limit} ({source})."),
)


def _width(
    kind: LimitKind, words: _WidthWords, used_hz: int, limit_hz: int, limit_source: str
) -> LimitResult:
    margin_hz = limit_hz - used_hz
    terms = (
        LimitTerm(words.licensed, limit_hz, "Hz", limit_source),
        LimitTerm(words.less_used, -used_hz, "Hz", STATION),
    )
    said = sentence(
        words.wider if margin_hz < 0 else words.within,
        used=width_in_words(used_hz),
        excess=width_in_words(abs(margin_hz)),
        limit=width_in_words(limit_hz),
        source=sentence(limit_source),
    )
    return LimitResult(kind, margin_hz >= 0, margin_hz, "Hz", terms, said)


def channel_width(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The channel width in use against the licensed one."""
    return _width("channel_width", _CHANNEL, sent.channel_width_hz, allowed.channel_width_hz, LICENCE)


def occupied_bandwidth(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The occupied bandwidth (RR 1.153) against its limit, or the channel width where none is stated."""
    if sent.occupied_bandwidth_hz is None:
        return unknown(
            "occupied_bandwidth",
            "Hz",
            _("The occupied bandwidth cannot be judged: the radio's mode does not state it."),
        )
    if allowed.occupied_bandwidth_hz is None:
        limit_hz = allowed.channel_width_hz
        source = _("the licensed channel width, no narrower limit is stated")
    else:
        limit_hz, source = allowed.occupied_bandwidth_hz, LICENCE
    return _width("occupied_bandwidth", _OCCUPIED, sent.occupied_bandwidth_hz, limit_hz, source)


def emission(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The emission designator against those listed (RR Appendix 1)."""
    if not sent.emission_designator:
        return unknown(
            "emission", "Hz", _("The emission cannot be judged: the radio's mode does not state it.")
        )
    try:
        found = permits(allowed.emission_designators, sent.emission_designator)
    except EmissionFormatError as error:
        return unknown(
            "emission", "Hz", sentence(_("The emission cannot be judged. {reason}"), reason=str(error))
        )
    if found.permitted_bandwidth_hz is None:
        return unknown("emission", "Hz", found.sentence)
    terms = (
        LimitTerm(
            sentence(_("necessary bandwidth of {emission}"), emission=found.permitted),
            found.permitted_bandwidth_hz,
            "Hz",
            "RR Appendix 1",
        ),
        LimitTerm(
            sentence(_("less necessary bandwidth of {emission}"), emission=found.emission),
            -found.necessary_bandwidth_hz,
            "Hz",
            "RR Appendix 1",
        ),
    )
    return LimitResult("emission", found.within, found.bandwidth_margin_hz, "Hz", terms, found.sentence)


def _plain_modulation(name: str) -> str:
    """16-QAM, 16QAM, QAM16 and qam-16 are one modulation."""
    plain = re.sub(r"[^0-9A-Z/Π]", "", name.upper())
    swapped = re.fullmatch(r"([^0-9]+)(\d+)", plain)
    return swapped.group(2) + swapped.group(1) if swapped else plain


def modulation(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The modulation against those listed."""
    if not allowed.modulations:
        return not_limited("modulation", "", _("The licence sets no limit on the modulation."))
    listed = ", ".join(allowed.modulations)
    if not sent.modulation:
        return unknown(
            "modulation",
            "",
            sentence(
                _(
                    "The modulation cannot be judged: the radio's mode does not state it; permitted are {listed}."
                ),
                listed=listed,
            ),
        )
    within = _plain_modulation(sent.modulation) in {_plain_modulation(name) for name in allowed.modulations}
    said = (
        _("{modulation} is among the permitted modulations: {listed}.")
        if within
        else _("{modulation} is not among the permitted modulations: {listed}.")
    )
    return LimitResult(
        "modulation",
        within,
        None,
        "",
        (),
        sentence(said, modulation=sent.modulation, listed=listed),
    )


def power(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The power in the licence's own kind against its limit."""
    words = sentence(_POWER_WORDS[allowed.power_kind])
    needed: list[tuple[str, str, float | None, str, int]] = [
        (_("transmitter output power"), _("less transmitter output power"), sent.tx_power_dbm, "dBm", 1)
    ]
    if allowed.power_kind != "tx_output":
        needed.append((_("line losses"), _("plus line losses"), sent.line_losses_db, "dB", -1))
        needed.append((_("antenna gain"), _("less antenna gain"), sent.antenna_gain_dbi, "dBi", 1))
    missing = [sentence(name) for name, _term, value, _unit, _sign in needed if value is None]
    if allowed.power_limit_dbm is None:
        missing.append(sentence(_("the licensed power limit")))
    if missing or allowed.power_limit_dbm is None:
        return unknown(
            "power",
            "dB",
            sentence(
                _("The {power} cannot be judged: {missing} not stated in the register."),
                power=words,
                missing=joined(", ", missing),
            ),
        )
    terms = [LimitTerm(sentence(_("licensed {power}"), power=words), allowed.power_limit_dbm, "dBm", LICENCE)]
    power_dbm = 0.0
    for _name, term, value, unit, sign in needed:
        assert value is not None  # noqa: S101  - listed as missing above otherwise
        power_dbm += sign * value
        terms.append(LimitTerm(term, -sign * value, unit, STATION))
    if allowed.power_kind == "erp":
        power_dbm -= DIPOLE_GAIN_DBI
        terms.append(
            LimitTerm(
                _("plus gain of a half-wave dipole"), DIPOLE_GAIN_DBI, "dB", "RR 1.161, 1.162; 47 CFR 2.1"
            )
        )
    margin_db = allowed.power_limit_dbm - power_dbm
    # Sums of decimal fractions leave a binary residue; a nanodecibel is not an offence.
    within = margin_db >= -1e-9
    said = (
        _("The {power} of {level:.2f} dBm keeps within the licensed {limit:.2f} dBm.")
        if within
        else _("The {power} of {level:.2f} dBm is {excess:.2f} dB above the licensed {limit:.2f} dBm.")
    )
    return LimitResult(
        "power",
        within,
        margin_db,
        "dB",
        tuple(terms),
        sentence(said, power=words, level=power_dbm, excess=-margin_db, limit=allowed.power_limit_dbm),
    )
