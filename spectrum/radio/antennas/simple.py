"""Patterns of plain antennas for which no reference pattern holds: dipole, cosine, and none known."""

from __future__ import annotations

import numpy as np

from licences.limits import DIPOLE_GAIN_DBI
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

DEEPEST_NULL_DB = 30.0
"""Nulls of a mounted antenna are filled by its surroundings. Common practice, no published source."""


def dipole_gain_dbi(elevation_deg: ArrayLike, max_gain_dbi: ArrayLike = DIPOLE_GAIN_DBI) -> Array:
    """Gain of a vertical half-wave dipole; it depends on the elevation only.

    G = Gmax + 20 log[cos(π/2 · sin ε) / cos ε].

    Parameters
    ----------
    elevation_deg : scalar or array
        Elevation in degrees, −90 to 90.
    max_gain_dbi : scalar or array, optional
        Maximum gain in dBi, 2.15 by default.

    Returns
    -------
    scalar or array
        Gain in dBi, not below the maximum less 30 dB; NaN where an argument is NaN.

    Raises
    ------
    RadioRangeError
        If the elevation is out of range.

    Source
    ------
    Field of a thin half-wave dipole, cos(π/2 · sin ε) / cos ε, from antenna theory. The floor of
    30 dB is common practice, no published source.

    Range
    -----
    A dipole in free space; a mast beside it changes the pattern by several dB.

    Examples
    --------
    >>> dipole_gain_dbi([0.0, 39.0, 90.0]).round(2)
    array([  2.15,  -0.85, -27.85])
    >>> round(float(dipole_gain_dbi(-39)), 2)
    -0.85
    """
    elevation = np.radians(in_range("elevation_deg", elevation_deg, -90.0, 90.0))
    cosine = np.maximum(np.cos(elevation), 1e-6)  # at the zenith the field is 0, held by the floor below
    field = np.cos(np.pi / 2.0 * np.sin(elevation)) / cosine
    relative = 20.0 * np.log10(np.maximum(field, 10.0 ** (-DEEPEST_NULL_DB / 20.0)))
    return same_shape(np.asarray(np.asarray(max_gain_dbi, dtype=np.float64) + relative))


def cosine_gain_dbi(
    off_axis_deg: ArrayLike,
    max_gain_dbi: ArrayLike,
    beamwidth_deg: ArrayLike,
    front_to_back_db: ArrayLike,
) -> Array:
    """Gain of a directional antenna known by its beamwidth and front-to-back ratio, Gmax + 10 n log cos φ.

    The exponent n puts the half-power point at half the beamwidth; from where the cosine falls below
    the front-to-back ratio that ratio holds all round.

    Parameters
    ----------
    off_axis_deg : scalar or array
        Angle from the axis in degrees, 0 to 180.
    max_gain_dbi : scalar or array
        Maximum gain in dBi.
    beamwidth_deg : scalar or array
        Half-power beamwidth in degrees, above 0 and below 180; the wider one if the two planes differ.
    front_to_back_db : scalar or array
        Front-to-back ratio in dB, at least 0.

    Returns
    -------
    scalar or array
        Gain in dBi; NaN where an argument is NaN.

    Raises
    ------
    RadioRangeError
        If an argument is out of range.

    Source
    ------
    Common practice, no published source.

    Range
    -----
    Yagis and panels below 400 MHz without a measured pattern. A measured pattern is better; F.699 with the
    same gain holds from 100 MHz and is the safer choice for interference.

    Examples
    --------
    >>> cosine_gain_dbi([0.0, 30.0, 90.0, 180.0], 10.0, 60.0, 18.0).round(3)
    array([10.  ,  6.99, -8.  , -8.  ])
    >>> round(float(cosine_gain_dbi(45, 10, 60, 18)), 3)
    2.747
    """
    angle = in_range("off_axis_deg", off_axis_deg, 0.0, 180.0)
    gain = np.asarray(max_gain_dbi, dtype=np.float64)
    beamwidth = in_range("beamwidth_deg", beamwidth_deg, 0.0, 179.9, above=True)
    back = in_range("front_to_back_db", front_to_back_db, 0.0)
    exponent = -np.log10(2.0) / np.log10(np.cos(np.radians(beamwidth / 2.0)))
    cosine = np.cos(np.radians(np.minimum(angle, 89.999)))
    return same_shape(np.asarray(gain + np.maximum(10.0 * exponent * np.log10(cosine), -back)))


def constant_gain_dbi(off_axis_deg: ArrayLike, max_gain_dbi: ArrayLike) -> Array:
    """The maximum gain in every direction: the safe side while no pattern is known.

    Parameters
    ----------
    off_axis_deg : scalar or array
        Angle from the axis in degrees, 0 to 180; it has no effect.
    max_gain_dbi : scalar or array
        Maximum gain in dBi.

    Returns
    -------
    scalar or array
        Gain in dBi; NaN where an argument is NaN.

    Raises
    ------
    RadioRangeError
        If the angle is out of range.

    Source
    ------
    Upper bound, by definition of the maximum gain.

    Range
    -----
    Any antenna; safe for interference, not for the level of a wanted signal.

    Examples
    --------
    >>> constant_gain_dbi([0.0, 90.0, 180.0], 8.0)
    array([8., 8., 8.])
    >>> float(constant_gain_dbi(45, 12))
    12.0
    """
    angle = in_range("off_axis_deg", off_axis_deg, 0.0, 180.0)
    return same_shape(np.asarray(np.asarray(max_gain_dbi, dtype=np.float64) + 0.0 * angle))
