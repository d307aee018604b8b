"""Watts, dBm and dBW."""

from __future__ import annotations

import numpy as np

from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape


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
