"""Digital modulation: phase, amplitude and frequency-shift keying."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from licences.emissions.necessary_bandwidth.arguments import Array, checked


def phase_shift_keying_hz(
    bit_rate_bps: npt.ArrayLike, states: npt.ArrayLike, k: npt.ArrayLike = 1.0
) -> Array:
    """Phase-shift keying, and digital amplitude modulation by the same formula (G7D, K7).

    Parameters
    ----------
    bit_rate_bps : array_like
        Bit rate R, bit/s.
    states : array_like
        Number of signal states S, at least 2.
    k : array_like
        Number K.

    Returns
    -------
    ndarray or scalar
        Necessary bandwidth in Hz: 2R·K / log2 S.

    Raises
    ------
    ValueError
        When an argument is negative or there are fewer than two states.

    Source
    ------
    ITU-R SM.1138, table of necessary bandwidths; 47 CFR 2.202(g).

    Range
    -----
    Two states or more.

    Examples
    --------
    >>> float(phase_shift_keying_hz(10e6, 4))  # 10M0G7D
    10000000.0
    >>> phase_shift_keying_hz(9600, [2, 4, 8]).tolist()
    [19200.0, 9600.0, 6400.0]
    """
    return (
        2.0
        * checked("bit_rate_bps", bit_rate_bps)
        * checked("k", k)
        / np.log2(checked("states", states, 2.0))
    )[()]


def quadrature_amplitude_modulation_hz(bit_rate_bps: npt.ArrayLike, states: npt.ArrayLike) -> Array:
    """Quadrature amplitude modulation (D7W).

    Parameters
    ----------
    bit_rate_bps : array_like
        Bit rate R, bit/s.
    states : array_like
        Number of signal states S, at least 2.

    Returns
    -------
    ndarray or scalar
        Necessary bandwidth in Hz: 2R / log2 S.

    Raises
    ------
    ValueError
        When an argument is negative or there are fewer than two states.

    Source
    ------
    ITU-R SM.1138, table of necessary bandwidths; 47 CFR 2.202(g).

    Range
    -----
    Two states or more.

    Examples
    --------
    >>> float(quadrature_amplitude_modulation_hz(135e6, 64))  # 45M0W
    45000000.0
    >>> float(quadrature_amplitude_modulation_hz(64e3, 16))
    32000.0
    """
    return (2.0 * checked("bit_rate_bps", bit_rate_bps) / np.log2(checked("states", states, 2.0)))[()]


def binary_frequency_shift_keying_hz(bit_rate_bps: npt.ArrayLike, deviation_hz: npt.ArrayLike) -> Array:
    """Binary frequency-shift keying (F1D).

    Parameters
    ----------
    bit_rate_bps : array_like
        Bit rate R, bit/s.
    deviation_hz : array_like
        Peak deviation D, Hz.

    Returns
    -------
    ndarray or scalar
        Necessary bandwidth in Hz: 3.86D + 0.27R for 0.03 < 2D/R < 1, 2.4D + 1.0R for 1 to 2.

    Raises
    ------
    ValueError
        When an argument is negative or 2D/R is out of range.

    Source
    ------
    ITU-R SM.1138, table of necessary bandwidths; 47 CFR 2.202(g).

    Range
    -----
    0.03 < 2D/R ≤ 2.

    Examples
    --------
    >>> float(binary_frequency_shift_keying_hz(1e6, 0.75e6))  # 2M80F1D
    2800000.0
    >>> float(binary_frequency_shift_keying_hz(1e6, 0.5e6))  # both branches meet here
    2200000.0
    """
    rate, deviation = np.broadcast_arrays(
        checked("bit_rate_bps", bit_rate_bps), checked("deviation_hz", deviation_hz)
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        index = 2.0 * deviation / rate
    if ((index <= 0.03) | (index > 2.0)).any():
        raise ValueError(
            "2 * deviation_hz / bit_rate_bps must lie above 0.03 and not above 2 (ITU-R SM.1138, binary FSK)."
        )
    narrow = 3.86 * deviation + 0.27 * rate
    wide = 2.4 * deviation + 1.0 * rate
    return np.where(index <= 1.0, narrow, wide)[()]


def multilevel_frequency_shift_keying_hz(
    bit_rate_bps: npt.ArrayLike, deviation_hz: npt.ArrayLike, states: npt.ArrayLike, k: npt.ArrayLike = 1.0
) -> Array:
    """Frequency-shift keying with more than two states (F7D).

    Parameters
    ----------
    bit_rate_bps : array_like
        Bit rate R, bit/s.
    deviation_hz : array_like
        Peak deviation D, Hz.
    states : array_like
        Number of signal states S, at least 2.
    k : array_like
        Number K.

    Returns
    -------
    ndarray or scalar
        Necessary bandwidth in Hz: R / log2 S + 2D·K.

    Raises
    ------
    ValueError
        When an argument is negative or there are fewer than two states.

    Source
    ------
    ITU-R SM.1138, table of necessary bandwidths; 47 CFR 2.202(g).

    Range
    -----
    Two states or more.

    Examples
    --------
    >>> float(multilevel_frequency_shift_keying_hz(10e6, 2e6, 4))  # 9M00F7D
    9000000.0
    >>> float(multilevel_frequency_shift_keying_hz(9600, 1800, 4))
    8400.0
    """
    rate = checked("bit_rate_bps", bit_rate_bps) / np.log2(checked("states", states, 2.0))
    return (rate + 2.0 * checked("deviation_hz", deviation_hz) * checked("k", k))[()]


def minimum_shift_keying_hz(bit_rate_bps: npt.ArrayLike, states: int = 2) -> Array:
    """Minimum-shift keying (G1D).

    Parameters
    ----------
    bit_rate_bps : array_like
        Bit rate R, bit/s.
    states : int
        2 or 4.

    Returns
    -------
    ndarray or scalar
        Necessary bandwidth in Hz: 1.18R for two states, 2.34R for four.

    Raises
    ------
    ValueError
        When the rate is negative or ``states`` is neither 2 nor 4.

    Source
    ------
    ITU-R SM.1138, table of necessary bandwidths; 47 CFR 2.202(g).

    Range
    -----
    Two or four states.

    Known disagreements
    -------------------
    The copy of 47 CFR 2.202(g) that was read prints R = 2.36 Mbit/s beside 2M36G1D, which is the
    bandwidth; R = 2 Mbit/s gives it.

    Examples
    --------
    >>> float(minimum_shift_keying_hz(2e6))  # 2M36G1D
    2360000.0
    >>> float(minimum_shift_keying_hz(2e6, states=4))
    4680000.0
    """
    if states not in (2, 4):
        raise ValueError(f"states is {states}; it must be 2 or 4 (ITU-R SM.1138, minimum-shift keying).")
    return ((1.18 if states == 2 else 2.34) * checked("bit_rate_bps", bit_rate_bps))[()]
