"""Amplitude modulation: keyed carriers, double, single and independent sidebands."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from licences.emissions.necessary_bandwidth.arguments import Array, checked


def keyed_carrier_hz(symbol_rate_baud: npt.ArrayLike, k: npt.ArrayLike = 3.0) -> Array:
    """A carrier keyed on and off (A1A, A1B).

    Parameters
    ----------
    symbol_rate_baud : array_like
        Symbol rate B, baud.
    k : array_like
        Number K: 5 for fading circuits, 3 for non-fading ones.

    Returns
    -------
    ndarray or scalar
        Necessary bandwidth in Hz: B·K.

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
    >>> float(keyed_carrier_hz(20, k=5))
    100.0
    >>> keyed_carrier_hz([20, 40], k=3).tolist()
    [60.0, 120.0]
    """
    return (checked("symbol_rate_baud", symbol_rate_baud) * checked("k", k))[()]


def keyed_tone_hz(symbol_rate_baud: npt.ArrayLike, tone_hz: npt.ArrayLike, k: npt.ArrayLike = 3.0) -> Array:
    """A tone-modulated carrier keyed on and off (A2A).

    Parameters
    ----------
    symbol_rate_baud : array_like
        Symbol rate B, baud.
    tone_hz : array_like
        Tone frequency M, Hz.
    k : array_like
        Number K: 5 for fading circuits, 3 for non-fading ones.

    Returns
    -------
    ndarray or scalar
        Necessary bandwidth in Hz: B·K + 2M.

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
    >>> float(keyed_tone_hz(20, 1000, k=5))
    2100.0
    >>> float(keyed_tone_hz(20, 1000))
    2060.0
    """
    return (
        checked("symbol_rate_baud", symbol_rate_baud) * checked("k", k) + 2.0 * checked("tone_hz", tone_hz)
    )[()]


def double_sideband_hz(max_modulation_hz: npt.ArrayLike) -> Array:
    """Amplitude modulation, double sideband (A3E, A8E).

    Parameters
    ----------
    max_modulation_hz : array_like
        Greatest modulation frequency M, Hz.

    Returns
    -------
    ndarray or scalar
        Necessary bandwidth in Hz: 2M.

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
    >>> float(double_sideband_hz(3000))
    6000.0
    >>> float(double_sideband_hz(164e3))
    328000.0
    """
    return (2.0 * checked("max_modulation_hz", max_modulation_hz))[()]


def single_sideband_hz(
    max_modulation_hz: npt.ArrayLike, lowest_modulation_hz: npt.ArrayLike = 0.0, channels: npt.ArrayLike = 1.0
) -> Array:
    """Single sideband: full or reduced carrier (H, R), or suppressed carrier (J) with its lowest frequency.

    Parameters
    ----------
    max_modulation_hz : array_like
        Greatest modulation frequency M, Hz.
    lowest_modulation_hz : array_like
        Lowest modulation frequency for a suppressed carrier, Hz; 0 with a carrier.
    channels : array_like
        Number of channels Nc side by side.

    Returns
    -------
    ndarray or scalar
        Necessary bandwidth in Hz: Nc·M − lowest modulation frequency.

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
    >>> float(single_sideband_hz(4500, lowest_modulation_hz=50))
    4450.0
    >>> float(single_sideband_hz(3000, lowest_modulation_hz=250, channels=2))
    5750.0
    """
    return (
        checked("channels", channels) * checked("max_modulation_hz", max_modulation_hz)
        - checked("lowest_modulation_hz", lowest_modulation_hz)
    )[()]


def independent_sidebands_hz(widths_hz: Sequence[float] | Array) -> Array:
    """Independent sidebands (B8E, B9W): the sum of the widths of the sidebands.

    Parameters
    ----------
    widths_hz : array_like
        Width M of each sideband in Hz, along the last axis.

    Returns
    -------
    ndarray or scalar
        Necessary bandwidth in Hz: the sum of M over all sidebands.

    Raises
    ------
    ValueError
        When a width is negative.

    Source
    ------
    ITU-R SM.1138, table of necessary bandwidths; 47 CFR 2.202(g).

    Range
    -----
    Any widths of 0 or more.

    Examples
    --------
    >>> float(independent_sidebands_hz([3000, 3000]))
    6000.0
    >>> independent_sidebands_hz([[3000, 3000], [3000, 9000]]).tolist()
    [6000.0, 12000.0]
    """
    return np.asarray(checked("widths_hz", widths_hz).sum(axis=-1))[()]


def television_relay_hz(
    subcarrier_hz: npt.ArrayLike, max_modulation_hz: npt.ArrayLike, deviation_hz: npt.ArrayLike
) -> Array:
    """A double-sideband television relay with a frequency-modulated sound sub-carrier (A8W).

    Parameters
    ----------
    subcarrier_hz : array_like
        Sound sub-carrier C, Hz.
    max_modulation_hz : array_like
        Greatest modulation frequency M, Hz.
    deviation_hz : array_like
        Peak deviation D, Hz.

    Returns
    -------
    ndarray or scalar
        Necessary bandwidth in Hz: 2C + 2M + 2D.

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
    The copy of 47 CFR 2.202(g) that was read prints 13M2A8W; 13.13 MHz rounds to 13M1.

    Examples
    --------
    >>> float(television_relay_hz(6.5e6, 15e3, 50e3))
    13130000.0
    >>> float(television_relay_hz(6.0e6, 15e3, 50e3))
    12130000.0
    """
    return (
        2.0 * checked("subcarrier_hz", subcarrier_hz)
        + 2.0 * checked("max_modulation_hz", max_modulation_hz)
        + 2.0 * checked("deviation_hz", deviation_hz)
    )[()]
