"""Isolation between two antennas from their spacing: the formulas as published, and their inversion."""

from __future__ import annotations

import numpy as np

from spectrum.radio.propagation.free_space import SPEED_OF_LIGHT_M_PER_S
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape


def wavelength_m(frequency_mhz: ArrayLike) -> Array:
    """Wavelength in vacuum, λ = c / f.

    Parameters
    ----------
    frequency_mhz : array_like
        Frequency, MHz, above 0.

    Returns
    -------
    ndarray or scalar
        λ, m.

    Raises
    ------
    RadioRangeError
        When the frequency is not above 0.

    Source
    ------
    Definition, with the speed of light in vacuum.

    Range
    -----
    Any positive frequency.

    Examples
    --------
    >>> round(float(wavelength_m(410.0)), 4)
    0.7312
    >>> wavelength_m([150.0, 450.0]).round(4)
    array([1.9986, 0.6662])
    """
    return SPEED_OF_LIGHT_M_PER_S / 1e6 / in_range("frequency_mhz", frequency_mhz, 0.0, above=True)


def horizontal_isolation_db(
    frequency_mhz: ArrayLike,
    distance_m: ArrayLike,
    gain_a_dbi: ArrayLike = 0.0,
    gain_b_dbi: ArrayLike = 0.0,
) -> Array:
    """Isolation of two antennas side by side.

    Parameters
    ----------
    frequency_mhz : array_like
        Frequency, MHz.
    distance_m : array_like
        Horizontal spacing, m.
    gain_a_dbi, gain_b_dbi : array_like
        Gain of each antenna toward the other, dBi.

    Returns
    -------
    ndarray or scalar
        22 + 20 log(d/λ) − (Ga + Gb), dB.

    Raises
    ------
    RadioRangeError
        When frequency or distance is not above 0.

    Source
    ------
    Rule of the trade, read in a repeater manual's appendix and a radio club's article; 22 is
    20 log 4π = 21.98 rounded, so that it is free-space loss less the gains.

    Range
    -----
    Far field; between gain antennas from 15 m (a manufacturer's calculator page).

    Known disagreements
    -------------------
    No text of a standards body was reachable. 0.016 dB above free-space loss by the rounding of 22.

    Examples
    --------
    >>> round(float(horizontal_isolation_db(410.0, 30.0)), 3)
    54.262
    >>> horizontal_isolation_db(410.0, [10.0, 30.0], 2.15, 2.15).round(2).tolist()
    [40.42, 49.96]
    """
    distance = in_range("distance_m", distance_m, 0.0, above=True)
    gains = in_range("gain_a_dbi", gain_a_dbi) + in_range("gain_b_dbi", gain_b_dbi)
    return same_shape(np.asarray(22.0 + 20.0 * np.log10(distance / wavelength_m(frequency_mhz)) - gains))


def vertical_isolation_db(frequency_mhz: ArrayLike, distance_m: ArrayLike) -> Array:
    """Isolation of two antennas one above the other, as the formula has it.

    Parameters
    ----------
    frequency_mhz : array_like
        Frequency, MHz.
    distance_m : array_like
        Vertical spacing, m.

    Returns
    -------
    ndarray or scalar
        28 + 40 log(d/λ), dB, **without** the limit of 70 dB that :func:`~spectrum.radio.isolation.antenna_isolation` applies.

    Raises
    ------
    RadioRangeError
        When frequency or distance is not above 0.

    Source
    ------
    Rule of the trade, read in a repeater manual's appendix and a radio club's article.

    Range
    -----
    Collinear antennas; up to about 70 dB (a manufacturer's calculator page).

    Known disagreements
    -------------------
    A field note (read) reports about 40 dB at five wavelengths, 16 dB less than the formula. No text of
    a standards body was reachable.

    Examples
    --------
    >>> round(float(vertical_isolation_db(410.0, 5.0)), 3)
    61.397
    >>> vertical_isolation_db(410.0, [5.0, 10.0]).round(2).tolist()
    [61.4, 73.44]
    """
    distance = in_range("distance_m", distance_m, 0.0, above=True)
    return same_shape(np.asarray(28.0 + 40.0 * np.log10(distance / wavelength_m(frequency_mhz))))


def interpolated_by_angle(
    horizontal_db: Array, vertical_db: Array, horizontal_m: Array, vertical_m: Array
) -> Array:
    """Isolation between the two directions, in proportion to the angle of the line of sight.

    S = (V − H) α / 90° + H, α = arctan(vertical / horizontal).

    Parameters
    ----------
    horizontal_db, vertical_db : array
        H and V, isolation of the two directions alone, dB.
    horizontal_m, vertical_m : array
        Spacing in the two directions, m, not both 0.

    Returns
    -------
    array
        S, dB.

    Source
    ------
    Rule of the trade, read in a repeater manual's appendix.

    Range
    -----
    Spacings of 0 or more.

    Examples
    --------
    >>> up, across = np.float64(10.0), np.float64(10.0)
    >>> round(float(interpolated_by_angle(np.float64(50.0), np.float64(70.0), across, up)), 3)
    60.0
    >>> round(float(interpolated_by_angle(np.float64(50.0), np.float64(70.0), across, np.float64(0.0))), 3)
    50.0
    """
    alpha_deg = np.degrees(np.arctan2(vertical_m, horizontal_m))
    return (vertical_db - horizontal_db) * alpha_deg / 90.0 + horizontal_db


def slant_isolation_db(
    frequency_mhz: ArrayLike,
    horizontal_m: ArrayLike,
    vertical_m: ArrayLike,
    gain_a_dbi: ArrayLike = 0.0,
    gain_b_dbi: ArrayLike = 0.0,
) -> Array:
    """Isolation of two antennas apart both ways, as the formula has it.

    Parameters
    ----------
    frequency_mhz : array_like
        Frequency, MHz.
    horizontal_m, vertical_m : array_like
        Horizontal and vertical spacing, m.
    gain_a_dbi, gain_b_dbi : array_like
        Gain of each antenna toward the other in the horizontal plane, dBi.

    Returns
    -------
    ndarray or scalar
        (V − H)·α/90° + H with α = arctan(vertical/horizontal) in degrees, dB; V without its limit.

    Raises
    ------
    RadioRangeError
        When frequency or a spacing is not above 0.

    Source
    ------
    Rule of the trade, read in a repeater manual's appendix.

    Range
    -----
    As :func:`horizontal_isolation_db` and :func:`vertical_isolation_db`.

    Known disagreements
    -------------------
    As :func:`vertical_isolation_db`.

    Examples
    --------
    >>> round(float(slant_isolation_db(410.0, 10.0, 10.0)), 3)
    59.079
    >>> slant_isolation_db(410.0, [3.0, 30.0], [10.0, 5.0]).round(3).tolist()
    [66.169, 55.012]
    """
    across = in_range("horizontal_m", horizontal_m, 0.0, above=True)
    up = in_range("vertical_m", vertical_m, 0.0, above=True)
    horizontal = horizontal_isolation_db(frequency_mhz, across, gain_a_dbi, gain_b_dbi)
    return same_shape(interpolated_by_angle(horizontal, vertical_isolation_db(frequency_mhz, up), across, up))


def required_horizontal_separation_m(
    frequency_mhz: ArrayLike,
    isolation_db: ArrayLike,
    gain_a_dbi: ArrayLike = 0.0,
    gain_b_dbi: ArrayLike = 0.0,
) -> Array:
    """Horizontal spacing that gives an isolation, by the formula.

    Parameters
    ----------
    frequency_mhz : array_like
        Frequency, MHz.
    isolation_db : array_like
        Isolation wanted, dB.
    gain_a_dbi, gain_b_dbi : array_like
        Gain of each antenna toward the other, dBi.

    Returns
    -------
    ndarray or scalar
        λ·10^((I − 22 + Ga + Gb)/20), m.

    Raises
    ------
    RadioRangeError
        When the frequency is not above 0.

    Source
    ------
    Inversion of :func:`horizontal_isolation_db`.

    Range
    -----
    As :func:`horizontal_isolation_db`.

    Known disagreements
    -------------------
    As :func:`horizontal_isolation_db`.

    Examples
    --------
    >>> round(float(required_horizontal_separation_m(410.0, 80.0)), 1)
    580.8
    >>> required_horizontal_separation_m(410.0, [60.0, 80.0], 2.15, 2.15).round(2).tolist()
    [95.29, 952.88]
    """
    gains = in_range("gain_a_dbi", gain_a_dbi) + in_range("gain_b_dbi", gain_b_dbi)
    exponent = (in_range("isolation_db", isolation_db) - 22.0 + gains) / 20.0
    return same_shape(np.asarray(wavelength_m(frequency_mhz) * 10.0**exponent))


def required_vertical_separation_m(frequency_mhz: ArrayLike, isolation_db: ArrayLike) -> Array:
    """Vertical spacing that gives an isolation, by the formula.

    Parameters
    ----------
    frequency_mhz : array_like
        Frequency, MHz.
    isolation_db : array_like
        Isolation wanted, dB.

    Returns
    -------
    ndarray or scalar
        λ·10^((I − 28)/40), m, also beyond the 70 dB to which the formula holds.

    Raises
    ------
    RadioRangeError
        When the frequency is not above 0.

    Source
    ------
    Inversion of :func:`vertical_isolation_db`.

    Range
    -----
    Up to about 70 dB; :func:`required_separation` says where it is beyond.

    Known disagreements
    -------------------
    As :func:`vertical_isolation_db`.

    Examples
    --------
    >>> round(float(required_vertical_separation_m(410.0, 60.0)), 2)
    4.61
    >>> required_vertical_separation_m(410.0, [60.0, 70.0]).round(2).tolist()
    [4.61, 8.2]
    """
    exponent = (in_range("isolation_db", isolation_db) - 28.0) / 40.0
    return same_shape(np.asarray(wavelength_m(frequency_mhz) * 10.0**exponent))
