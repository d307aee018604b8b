"""The limits on the signal itself: frequency, widths, emission, modulation, power."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from licences.emissions import EmissionFormatError, permits, width_in_words
from licences.limits.records import (
    LICENCE,
    STATION,
    Allowance,
    LimitKind,
    LimitResult,
    LimitTerm,
    Transmission,
    not_limited,
    unknown,
)

#: Gain of a half-wave dipole over an isotropic antenna: 47 CFR 2.1 (quoting RR 1.161, 1.162) takes
#: e.i.r.p. = e.r.p. + 2.15 dB; the exact gain is 2.1509 dB.
DIPOLE_GAIN_DBI: Final = 2.15

_POWER_WORDS: Final[Mapping[str, str]] = {
    "tx_output": "transmitter output power",
    "erp": "e.r.p.",
    "eirp": "e.i.r.p.",
}


def frequency(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The transmit frequency against the assigned frequency (RR 1.148)."""
    offset_hz = abs(sent.frequency_hz - allowed.frequency_hz)
    terms = (
        LimitTerm("offset allowed from the assigned frequency", 0, "Hz", "RR 1.148"),
        LimitTerm(
            f"less offset of {sent.frequency_hz / 1e6:.6f} MHz from {allowed.frequency_hz / 1e6:.6f} MHz",
            -offset_hz,
            "Hz",
            f"{STATION} and {LICENCE}",
        ),
    )
    if offset_hz == 0:
        sentence = f"{sent.frequency_hz / 1e6:.6f} MHz is the assigned frequency."
    else:
        reach_hz = 2 * offset_hz + sent.channel_width_hz
        where = "still inside" if reach_hz <= allowed.channel_width_hz else "not inside"
        sentence = (
            f"{sent.frequency_hz / 1e6:.6f} MHz is {width_in_words(offset_hz)} off the assigned "
            f"{allowed.frequency_hz / 1e6:.6f} MHz; its channel is {where} the licensed channel."
        )
    return LimitResult("frequency", offset_hz == 0, -offset_hz, "Hz", terms, sentence)


def _width(kind: LimitKind, what: str, used_hz: int, limit_hz: int, limit_source: str) -> LimitResult:
    margin_hz = limit_hz - used_hz
    terms = (
        LimitTerm(f"licensed {what}", limit_hz, "Hz", limit_source),
        LimitTerm(f"less {what} used", -used_hz, "Hz", STATION),
    )
    used, limit = width_in_words(used_hz), width_in_words(limit_hz)
    if margin_hz < 0:
        sentence = (
            f"The {what} of {used} is {width_in_words(-margin_hz)} wider than {limit} ({limit_source})."
        )
    else:
        sentence = f"The {what} of {used} keeps within {limit} ({limit_source})."
    return LimitResult(kind, margin_hz >= 0, margin_hz, "Hz", terms, sentence)


def channel_width(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The channel width in use against the licensed one."""
    return _width("channel_width", "channel width", sent.channel_width_hz, allowed.channel_width_hz, LICENCE)


def occupied_bandwidth(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The occupied bandwidth (RR 1.153) against its limit, or the channel width where none is stated."""
    if sent.occupied_bandwidth_hz is None:
        return unknown(
            "occupied_bandwidth",
            "Hz",
            "The occupied bandwidth cannot be judged: the radio's mode does not state it.",
        )
    if allowed.occupied_bandwidth_hz is None:
        limit_hz, source = allowed.channel_width_hz, "the licensed channel width, no narrower limit is stated"
    else:
        limit_hz, source = allowed.occupied_bandwidth_hz, LICENCE
    return _width("occupied_bandwidth", "occupied bandwidth", sent.occupied_bandwidth_hz, limit_hz, source)


def emission(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The emission designator against those listed (RR Appendix 1)."""
    if not sent.emission_designator:
        return unknown("emission", "Hz", "The emission cannot be judged: the radio's mode does not state it.")
    try:
        found = permits(allowed.emission_designators, sent.emission_designator)
    except EmissionFormatError as error:
        return unknown("emission", "Hz", f"The emission cannot be judged. {error}")
    if found.permitted_bandwidth_hz is None:
        return unknown("emission", "Hz", found.sentence)
    terms = (
        LimitTerm(
            f"necessary bandwidth of {found.permitted}", found.permitted_bandwidth_hz, "Hz", "RR Appendix 1"
        ),
        LimitTerm(
            f"less necessary bandwidth of {found.emission}",
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
        return not_limited("modulation", "", "the modulation")
    listed = ", ".join(allowed.modulations)
    if not sent.modulation:
        return unknown(
            "modulation",
            "",
            f"The modulation cannot be judged: the radio's mode does not state it; permitted are {listed}.",
        )
    within = _plain_modulation(sent.modulation) in {_plain_modulation(name) for name in allowed.modulations}
    verb = "is" if within else "is not"
    return LimitResult(
        "modulation",
        within,
        None,
        "",
        (),
        f"{sent.modulation} {verb} among the permitted modulations: {listed}.",
    )


def power(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The power in the licence's own kind against its limit."""
    words = _POWER_WORDS[allowed.power_kind]
    needed: list[tuple[str, float | None, str, int]] = [
        ("transmitter output power", sent.tx_power_dbm, "dBm", 1)
    ]
    if allowed.power_kind != "tx_output":
        needed.append(("line losses", sent.line_losses_db, "dB", -1))
        needed.append(("antenna gain", sent.antenna_gain_dbi, "dBi", 1))
    missing = [name for name, value, _, _ in needed if value is None]
    if allowed.power_limit_dbm is None:
        missing.append("the licensed power limit")
    if missing or allowed.power_limit_dbm is None:
        return unknown(
            "power", "dB", f"The {words} cannot be judged: {', '.join(missing)} not stated in the register."
        )
    terms = [LimitTerm(f"licensed {words}", allowed.power_limit_dbm, "dBm", LICENCE)]
    power_dbm = 0.0
    for name, value, unit, sign in needed:
        assert value is not None  # noqa: S101  - listed as missing above otherwise
        power_dbm += sign * value
        terms.append(LimitTerm(f"{'less' if sign > 0 else 'plus'} {name}", -sign * value, unit, STATION))
    if allowed.power_kind == "erp":
        power_dbm -= DIPOLE_GAIN_DBI
        terms.append(
            LimitTerm("plus gain of a half-wave dipole", DIPOLE_GAIN_DBI, "dB", "RR 1.161, 1.162; 47 CFR 2.1")
        )
    margin_db = allowed.power_limit_dbm - power_dbm
    # Sums of decimal fractions leave a binary residue; a nanodecibel is not an offence.
    within = margin_db >= -1e-9
    side = "keeps within" if within else f"is {-margin_db:.2f} dB above"
    return LimitResult(
        "power",
        within,
        margin_db,
        "dB",
        tuple(terms),
        f"The {words} of {power_dbm:.2f} dBm {side} the licensed {allowed.power_limit_dbm:.2f} dBm.",
    )
