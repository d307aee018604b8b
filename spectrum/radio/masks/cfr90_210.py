"""Emission masks B, C, D, E, G, H, I and J of 47 CFR 90.210."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Final

import numpy as np

from spectrum.radio.masks.limit import Stretch, evaluate, mask_from_limit
from spectrum.radio.masks.mask import Mask
from spectrum.radio.ranges import Array, ArrayLike, in_range

AUTHORISED_BANDWIDTH_KHZ: Final[dict[str, float]] = {
    "B": 20.0,
    "C": 20.0,
    "D": 11.25,
    "E": 6.0,
    "G": 20.0,
    "H": 20.0,
    "I": 13.6,
    "J": 13.6,
}
"""Authorised bandwidth that usually goes with each mask, 47 CFR 90.209."""

Formula = Callable[[Array, Array], Array]


def _level(value: float) -> Formula:
    return lambda fd, p: value + 0.0 * (fd + p)


def _log(factor: float, divisor: float) -> Formula:
    return lambda fd, p: factor * np.log10(fd / divisor) + 0.0 * p


def _below_watts(constant: float) -> Formula:
    """``constant`` + 10 log P: a limit in absolute power."""
    return lambda fd, p: constant + p + 0.0 * fd


def _lesser(*formulas: Formula) -> Formula:
    return lambda fd, p: np.minimum.reduce([formula(fd, p) for formula in formulas])


def _not_stated(fd: Array, p: Array) -> Array:
    return np.nan * (fd + p)


def _mask_b(bandwidth: Array) -> list[Stretch]:
    return [
        Stretch(0.5 * bandwidth, _level(0)),
        Stretch(1.0 * bandwidth, _level(25)),
        Stretch(2.5 * bandwidth, _level(35)),
        Stretch(np.asarray(np.inf), _below_watts(43)),
    ]


def _mask_c(bandwidth: Array) -> list[Stretch]:
    return [
        Stretch(np.asarray(5.0), _level(0)),
        Stretch(np.asarray(10.0), _log(83, 5)),
        Stretch(2.5 * bandwidth, _lesser(lambda fd, p: 29 * np.log10(fd**2 / 11) + 0 * p, _level(50))),
        Stretch(np.asarray(np.inf), _below_watts(43)),
    ]


def _mask_d(bandwidth: Array) -> list[Stretch]:
    return [
        Stretch(np.asarray(5.625), _level(0)),
        Stretch(np.asarray(12.5), lambda fd, p: 7.27 * (fd - 2.88) + 0 * p),
        Stretch(np.asarray(np.inf), _lesser(_below_watts(50), _level(70))),
    ]


def _mask_e(bandwidth: Array) -> list[Stretch]:
    beyond = _lesser(_below_watts(55), _level(65))
    return [
        Stretch(np.asarray(3.0), _level(0)),
        Stretch(np.asarray(4.6), _lesser(lambda fd, p: 30 + 16.67 * (fd - 3) + 0 * p, beyond)),
        Stretch(np.asarray(np.inf), beyond),
    ]


def _mask_g(bandwidth: Array) -> list[Stretch]:
    return [
        Stretch(np.asarray(10.0), _not_stated),
        Stretch(2.5 * bandwidth, _lesser(_log(116, 6.1), _below_watts(50), _level(70))),
        Stretch(np.asarray(np.inf), _below_watts(43)),
    ]


def _mask_h(bandwidth: Array) -> list[Stretch]:
    return [
        Stretch(np.asarray(4.0), _level(0)),
        Stretch(np.asarray(8.5), _log(107, 4)),
        Stretch(np.asarray(15.0), _log(40.5, 1.16)),
        Stretch(np.asarray(25.0), _log(116, 6.1)),
        Stretch(np.asarray(np.inf), _below_watts(43)),
    ]


def _mask_i(bandwidth: Array) -> list[Stretch]:
    return [
        Stretch(np.asarray(6.8), _level(0)),
        Stretch(np.asarray(9.0), _level(25)),
        Stretch(np.asarray(15.0), _level(35)),
        Stretch(np.asarray(np.inf), _lesser(_below_watts(43), _level(70))),
    ]


def _mask_j(bandwidth: Array) -> list[Stretch]:
    return [
        Stretch(np.asarray(2.5), _level(0)),
        Stretch(np.asarray(6.25), _log(53, 2.5)),
        Stretch(np.asarray(9.5), _log(103, 3.9)),
        Stretch(np.asarray(np.inf), _lesser(_log(157, 5.3), _below_watts(50), _level(70))),
    ]


_MASKS: Final[dict[str, Callable[[Array], list[Stretch]]]] = {
    "B": _mask_b,
    "C": _mask_c,
    "D": _mask_d,
    "E": _mask_e,
    "G": _mask_g,
    "H": _mask_h,
    "I": _mask_i,
    "J": _mask_j,
}


def attenuation_db(
    mask: str,
    fd_khz: ArrayLike,
    power_w: ArrayLike,
    authorised_bandwidth_khz: ArrayLike | None = None,
) -> Array:
    """Least attenuation below the transmitter power that a mask demands at an offset.

    Parameters
    ----------
    mask : str
        ``"B"``, ``"C"``, ``"D"``, ``"E"``, ``"G"``, ``"H"``, ``"I"`` or ``"J"``.
    fd_khz : scalar or array
        Displacement from the centre of the authorised bandwidth in kHz, of either sign.
    power_w : scalar or array
        P, transmitter power in W, above 0.
    authorised_bandwidth_khz : scalar or array, optional
        Authorised bandwidth in kHz, above 0; by default that of :data:`AUTHORISED_BANDWIDTH_KHZ`. Masks
        B, C and G depend on it.

    Returns
    -------
    scalar or array
        Attenuation in dB; 0 where the mask does not ask for any; NaN where an argument is NaN and for
        mask G up to 10 kHz, where the rule states nothing.

    Raises
    ------
    RadioRangeError
        If the power or the bandwidth is not positive.
    ValueError
        If the mask is none of the eight.

    Source
    ------
    47 CFR 90.210 (b) to (j), read in a stored copy of the eCFR. An interval "more than X but not more
    than Y" contains Y and not X.

    Range
    -----
    Any offset.

    Known disagreements
    -------------------
    Mask D falls from 69.9 dB at 12.5 kHz to 60 dB beyond it at 10 W: the rule says so. Plain text
    copies print "29 log(fd2/11)" in mask C; it is 29 log(fd²/11).

    Examples
    --------
    >>> attenuation_db("D", [5.0, 6.25, 12.5, 25.0], 10.0).round(3)
    array([ 0.   , 24.5  , 69.937, 60.   ])
    >>> round(float(attenuation_db("B", 60, 25, 20)), 3)
    56.979
    """
    offset = np.asarray(fd_khz, dtype=np.float64)
    power = in_range("power_w", power_w, 0.0, above=True)
    return evaluate(_stretches(mask, authorised_bandwidth_khz), offset, power)


@lru_cache(maxsize=256)
def emission_mask(
    mask: str,
    power_w: float,
    reference_bandwidth_khz: float,
    authorised_bandwidth_khz: float | None = None,
    cut_off_khz: float | None = None,
) -> Mask:
    """The emission that uses a mask to the full, as relative power spectral density.

    Parameters
    ----------
    mask : str
        As for :func:`attenuation_db`.
    power_w : float
        P, transmitter power in W, above 0; it is taken to be spread over the authorised bandwidth.
    reference_bandwidth_khz : float
        Resolution bandwidth in which compliance is shown, in kHz, above 0 (100 Hz near the channel for
        masks D and E, from memory, not verified).
    authorised_bandwidth_khz : float, optional
        As for :func:`attenuation_db`.
    cut_off_khz : float, optional
        Offset in kHz at which the mask ends; by default ten times the authorised bandwidth (our choice).

    Returns
    -------
    Mask
        A symmetric mask, within 0.05 dB of the limit between its points.

    Raises
    ------
    RadioRangeError
        If an argument is not positive or the cut-off does not lie beyond the last change of the mask.
    ValueError
        If the mask is none of the eight.

    Source
    ------
    47 CFR 90.210, converted by :func:`spectrum.radio.masks.limit.mask_from_limit`.

    Range
    -----
    An upper bound of what the rule allows, not a typical emission: an equipment's own measured mask is
    better wherever there is one.

    Examples
    --------
    >>> emission_mask("B", 10.0, 0.3).level_at_db([0.0, 15.0, 40.0]).round(3)
    array([  0.   ,  -6.761, -16.761])
    >>> emission_mask("D", 10.0, 0.1).span_khz
    (-112.5, 112.5)
    """
    stretches = _stretches(mask, authorised_bandwidth_khz)
    bandwidth = (
        AUTHORISED_BANDWIDTH_KHZ[mask] if authorised_bandwidth_khz is None else authorised_bandwidth_khz
    )
    end = 10.0 * bandwidth if cut_off_khz is None else cut_off_khz
    return mask_from_limit(stretches, power_w, bandwidth, reference_bandwidth_khz, end)


def _stretches(mask: str, authorised_bandwidth_khz: ArrayLike | None) -> list[Stretch]:
    if mask not in _MASKS:
        raise ValueError(f"mask is {mask!r}; it must be one of {', '.join(_MASKS)}.")
    given = AUTHORISED_BANDWIDTH_KHZ[mask] if authorised_bandwidth_khz is None else authorised_bandwidth_khz
    bandwidth = in_range("authorised_bandwidth_khz", given, 0.0, above=True)
    return _MASKS[mask](bandwidth)
