"""Frequency and phase modulation, and pulses."""

from __future__ import annotations

import numpy.typing as npt

from licences.emissions.necessary_bandwidth.arguments import Array, checked


def frequency_modulation_hz(
    max_modulation_hz: npt.ArrayLike, deviation_hz: npt.ArrayLike, k: npt.ArrayLike = 1.0
) -> Array:
    """Frequency or phase modulation: telephony, sound, facsimile, telegraphy, multiplex (F, G).

    Parameters
    ----------
    max_modulation_hz : array_like
        Greatest modulation frequency M, Hz (B/2 for telegraphy, N/2 for facsimile;
        the pilot P takes its place where it lies above the baseband).
    deviation_hz : array_like
        Peak deviation D, Hz.
    k : array_like
        Number K: 1 commercial telephony, 1.1 facsimile, 1.2 narrow-band telegraphy.

    Returns
    -------
    ndarray or scalar
        Necessary bandwidth in Hz: 2M + 2D·K.

    Raises
    ------
    ValueError
        When an argument is negative.

    Source
    ------
    ITU-R SM.1138, table of necessary bandwidths; 47 CFR 2.202(g).

    Range
    -----
    Any rate, frequency and deviation of 0 or more.

    Examples
    --------
    >>> float(frequency_modulation_hz(3000, 5000))  # 16K0F3E
    16000.0
    >>> round(float(frequency_modulation_hz(50, 600, k=1.1)))  # 1K42F7B
    1420
    """
    return (
        2.0 * checked("max_modulation_hz", max_modulation_hz)
        + 2.0 * checked("deviation_hz", deviation_hz) * checked("k", k)
    )[()]


def frequency_modulated_subcarrier_hz(
    subcarrier_hz: npt.ArrayLike,
    max_modulation_hz: npt.ArrayLike,
    deviation_hz: npt.ArrayLike,
    k: npt.ArrayLike = 1.0,
) -> Array:
    """A frequency-modulated sub-carrier on a single-sideband emission with carrier (R3C, R7B).

    Parameters
    ----------
    subcarrier_hz : array_like
        Sub-carrier C, or the highest of several, Hz.
    max_modulation_hz : array_like
        Greatest modulation frequency M, Hz (B/2 for telegraphy, N/2 for facsimile).
    deviation_hz : array_like
        Peak deviation D, Hz.
    k : array_like
        Number K: 1 commercial telephony, 1.1 facsimile, 1.2 narrow-band telegraphy.

    Returns
    -------
    ndarray or scalar
        Necessary bandwidth in Hz: C + M + D·K.

    Raises
    ------
    ValueError
        When an argument is negative.

    Source
    ------
    ITU-R SM.1138, table of necessary bandwidths; 47 CFR 2.202(g).

    Range
    -----
    Any rate, frequency and deviation of 0 or more.

    Known disagreements
    -------------------
    The copy of 47 CFR 2.202(g) that was read prints C − N/2 + D·K for facsimile; only the plus sign
    reproduces its result of 2890 Hz and is used here. For the telegraphy row it prints 2K89 where
    2884.75 Hz rounds to 2K88.

    Examples
    --------
    >>> round(float(frequency_modulated_subcarrier_hz(1900, 550, 400, k=1.1)))  # 2K89R3C
    2890
    >>> float(frequency_modulated_subcarrier_hz(2805, 50, 42.5, k=0.7))
    2884.75
    """
    return (
        checked("subcarrier_hz", subcarrier_hz)
        + checked("max_modulation_hz", max_modulation_hz)
        + checked("deviation_hz", deviation_hz) * checked("k", k)
    )[()]


def pulse_hz(duration_s: npt.ArrayLike, k: npt.ArrayLike) -> Array:
    """Pulses: unmodulated (P0N) or modulated in amplitude, duration or position (K, L, M).

    Parameters
    ----------
    duration_s : array_like
        Pulse duration t at half amplitude, s; above 0.
    k : array_like
        Number K, which depends on the ratio of duration to rise time, usually 1 to 10.

    Returns
    -------
    ndarray or scalar
        Necessary bandwidth in Hz: 2K/t.

    Raises
    ------
    ValueError
        When an argument is negative or the duration is 0.

    Source
    ------
    ITU-R SM.1138, table of necessary bandwidths; 47 CFR 2.202(g).

    Range
    -----
    Durations above 0.

    Examples
    --------
    >>> round(float(pulse_hz(0.4e-6, 1.6)))  # 8M00M7E
    8000000
    >>> round(float(pulse_hz(1e-6, 1.5)))
    3000000
    """
    duration = checked("duration_s", duration_s)
    if (duration == 0).any():
        raise ValueError("duration_s is 0; it must be above 0 (ITU-R SM.1138).")
    return (2.0 * checked("k", k) / duration)[()]
