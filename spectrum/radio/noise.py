"""Noise at a receiver: thermal noise, noise figure, man-made noise (ITU-R P.372).

Noise figures of different origin are added as factors, never in dB:
:func:`combined_noise_figure_db` does that, and its result goes into
:func:`noise_floor_dbm`.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

BOLTZMANN_J_PER_K: Final = 1.380649e-23
"""Boltzmann constant, exact since the SI of 2019 (CODATA 2018)."""

REFERENCE_TEMPERATURE_K: Final = 290.0
"""T0 of noise figures and of ITU-R P.372."""

MANMADE_RANGE_MHZ: Final = (0.3, 250.0)
GALACTIC_RANGE_MHZ: Final = (10.0, 100.0)
BUSINESS_RANGE_MHZ: Final = (128.94, 900.0)


class ManmadeNoise(NamedTuple):
    """Coefficients of Fam = c − d log f and its decile deviations, in dB."""

    c: float
    d: float
    upper_decile_db: float
    lower_decile_db: float


MANMADE_NOISE: Final[dict[str, ManmadeNoise]] = {
    "city": ManmadeNoise(76.8, 27.7, 11.0, 6.7),
    "residential": ManmadeNoise(72.5, 27.7, 10.6, 5.3),
    "rural": ManmadeNoise(67.2, 27.7, 9.2, 4.6),
    "quiet_rural": ManmadeNoise(53.6, 28.6, 9.2, 4.6),
}
"""By environment. ITU-R P.372, as read in the reference code of ITU-R Study Group 3; the Recommendation's
text itself was not read. Quiet rural borrows the deciles of rural, as that code does."""


def ktb_dbm(bandwidth_khz: ArrayLike, temperature_k: ArrayLike = REFERENCE_TEMPERATURE_K) -> Array:
    """Thermal noise power in a bandwidth, 10 log(k T B).

    Parameters
    ----------
    bandwidth_khz : scalar or array
        Noise bandwidth in kHz, above 0.
    temperature_k : scalar or array, optional
        Temperature in kelvin, above 0; 290 K by default.

    Returns
    -------
    scalar or array
        Power in dBm.

    Raises
    ------
    RadioRangeError
        If the bandwidth or the temperature is not positive.

    Source
    ------
    k T B with k of the SI (2019); T0 = 290 K as in ITU-R P.372.

    Range
    -----
    Below some 100 GHz, where quantum effects do not count.

    Examples
    --------
    >>> round(float(ktb_dbm(12.5)), 4)
    -133.0061
    >>> ktb_dbm([6.25, 25.0]).round(4)
    array([-136.0164, -129.9958])
    """
    bandwidth = in_range("bandwidth_khz", bandwidth_khz, 0.0, above=True)
    temperature = in_range("temperature_k", temperature_k, 0.0, above=True)
    return same_shape(np.asarray(10.0 * np.log10(BOLTZMANN_J_PER_K * temperature * bandwidth * 1e3) + 30.0))


def noise_floor_dbm(bandwidth_khz: ArrayLike, noise_figure_db: ArrayLike) -> Array:
    """Noise power of a receiver referred to its input, N = k T0 B · F.

    Parameters
    ----------
    bandwidth_khz : scalar or array
        Noise bandwidth in kHz, above 0.
    noise_figure_db : scalar or array
        Noise figure in dB: that of the receiver, or the result of
        :func:`combined_noise_figure_db`, which a quiet site can bring below 0.

    Returns
    -------
    scalar or array
        Power in dBm.

    Raises
    ------
    RadioRangeError
        If the bandwidth is not positive.

    Source
    ------
    ITU-R P.372, definition of the noise factor (N = k T0 B f).

    Range
    -----
    Any positive bandwidth.

    Examples
    --------
    >>> round(float(noise_floor_dbm(12.5, 7)), 4)
    -126.0061
    >>> noise_floor_dbm([200.0, 300.0], 7.0).round(3)
    array([-113.965, -112.204])
    """
    figure = np.asarray(noise_figure_db, dtype=np.float64)
    return same_shape(np.asarray(ktb_dbm(bandwidth_khz) + figure))


def manmade_noise_figure_db(environment: str | npt.ArrayLike, frequency_mhz: ArrayLike) -> Array:
    """Median external noise figure of man-made noise, Fam = c − d log f.

    Parameters
    ----------
    environment : str or array of str
        ``"city"``, ``"residential"``, ``"rural"`` or ``"quiet_rural"``.
    frequency_mhz : scalar or array
        Frequency in MHz, 0.3 to 250.

    Returns
    -------
    scalar or array
        Fam in dB above k T0 B, for a short vertical lossless monopole.

    Raises
    ------
    RadioRangeError
        If the frequency is outside 0.3 to 250 MHz.
    ValueError
        If the environment is none of the four.

    Source
    ------
    ITU-R P.372, man-made noise, Fam = c − d log f with the constants of its table, as read in the
    reference code of ITU-R Study Group 3. The Recommendation's text itself was not read.

    Range
    -----
    0.3 to 250 MHz. Above 250 MHz the Recommendation gives no such figure, so the function refuses;
    :func:`manmade_noise_figure_db_or_nan` gives NaN instead.

    Known disagreements
    -------------------
    A second public code gives 44.3 − 12.3 log f for business areas at UHF, see
    :func:`business_noise_figure_db`; it could not be confirmed.

    Examples
    --------
    >>> round(float(manmade_noise_figure_db("city", 150)), 3)
    16.522
    >>> manmade_noise_figure_db(["rural", "quiet_rural"], 150.0).round(3)
    array([ 6.922, -8.636])
    """
    frequency = in_range(
        "frequency_mhz", frequency_mhz, *MANMADE_RANGE_MHZ, source="ITU-R P.372, man-made noise"
    )
    return _manmade(environment, frequency)


def manmade_noise_figure_db_or_nan(environment: str | npt.ArrayLike, frequency_mhz: ArrayLike) -> Array:
    """Median external noise figure of man-made noise, or NaN outside the range of the Recommendation.

    Fam = c − d log f, as :func:`manmade_noise_figure_db`.

    For a batch that mixes bands. NaN says "not known", so that the caller decides. A budget that goes
    on with the receiver's own noise alone understates the noise: on the safe side for I/N, on the
    unsafe side for the margin of the wanted signal. Either way the finding should say that
    man-made noise was left out.

    Parameters
    ----------
    environment : str or array of str
        As for :func:`manmade_noise_figure_db`.
    frequency_mhz : scalar or array
        Frequency in MHz, above 0.

    Returns
    -------
    scalar or array
        Fam in dB; NaN below 0.3 MHz, above 250 MHz and where the frequency is NaN.

    Raises
    ------
    RadioRangeError
        If the frequency is not positive.
    ValueError
        If the environment is none of the four.

    Source
    ------
    As for :func:`manmade_noise_figure_db`.

    Range
    -----
    Any positive frequency; figures from 0.3 to 250 MHz.

    Examples
    --------
    >>> manmade_noise_figure_db_or_nan("residential", [150.0, 410.0]).round(3)
    array([12.222,    nan])
    >>> round(float(manmade_noise_figure_db_or_nan("rural", 150)), 3)
    6.922
    """
    frequency = in_range("frequency_mhz", frequency_mhz, 0.0, above=True)
    low, high = MANMADE_RANGE_MHZ
    return _manmade(environment, np.where((frequency >= low) & (frequency <= high), frequency, np.nan))


def galactic_noise_figure_db(frequency_mhz: ArrayLike) -> Array:
    """Median external noise figure of galactic noise, 52 − 23 log f.

    Parameters
    ----------
    frequency_mhz : scalar or array
        Frequency in MHz, 10 to 100.

    Returns
    -------
    scalar or array
        Noise figure in dB above k T0 B; decile deviations 2 dB either way.

    Raises
    ------
    RadioRangeError
        If the frequency is outside 10 to 100 MHz.

    Source
    ------
    ITU-R P.372-16, equation (13), as quoted in the reference code of ITU-R Study Group 3.

    Range
    -----
    Up to about 100 MHz; below about 10 MHz the ionosphere keeps it out (from memory, not verified).

    Examples
    --------
    >>> round(float(galactic_noise_figure_db(100)), 4)
    6.0
    >>> galactic_noise_figure_db([10.0, 30.0]).round(4)
    array([29.    , 18.0262])
    """
    frequency = in_range(
        "frequency_mhz", frequency_mhz, *GALACTIC_RANGE_MHZ, source="ITU-R P.372, galactic noise"
    )
    return same_shape(np.asarray(52.0 - 23.0 * np.log10(frequency)))


def business_noise_figure_db(frequency_mhz: ArrayLike) -> Array:
    """Man-made noise figure of business areas at UHF, 44.3 − 12.3 log f; unconfirmed.

    Parameters
    ----------
    frequency_mhz : scalar or array
        Frequency in MHz, 128.94 to 900.

    Returns
    -------
    scalar or array
        Noise figure in dB above k T0 B.

    Raises
    ------
    RadioRangeError
        If the frequency is outside 128.94 to 900 MHz.

    Source
    ------
    One public simulation code, which attributes it to ITU-R P.372-8 for 200 to 900 MHz. Not
    confirmed in the Recommendation; nothing in this register uses it unless a person asks for it.

    Range
    -----
    Stated for 200 to 900 MHz; that code uses it from 128.94 MHz, where it meets the city line.

    Known disagreements
    -------------------
    The line for cities, continued beyond its range, would give 4.4 dB at 410 MHz; this gives 12.2 dB.

    Examples
    --------
    >>> round(float(business_noise_figure_db(410)), 4)
    12.1628
    >>> business_noise_figure_db([200.0, 900.0]).round(4)
    array([15.9973,  7.9628])
    """
    frequency = in_range(
        "frequency_mhz", frequency_mhz, *BUSINESS_RANGE_MHZ, source="business-area noise, unconfirmed"
    )
    return same_shape(np.asarray(44.3 - 12.3 * np.log10(frequency)))


def combined_noise_figure_db(
    external_noise_figure_db: ArrayLike, receiver_noise_figure_db: ArrayLike
) -> Array:
    """Noise figure of a receiver behind a lossless antenna in external noise, 10 log(fa + fr − 1).

    Parameters
    ----------
    external_noise_figure_db : scalar or array
        Fa in dB, for example from :func:`manmade_noise_figure_db`; 0 dB is an antenna at 290 K and
        leaves the receiver's figure as it is.
    receiver_noise_figure_db : scalar or array
        Fr in dB, at least 0; losses before the receiver belong in it.

    Returns
    -------
    scalar or array
        Combined noise figure in dB.

    Raises
    ------
    RadioRangeError
        If the receiver's noise figure is negative.

    Source
    ------
    ITU-R P.372, system noise factor f = fa + (fc − 1) + lc (ft − 1) + lc lt (fr − 1), with lossless
    antenna and line (lc = lt = fc = ft = 1).

    Range
    -----
    Any external figure.

    Known disagreements
    -------------------
    Adding the figures in dB is a common error: city noise at 150 MHz (16.5 dB) and a receiver of
    7 dB make 16.9 dB, not 23.5 dB.

    Examples
    --------
    >>> round(float(combined_noise_figure_db(16.5220, 7)), 3)
    16.894
    >>> combined_noise_figure_db([0.0, 6.9223], 7.0).round(4)
    array([7.    , 9.5109])
    """
    fa = 10.0 ** (np.asarray(external_noise_figure_db, dtype=np.float64) / 10.0)
    fr = 10.0 ** (in_range("receiver_noise_figure_db", receiver_noise_figure_db, 0.0) / 10.0)
    return same_shape(np.asarray(10.0 * np.log10(fa + fr - 1.0)))


def _manmade(environment: str | npt.ArrayLike, frequency_mhz: Array) -> Array:
    names = np.asarray(environment, dtype=str)
    c = np.full(names.shape, np.nan)
    d = np.full(names.shape, np.nan)
    for name, noise in MANMADE_NOISE.items():
        c = np.where(names == name, noise.c, c)
        d = np.where(names == name, noise.d, d)
    unknown = np.isnan(c)
    if unknown.any():
        raise ValueError(
            f"environment is {str(names[unknown].flat[0])!r}; it must be one of {', '.join(MANMADE_NOISE)}."
        )
    return same_shape(np.asarray(c - d * np.log10(frequency_mhz)))
