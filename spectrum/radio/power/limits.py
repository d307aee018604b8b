"""What a limit on power means, and how far a station stays below it."""

from __future__ import annotations

from typing import Final, get_args

import numpy as np
import numpy.typing as npt

from licences.limits import DIPOLE_GAIN_DBI, PowerKind
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

LIMIT_KINDS: Final[tuple[str, ...]] = get_args(PowerKind)
"""What a power limit is stated as: transmitter output, e.r.p. or e.i.r.p."""


def power_as_limited_dbm(
    tx_output_dbm: ArrayLike, losses_db: ArrayLike, gain_dbi: ArrayLike, kind: str | npt.ArrayLike
) -> Array:
    """Power of a station in the kind in which a limit is stated.

    Transmitter output P; e.i.r.p. = P − L + G; e.r.p. = P − L + G − 2.15 dB.

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
    stated = np.where(names == "erp", eirp - DIPOLE_GAIN_DBI, eirp)
    return same_shape(np.where(names == "tx_output", output, stated))


def margin_to_limit_db(
    tx_output_dbm: ArrayLike,
    losses_db: ArrayLike,
    gain_dbi: ArrayLike,
    limit_dbm: ArrayLike,
    kind: str | npt.ArrayLike,
) -> Array:
    """How far a station stays below a power limit, compared in the limit's own kind.

    Margin = limit − power, both in the kind of the limit.

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
