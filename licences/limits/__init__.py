"""What one station transmits, compared with what one licensed channel allows.

Pure: two records in, one :class:`LimitResult` per kind of limit out. Under every margin stand the
terms that make it; their values, signs included, add up to the margin by hand.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from licences.limits.place import antenna_height, azimuth, polarisation, position
from licences.limits.records import (
    Allowance,
    LimitKind,
    LimitResult,
    LimitTerm,
    PowerKind,
    Transmission,
)
from licences.limits.signal import (
    DIPOLE_GAIN_DBI,
    channel_width,
    emission,
    frequency,
    modulation,
    occupied_bandwidth,
    power,
)

__all__ = [
    "DIPOLE_GAIN_DBI",
    "Allowance",
    "LimitKind",
    "LimitResult",
    "LimitTerm",
    "PowerKind",
    "Transmission",
    "compare",
]

_CHECKS: Final[tuple[Callable[[Transmission, Allowance], LimitResult], ...]] = (
    frequency,
    channel_width,
    occupied_bandwidth,
    emission,
    modulation,
    power,
    position,
    antenna_height,
    azimuth,
    polarisation,
)


def compare(transmission: Transmission, allowance: Allowance) -> tuple[LimitResult, ...]:
    """Compare a transmission with a licensed channel, one result per kind of limit.

    What the licence does not limit (occupied bandwidth, modulation, antenna height, azimuth,
    polarisation) is within, and the sentence says so. What a licence must state (emission, power,
    place) and what the station must know to be judged gives ``within=None`` where it is missing.

    Parameters
    ----------
    transmission : Transmission
        What the station transmits.
    allowance : Allowance
        What the licensed channel allows.

    Returns
    -------
    tuple of LimitResult
        In this order: frequency, channel_width, occupied_bandwidth, emission, modulation, power,
        position, antenna_height, azimuth, polarisation.

    Raises
    ------
    KeyError
        When ``allowance.power_kind`` is none of tx_output, erp, eirp.

    Source
    ------
    ITU Radio Regulations 1.148 (assigned frequency), 1.152, 1.153 (necessary and occupied bandwidth),
    1.161, 1.162 (e.i.r.p., e.r.p.), Appendix 1 (emissions). 47 CFR 2.1 for 2.15 dB. Distances:
    geodesics on the WGS 84 ellipsoid (C. F. F. Karney, J. Geodesy 87, 2013), by pyproj.

    Range
    -----
    Latitudes −90 to 90, longitudes in any turn, azimuths in any turn.

    Known disagreements
    -------------------
    Some authorities let a narrower channel sit off the assigned frequency inside a wider licensed
    channel; here the frequency must be the assigned one, and the sentence says when it is inside.
    That polarisation D (dual) covers H and V is from memory, not verified.

    Examples
    --------
    >>> sent = Transmission(frequency_hz=410_012_500, channel_width_hz=25_000, tx_power_dbm=40.0,
    ...                     line_losses_db=2.0, antenna_gain_dbi=8.0)
    >>> allowed = Allowance(frequency_hz=410_012_500, channel_width_hz=12_500,
    ...                     power_limit_dbm=43.0, power_kind="erp")
    >>> [(r.kind, r.within) for r in compare(sent, allowed)][:2]
    [('frequency', True), ('channel_width', False)]
    >>> compare(sent, allowed)[5].sentence
    'The e.r.p. of 43.85 dBm is 0.85 dB above the licensed 43.00 dBm.'
    """
    return tuple(check(transmission, allowance) for check in _CHECKS)
