"""Radiated power: e.r.p. and e.i.r.p."""

from __future__ import annotations

import numpy as np

from licences.limits import DIPOLE_GAIN_DBI
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape


def erp_to_eirp_dbm(erp_dbm: ArrayLike) -> Array:
    """e.i.r.p. from e.r.p., 2.15 dB more.

    e.i.r.p. = e.r.p. + 2.15 dB.

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
    return same_shape(np.asarray(np.asarray(erp_dbm, dtype=np.float64) + DIPOLE_GAIN_DBI))


def eirp_to_erp_dbm(eirp_dbm: ArrayLike) -> Array:
    """e.r.p. from e.i.r.p., 2.15 dB less.

    e.r.p. = e.i.r.p. − 2.15 dB.

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
    return same_shape(np.asarray(np.asarray(eirp_dbm, dtype=np.float64) - DIPOLE_GAIN_DBI))


def eirp_dbm(
    tx_dbm: ArrayLike, feeder_loss_db: ArrayLike, duplexer_loss_db: ArrayLike, gain_dbi: ArrayLike
) -> Array:
    """e.i.r.p. of a station: output less losses plus antenna gain.

    e.i.r.p. = P − L_feeder − L_duplexer + G.

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
