"""From an antenna record to the gain in a direction; where no pattern holds, the full gain all round."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from sites.sentences import sentence
from sites.words import gettext_noop as _
from spectrum.radio.antennas.f1336 import STEEPEST_TILT_DEG
from spectrum.radio.antennas.gain import OMNIDIRECTIONAL, Antenna, gain_towards_dbi
from spectrum.radio.antennas.measured import Cut
from spectrum.radio.ranges import RadioRangeError

from .columns import FloatArray
from .network import AntennaRecord

MOST_KEPT = 4096
PATTERN_NAMES = {
    "measured": _("measured table"),
    "f699": "ITU-R F.699",
    "f1245": "ITU-R F.1245",
    "f1336_omni": _("ITU-R F.1336, omnidirectional"),
    "f1336_sector": _("ITU-R F.1336, sector"),
}
_QUANTITIES = {
    "frequency_mhz": _("the frequency in MHz"),
    "downtilt_deg": _("its tilt below the horizon in degrees"),
}


# By antenna and steep tilt the least and the greatest frequency in MHz at which its pattern was found to hold.
_holds_between: dict[tuple[AntennaRecord, float], tuple[float, float]] = {}


@lru_cache(maxsize=MOST_KEPT)
def pattern(record: AntennaRecord) -> Antenna:
    """The pattern of an antenna type."""
    return Antenna(
        kind=record.pattern,
        max_gain_dbi=record.gain_dbi,
        diameter_m=record.diameter_m,
        beamwidth_deg=record.beamwidth_deg,
        horizontal=Cut.from_points(record.points) if record.points else None,
    )


def is_omnidirectional(record: AntennaRecord) -> bool:
    """Whether the antenna has no boresight in azimuth; it stands upright unless a tilt is entered."""
    return record.pattern in OMNIDIRECTIONAL


def gain_dbi(
    record: AntennaRecord,
    boresight_azimuth_deg: FloatArray,
    tilt_deg: FloatArray,
    azimuth_deg: FloatArray,
    elevation_deg: FloatArray,
    frequency_mhz: FloatArray,
) -> FloatArray:
    """Gain toward each direction, never above the type's gain; the full gain where the pattern gives none.

    The pattern gives none where there is no boresight or no direction (NaN), and at a frequency
    or a tilt outside its range.
    """
    try:
        gain = gain_towards_dbi(
            pattern(record), boresight_azimuth_deg, tilt_deg, azimuth_deg, elevation_deg, frequency_mhz
        )
    except RadioRangeError:
        # Something is out of range: find out where, so that the others keep their pattern.
        gain = np.full(len(frequency_mhz), np.nan)
        steep = np.where(np.abs(tilt_deg) > STEEPEST_TILT_DEG, tilt_deg, 0.0)
        cases, case = np.unique(np.column_stack((frequency_mhz, steep)), axis=0, return_inverse=True)
        for number, (frequency, tilt) in enumerate(cases):
            if pattern_gap(record, float(frequency), float(tilt)) == "":
                at = case.reshape(-1) == number
                gain[at] = gain_towards_dbi(
                    pattern(record),
                    boresight_azimuth_deg[at],
                    tilt_deg[at],
                    azimuth_deg[at],
                    elevation_deg[at],
                    frequency_mhz[at],
                )
    return np.where(np.isnan(gain), record.gain_dbi, np.minimum(gain, record.gain_dbi))


def pattern_gap(record: AntennaRecord, frequency_mhz: float, tilt_deg: float = 0.0) -> str:
    """Why the pattern does not hold at a frequency and a tilt, in a sentence; empty where it does.

    Every condition of a pattern holds from some frequency on or up to one (a range, the size of the aperture in
    wavelengths, its gain against its side lobes): between two at which all hold they hold too.
    """
    key = (record, tilt_deg if abs(tilt_deg) > STEEPEST_TILT_DEG else 0.0)
    low, high = _holds_between.get(key, (np.inf, -np.inf))
    if low <= frequency_mhz <= high:
        return ""
    said = _gap(record, frequency_mhz, tilt_deg)
    if not said:
        if len(_holds_between) >= MOST_KEPT:
            _holds_between.clear()
        _holds_between[key] = (min(low, frequency_mhz), max(high, frequency_mhz))
    return said


@lru_cache(maxsize=MOST_KEPT)
def _gap(record: AntennaRecord, frequency_mhz: float, tilt_deg: float) -> str:
    try:
        gain_towards_dbi(pattern(record), 0.0, tilt_deg, np.array([0.0, 90.0, 180.0]), 0.0, frequency_mhz)
    except RadioRangeError as error:
        if error.argument not in _QUANTITIES:
            said = sentence(_("its {quantity}"), quantity=error.argument)
        else:
            said = sentence(_QUANTITIES[error.argument])
        return sentence(
            _("{quantity} is {value:g}; {limits}"), quantity=said, value=error.value, limits=error.limits
        )
    return ""
