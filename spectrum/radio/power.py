"""Power of a transmitter and what a limit on it means."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

HALF_WAVE_DIPOLE_GAIN_DBI: Final = 2.15
"""Gain of a half-wave dipole, rounded as the trade does (exactly 10 log 1.6409 = 2.1509 dB)."""

LIMIT_KINDS: Final = ("tx_output", "erp", "eirp")
"""What a power limit is stated as: transmitter output, e.r.p. or e.i.r.p."""


def w_to_dbm(power_w: ArrayLike) -> Array:
    """Power in dBm from power in watts.

    Parameters
    ----------
    power_w : scalar or array
        Power in W, above 0.

    Returns
    -------
    scalar or array
        Power in dBm.

    Raises
    ------
    RadioRangeError
        If the power is not positive.

    Source
    ------
    Definition, 10 log(P / 1 mW).

    Range
    -----
    Any positive power.

    Examples
    --------
    >>> float(w_to_dbm(10))
    40.0
    >>> w_to_dbm([0.2, 5.0, 25.0]).round(4)
    array([23.0103, 36.9897, 43.9794])
    """
    return same_shape(np.asarray(10.0 * np.log10(in_range("power_w", power_w, 0.0, above=True)) + 30.0))


def dbm_to_w(power_dbm: ArrayLike) -> Array:
    """Power in watts from power in dBm.

    Parameters
    ----------
    power_dbm : scalar or array
        Power in dBm.

    Returns
    -------
    scalar or array
        Power in W.

    Source
    ------
    Definition, 10^((P − 30) / 10).

    Range
    -----
    Any power.

    Examples
    --------
    >>> float(dbm_to_w(40))
    10.0
    >>> dbm_to_w([30.0, 46.0]).round(5)
    array([ 1.     , 39.81072])
    """
    return same_shape(np.asarray(10.0 ** ((np.asarray(power_dbm, dtype=np.float64) - 30.0) / 10.0)))


def dbw_to_dbm(power_dbw: ArrayLike) -> Array:
    """Power in dBm from power in dBW.

    Parameters
    ----------
    power_dbw : scalar or array
        Power in dBW.

    Returns
    -------
    scalar or array
        Power in dBm.

    Source
    ------
    Definition, 1 W = 1000 mW.

    Range
    -----
    Any power.

    Examples
    --------
    >>> float(dbw_to_dbm(17))
    47.0
    >>> dbw_to_dbm([-30.0, 55.0])
    array([ 0., 85.])
    """
    return same_shape(np.asarray(np.asarray(power_dbw, dtype=np.float64) + 30.0))


def dbm_to_dbw(power_dbm: ArrayLike) -> Array:
    """Power in dBW from power in dBm.

    Parameters
    ----------
    power_dbm : scalar or array
        Power in dBm.

    Returns
    -------
    scalar or array
        Power in dBW.

    Source
    ------
    Definition, 1 W = 1000 mW.

    Range
    -----
    Any power.

    Examples
    --------
    >>> float(dbm_to_dbw(47))
    17.0
    >>> dbm_to_dbw([0.0, 85.0])
    array([-30.,  55.])
    """
    return same_shape(np.asarray(np.asarray(power_dbm, dtype=np.float64) - 30.0))


def erp_to_eirp_dbm(erp_dbm: ArrayLike) -> Array:
    """e.i.r.p. from e.r.p., 2.15 dB more.

    Parameters
    ----------
    erp_dbm : scalar or array
        Effective radiated power (relative to a half-wave dipole) in dBm.

    Returns
    -------
    scalar or array
        Equivalent isotropically radiated power in dBm.

    Source
    ------
    ITU Radio Regulations 1.161 and 1.162, as quoted in 47 CFR 2.1.

    Range
    -----
    Any power; the difference holds for dBm and dBW alike.

    Known disagreements
    -------------------
    The dipole's gain is 2.1509 dB; the trade and this register use 2.15 dB.

    Examples
    --------
    >>> round(float(erp_to_eirp_dbm(43.85)), 4)
    46.0
    >>> erp_to_eirp_dbm([27.85, 40.0])
    array([30.  , 42.15])
    """
    return same_shape(np.asarray(np.asarray(erp_dbm, dtype=np.float64) + HALF_WAVE_DIPOLE_GAIN_DBI))


def eirp_to_erp_dbm(eirp_dbm: ArrayLike) -> Array:
    """e.r.p. from e.i.r.p., 2.15 dB less.

    Parameters
    ----------
    eirp_dbm : scalar or array
        Equivalent isotropically radiated power in dBm.

    Returns
    -------
    scalar or array
        Effective radiated power (relative to a half-wave dipole) in dBm.

    Source
    ------
    ITU Radio Regulations 1.161 and 1.162, as quoted in 47 CFR 2.1.

    Range
    -----
    Any power; the difference holds for dBm and dBW alike.

    Known disagreements
    -------------------
    As for :func:`erp_to_eirp_dbm`.

    Examples
    --------
    >>> round(float(eirp_to_erp_dbm(46)), 4)
    43.85
    >>> eirp_to_erp_dbm([30.0, 42.15])
    array([27.85, 40.  ])
    """
    return same_shape(np.asarray(np.asarray(eirp_dbm, dtype=np.float64) - HALF_WAVE_DIPOLE_GAIN_DBI))


def eirp_dbm(
    tx_dbm: ArrayLike, feeder_loss_db: ArrayLike, duplexer_loss_db: ArrayLike, gain_dbi: ArrayLike
) -> Array:
    """e.i.r.p. of a station: output less losses plus antenna gain.

    Parameters
    ----------
    tx_dbm : scalar or array
        Transmitter output in dBm.
    feeder_loss_db, duplexer_loss_db : scalar or array
        Losses between transmitter and antenna in dB, at least 0.
    gain_dbi : scalar or array
        Antenna gain in dBi in the direction in question.

    Returns
    -------
    scalar or array
        e.i.r.p. in dBm.

    Raises
    ------
    RadioRangeError
        If a loss is negative.

    Source
    ------
    ITU Radio Regulations 1.161, as quoted in 47 CFR 2.1.

    Range
    -----
    Far field of the antenna.

    Examples
    --------
    >>> float(eirp_dbm(40, 2, 0, 8))
    46.0
    >>> eirp_dbm(43.0, 1.5, [0.0, 1.2], 12.0)
    array([53.5, 52.3])
    """
    losses = in_range("feeder_loss_db", feeder_loss_db, 0.0) + in_range(
        "duplexer_loss_db", duplexer_loss_db, 0.0
    )
    return same_shape(
        np.asarray(np.asarray(tx_dbm, dtype=np.float64) - losses + np.asarray(gain_dbi, dtype=np.float64))
    )


def power_as_limited_dbm(
    tx_output_dbm: ArrayLike, losses_db: ArrayLike, gain_dbi: ArrayLike, kind: str | npt.ArrayLike
) -> Array:
    """Power of a station in the kind in which a limit is stated.

    Parameters
    ----------
    tx_output_dbm : scalar or array
        Transmitter output in dBm.
    losses_db : scalar or array
        All losses between transmitter and antenna in dB, at least 0.
    gain_dbi : scalar or array
        Maximum antenna gain in dBi.
    kind : str or array of str
        ``"tx_output"``, ``"erp"`` or ``"eirp"``.

    Returns
    -------
    scalar or array
        Power in dBm: transmitter output, e.r.p. or e.i.r.p.

    Raises
    ------
    RadioRangeError
        If a loss is negative.
    ValueError
        If the kind is none of the three.

    Source
    ------
    ITU Radio Regulations 1.161 and 1.162, as quoted in 47 CFR 2.1.

    Range
    -----
    Any power. A figure that the kind does not need may be NaN only where the kind is ``"tx_output"``.

    Examples
    --------
    >>> round(float(power_as_limited_dbm(40, 2, 8, "erp")), 4)
    43.85
    >>> power_as_limited_dbm(40.0, 2.0, 8.0, ["tx_output", "eirp"])
    array([40., 46.])
    """
    names = np.asarray(kind, dtype=str)
    unknown = ~np.isin(names, LIMIT_KINDS)
    if unknown.any():
        raise ValueError(
            f"kind is {str(names[unknown].flat[0])!r}; it must be one of {', '.join(LIMIT_KINDS)}."
        )
    output = np.asarray(tx_output_dbm, dtype=np.float64)
    eirp = output - in_range("losses_db", losses_db, 0.0) + np.asarray(gain_dbi, dtype=np.float64)
    stated = np.where(names == "erp", eirp - HALF_WAVE_DIPOLE_GAIN_DBI, eirp)
    return same_shape(np.where(names == "tx_output", output, stated))


def margin_to_limit_db(
    tx_output_dbm: ArrayLike,
    losses_db: ArrayLike,
    gain_dbi: ArrayLike,
    limit_dbm: ArrayLike,
    kind: str | npt.ArrayLike,
) -> Array:
    """How far a station stays below a power limit, compared in the limit's own kind.

    Parameters
    ----------
    tx_output_dbm : scalar or array
        Transmitter output in dBm.
    losses_db : scalar or array
        All losses between transmitter and antenna in dB, at least 0.
    gain_dbi : scalar or array
        Maximum antenna gain in dBi.
    limit_dbm : scalar or array
        The limit in dBm, in the kind that ``kind`` names.
    kind : str or array of str
        ``"tx_output"``, ``"erp"`` or ``"eirp"``.

    Returns
    -------
    scalar or array
        Margin in dB; negative where the limit is exceeded.

    Raises
    ------
    RadioRangeError
        If a loss is negative.
    ValueError
        If the kind is none of the three.

    Source
    ------
    ITU Radio Regulations 1.161 and 1.162, as quoted in 47 CFR 2.1.

    Range
    -----
    Any power.

    Examples
    --------
    >>> round(float(margin_to_limit_db(40, 2, 8, 43, "erp")), 4)
    -0.85
    >>> margin_to_limit_db(40.0, 2.0, 8.0, 46.0, ["tx_output", "eirp"])
    array([6., 0.])
    """
    stated = power_as_limited_dbm(tx_output_dbm, losses_db, gain_dbi, kind)
    return same_shape(np.asarray(np.asarray(limit_dbm, dtype=np.float64) - stated))


def short_path_eirp_limit_dbw(
    max_eirp_dbw: ArrayLike, minimum_path_km: ArrayLike, path_km: ArrayLike
) -> Array:
    """Highest e.i.r.p. on a path shorter than the minimum for its band.

    EIRP = MAXEIRP − 40 log(A / B).

    Parameters
    ----------
    max_eirp_dbw : scalar or array
        MAXEIRP, highest e.i.r.p. of the band in dBW.
    minimum_path_km : scalar or array
        A, minimum path length of the band in km, above 0.
    path_km : scalar or array
        B, length of the path in km, above 0.

    Returns
    -------
    scalar or array
        Highest e.i.r.p. in dBW; MAXEIRP where the path is not shorter than the minimum.

    Raises
    ------
    RadioRangeError
        If a length is not positive.

    Source
    ------
    47 CFR 101.143(b).

    Range
    -----
    The bands that 47 CFR 101.143(a) lists.

    Examples
    --------
    >>> round(float(short_path_eirp_limit_dbw(55, 17, 5)), 4)
    33.7408
    >>> short_path_eirp_limit_dbw(55.0, 17.0, [10.0, 17.0, 40.0]).round(4)
    array([45.782, 55.   , 55.   ])
    """
    minimum = in_range("minimum_path_km", minimum_path_km, 0.0, above=True)
    ratio = minimum / in_range("path_km", path_km, 0.0, above=True)
    return same_shape(
        np.asarray(np.asarray(max_eirp_dbw, dtype=np.float64) - 40.0 * np.log10(np.maximum(ratio, 1.0)))
    )
