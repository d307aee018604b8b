"""From the terms of a budget to the level of an interferer and what it does to a victim."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape


def interference_level_dbm(
    tx_power_dbm: ArrayLike,
    tx_losses_db: ArrayLike,
    tx_gain_dbi: ArrayLike,
    path_loss_db: ArrayLike,
    rx_gain_dbi: ArrayLike,
    rx_losses_db: ArrayLike,
    cross_polar_loss_db: ArrayLike = 0.0,
    rejection_db: ArrayLike = 0.0,
) -> Array:
    """Level of an emission at a receiver's input, after the receiver's selectivity.

    I = P − L_tx + G_tx − L_b + G_rx − L_rx − XPD − FDR. With no rejection it is also the level of
    the wanted signal.

    Parameters
    ----------
    tx_power_dbm : scalar or array
        Transmitter output in dBm.
    tx_losses_db, rx_losses_db : scalar or array
        Feeder and duplexer losses at the two ends in dB, at least 0.
    tx_gain_dbi, rx_gain_dbi : scalar or array
        Antenna gains towards each other in dBi.
    path_loss_db : scalar or array
        Basic transmission loss in dB.
    cross_polar_loss_db : scalar or array, optional
        Discrimination by polarisation in dB, at least 0.
    rejection_db : scalar or array, optional
        Frequency-dependent rejection in dB, at least 0.

    Returns
    -------
    scalar or array
        Level in dBm; NaN where any term is NaN.

    Raises
    ------
    RadioRangeError
        If a loss or the rejection is negative.

    Source
    ------
    ITU-R SM.337-6 Annex 1 (level of an interferer with FDR), terms of ITU-R P.341.

    Range
    -----
    Far field of both antennas.

    Examples
    --------
    >>> round(float(interference_level_dbm(40, 2, 8, 114.2457, 8, 2)), 3)
    -62.246
    >>> interference_level_dbm(40.0, 2.0, 8.0, 114.0, 8.0, 2.0, rejection_db=[0.0, 60.0])
    array([ -62., -122.])
    """
    level = (
        np.asarray(tx_power_dbm, dtype=np.float64)
        - in_range("tx_losses_db", tx_losses_db, 0.0)
        + np.asarray(tx_gain_dbi, dtype=np.float64)
        - np.asarray(path_loss_db, dtype=np.float64)
        + np.asarray(rx_gain_dbi, dtype=np.float64)
        - in_range("rx_losses_db", rx_losses_db, 0.0)
        - in_range("cross_polar_loss_db", cross_polar_loss_db, 0.0)
        - in_range("rejection_db", rejection_db, 0.0)
    )
    return same_shape(np.asarray(level))


def i_over_n_db(interference_dbm: ArrayLike, noise_dbm: ArrayLike) -> Array:
    """Ratio of interference to noise, I/N.

    I/N = I − N, levels in dBm.

    Parameters
    ----------
    interference_dbm : scalar or array
        Level of the interference in dBm, after the receiver's selectivity.
    noise_dbm : scalar or array
        Noise in dBm, see :func:`spectrum.radio.noise.noise_floor_dbm`.

    Returns
    -------
    scalar or array
        I/N in dB.

    Source
    ------
    Definition.

    Range
    -----
    Any levels.

    Examples
    --------
    >>> float(i_over_n_db(-136, -126))
    -10.0
    >>> i_over_n_db([-132.0, -126.0], -126.0)
    array([-6.,  0.])
    """
    return same_shape(
        np.asarray(np.asarray(interference_dbm, dtype=np.float64) - np.asarray(noise_dbm, dtype=np.float64))
    )


def c_over_i_db(wanted_dbm: ArrayLike, interference_dbm: ArrayLike) -> Array:
    """Ratio of the wanted signal to interference, C/I.

    C/I = C − I, levels in dBm.

    Parameters
    ----------
    wanted_dbm : scalar or array
        Level of the wanted signal in dBm.
    interference_dbm : scalar or array
        Level of the interference in dBm.

    Returns
    -------
    scalar or array
        C/I in dB.

    Source
    ------
    Definition.

    Range
    -----
    Any levels.

    Examples
    --------
    >>> float(c_over_i_db(-56, -62))
    6.0
    >>> c_over_i_db(-56.0, [-62.0, -131.0])
    array([ 6., 75.])
    """
    return same_shape(
        np.asarray(np.asarray(wanted_dbm, dtype=np.float64) - np.asarray(interference_dbm, dtype=np.float64))
    )


def c_over_n_plus_i_db(wanted_dbm: ArrayLike, noise_dbm: ArrayLike, interference_dbm: ArrayLike) -> Array:
    """Ratio of the wanted signal to noise and interference together, C/(N + I).

    C/(N + I) = C − 10 log(10^(N/10) + 10^(I/10)), levels in dBm.

    Parameters
    ----------
    wanted_dbm, noise_dbm, interference_dbm : scalar or array
        Levels in dBm.

    Returns
    -------
    scalar or array
        C/(N + I) in dB.

    Source
    ------
    Definition; noise and interference are added in watts.

    Range
    -----
    Interference that acts like noise.

    Examples
    --------
    >>> round(float(c_over_n_plus_i_db(-56.225, -126.006, -135.788)), 3)
    69.347
    >>> c_over_n_plus_i_db(-60.0, -126.0, [-126.0, -300.0]).round(4)
    array([62.9897, 66.    ])
    """
    noise, interference = np.broadcast_arrays(
        np.asarray(noise_dbm, dtype=np.float64), np.asarray(interference_dbm, dtype=np.float64)
    )
    together = aggregate_dbm(np.stack((noise, interference)), axis=0)
    return same_shape(np.asarray(np.asarray(wanted_dbm, dtype=np.float64) - together))


def threshold_degradation_db(i_over_n_db: ArrayLike) -> Array:
    """Rise of a receiver's threshold by interference that acts like noise, 10 log(1 + 10^(I/N / 10)).

    Parameters
    ----------
    i_over_n_db : scalar or array
        I/N in dB.

    Returns
    -------
    scalar or array
        Threshold degradation in dB, at least 0.

    Source
    ------
    The noise powers add; 47 CFR 101.105 states a limit of 1.0 dB in this quantity.

    Range
    -----
    Any I/N.

    Examples
    --------
    >>> round(float(threshold_degradation_db(-6)), 4)
    0.9732
    >>> threshold_degradation_db([-10.0, 0.0]).round(4)
    array([0.4139, 3.0103])
    """
    ratio = np.asarray(i_over_n_db, dtype=np.float64)
    tail = np.log1p(np.exp(-np.abs(ratio) * _NEPER_PER_DB)) / _NEPER_PER_DB  # never overflows
    return same_shape(np.asarray(np.maximum(ratio, 0.0) + tail))


def i_over_n_for_degradation_db(threshold_degradation_db: ArrayLike) -> Array:
    """I/N that degrades a threshold by a given amount, the inverse of :func:`threshold_degradation_db`.

    I/N = 10 log(10^(TD/10) − 1).

    Parameters
    ----------
    threshold_degradation_db : scalar or array
        Threshold degradation in dB, above 0.

    Returns
    -------
    scalar or array
        I/N in dB.

    Raises
    ------
    RadioRangeError
        If the degradation is not positive.

    Source
    ------
    As for :func:`threshold_degradation_db`.

    Range
    -----
    Any positive degradation.

    Examples
    --------
    >>> round(float(i_over_n_for_degradation_db(1.0)), 3)
    -5.868
    >>> i_over_n_for_degradation_db([0.4139, 3.0103]).round(3)
    array([-10.,   0.])
    """
    degradation = in_range("threshold_degradation_db", threshold_degradation_db, 0.0, above=True)
    return same_shape(np.asarray(10.0 * np.log10(np.expm1(degradation * _NEPER_PER_DB))))


def aggregate_dbm(levels_dbm: ArrayLike, axis: int = -1) -> Array:
    """Sum of levels, added in watts.

    L = 10 log Σ 10^(Li/10).

    Parameters
    ----------
    levels_dbm : array
        Levels in dBm; ``-inf`` is no power.
    axis : int, optional
        Axis along which to add, the last by default.

    Returns
    -------
    scalar or array
        Level of the sum in dBm, without that axis; never below the largest term; ``-inf`` for a sum
        of nothing; NaN where any term is NaN.

    Source
    ------
    Powers of independent emissions add.

    Range
    -----
    Emissions that are not coherent.

    Examples
    --------
    >>> round(float(aggregate_dbm([-100.0, -100.0])), 4)
    -96.9897
    >>> aggregate_dbm([[-100.0, -100.0], [-90.0, -130.0]]).round(4)
    array([-96.9897, -89.9996])
    """
    levels = np.asarray(levels_dbm, dtype=np.float64)
    largest = np.max(levels, axis=axis, keepdims=True, initial=-np.inf)
    reference = np.where(np.isneginf(largest), 0.0, largest)
    with np.errstate(divide="ignore"):  # the sum of nothing is -inf dBm
        total = 10.0 * np.log10(np.sum(10.0 ** ((levels - reference) / 10.0), axis=axis))
    return same_shape(np.asarray(total + np.squeeze(reference, axis=axis)))


def aggregate_per_victim_dbm(
    levels_dbm: ArrayLike, victim: npt.NDArray[np.integer], victim_count: int
) -> Array:
    """Sum of levels in watts for each victim of a list of single entries.

    L = 10 log Σ 10^(Li/10), over the entries of each victim.

    Parameters
    ----------
    levels_dbm : array, shape (n,)
        Levels of single entries in dBm.
    victim : integer array, shape (n,)
        Number of the victim of each entry, from 0.
    victim_count : int
        How many victims there are.

    Returns
    -------
    array, shape (victim_count,)
        Level of the sum in dBm; ``-inf`` for a victim without an entry; NaN where an entry is NaN.

    Raises
    ------
    ValueError
        If the two arrays differ in shape or a number is not below ``victim_count``.

    Source
    ------
    As for :func:`aggregate_dbm`.

    Range
    -----
    As for :func:`aggregate_dbm`.

    Examples
    --------
    >>> aggregate_per_victim_dbm([-100.0, -100.0, -90.0], np.array([0, 0, 2]), 3).round(4)
    array([-96.9897,     -inf, -90.    ])
    >>> aggregate_per_victim_dbm([-80.0], np.array([1]), 2)
    array([-inf, -80.])
    """
    levels = np.asarray(levels_dbm, dtype=np.float64)
    if levels.shape != victim.shape or levels.ndim != 1:
        raise ValueError(
            f"levels_dbm has the shape {levels.shape} and victim {victim.shape}; "
            "give one victim for each level."
        )
    if victim.size and not 0 <= int(victim.min()) <= int(victim.max()) < victim_count:
        raise ValueError(
            f"victim runs from {victim.min()} to {victim.max()}; "
            f"it must lie between 0 and {victim_count - 1}."
        )
    largest = np.full(victim_count, -np.inf)
    with np.errstate(invalid="ignore"):  # an unknown entry makes the sum of its victim unknown
        np.maximum.at(largest, victim, levels)
    reference = np.where(np.isneginf(largest), 0.0, largest)
    power = np.bincount(victim, 10.0 ** ((levels - reference[victim]) / 10.0), minlength=victim_count)
    with np.errstate(divide="ignore"):  # no entry: -inf dBm
        return np.asarray(10.0 * np.log10(power) + reference)


_NEPER_PER_DB = np.log(10.0) / 10.0
