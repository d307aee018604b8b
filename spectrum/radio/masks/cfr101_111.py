"""Emission limits of 47 CFR 101.111 for digital microwave and for 900 MHz multiple-address systems."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import numpy as np

from spectrum.radio.masks.limit import Stretch, evaluate, mask_from_limit
from spectrum.radio.masks.mask import Mask
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

DIGITAL_REFERENCE_BANDWIDTH_KHZ: Final = 4.0
MULTIPLE_ADDRESS_BANDWIDTH_KHZ: Final = 12.5

_LIMIT_A_5: Final = [
    Stretch(np.asarray(2.5), lambda fd, p: 0.0 * (fd + p)),
    Stretch(np.asarray(6.25), lambda fd, p: 53.0 * np.log10(fd / 2.5) + 0.0 * p),
    Stretch(np.asarray(9.5), lambda fd, p: 103.0 * np.log10(fd / 3.9) + 0.0 * p),
    Stretch(np.asarray(15.0), lambda fd, p: 157.0 * np.log10(fd / 5.3) + 0.0 * p),
    Stretch(np.asarray(np.inf), lambda fd, p: np.minimum(50.0 + p, 70.0) + 0.0 * fd),
]


def digital_attenuation_db(
    removed_percent: ArrayLike, authorised_bandwidth_mhz: ArrayLike, *, bounded: bool = True
) -> Array:
    """Attenuation in any 4 kHz for digital systems below 15 GHz, A = 35 + 0.8 (P − 50) + 10 log B.

    Parameters
    ----------
    removed_percent : scalar or array
        P, distance from the centre frequency in percent of the authorised bandwidth, above 50, up to 250.
    authorised_bandwidth_mhz : scalar or array
        B, authorised bandwidth in MHz, above 0.
    bounded : bool, optional
        True (default): at least 50 dB, and not more than the 80 dB that the rule requires at most.
        False: the bare formula.

    Returns
    -------
    scalar or array
        Attenuation below the mean transmitter power in dB.

    Raises
    ------
    RadioRangeError
        If the percentage or the bandwidth is out of range.

    Source
    ------
    47 CFR 101.111(a)(2)(i), read in a stored copy of the eCFR.

    Range
    -----
    Above 50 % up to 250 % of the authorised bandwidth; below 15 GHz. The rule's alternative of −13 dBm in
    1 MHz is not applied.

    Examples
    --------
    >>> round(float(digital_attenuation_db(75, 2.5)), 3)
    58.979
    >>> digital_attenuation_db([60.0, 100.0, 200.0], 0.2).round(3)
    array([50.  , 68.01, 80.  ])
    """
    removed = in_range(
        "removed_percent", removed_percent, 50.0, 250.0, above=True, source="47 CFR 101.111(a)(2)(i)"
    )
    bandwidth = in_range("authorised_bandwidth_mhz", authorised_bandwidth_mhz, 0.0, above=True)
    attenuation = 35.0 + 0.8 * (removed - 50.0) + 10.0 * np.log10(bandwidth)
    return same_shape(np.asarray(np.clip(attenuation, 50.0, 80.0) if bounded else attenuation))


@lru_cache(maxsize=256)
def digital_emission_mask(authorised_bandwidth_mhz: float, power_w: float) -> Mask:
    """The emission that uses the digital limit to the full, as relative power spectral density.

    It ends at 250 % of the authorised bandwidth.

    Parameters
    ----------
    authorised_bandwidth_mhz : float
        Authorised bandwidth in MHz, above 0.
    power_w : float
        Mean transmitter power in W, above 0, spread over the authorised bandwidth.

    Returns
    -------
    Mask
        A symmetric mask, within 0.05 dB of the limit between its points.

    Raises
    ------
    RadioRangeError
        If an argument is not positive.

    Source
    ------
    47 CFR 101.111(a)(2)(i), converted by :func:`spectrum.radio.masks.limit.mask_from_limit`.

    Range
    -----
    As for :func:`digital_attenuation_db`.

    Examples
    --------
    >>> digital_emission_mask(2.5, 1.0).span_khz
    (-6250.0, 6250.0)
    >>> digital_emission_mask(2.5, 1.0).level_at_db([0.0, 1875.0]).round(2)
    array([  0.  , -31.02])
    """
    bandwidth = float(in_range("authorised_bandwidth_mhz", authorised_bandwidth_mhz, 0.0, above=True)) * 1e3
    stretches = [
        Stretch(np.asarray(0.5 * bandwidth), lambda fd, p: 0.0 * (fd + p)),
        Stretch(
            np.asarray(np.inf),
            lambda fd, p: (
                digital_attenuation_db(
                    np.clip(100.0 * fd / bandwidth, np.nextafter(50.0, 51.0), 250.0), bandwidth / 1e3
                )
                + 0.0 * p
            ),
        ),
    ]
    return mask_from_limit(stretches, power_w, bandwidth, DIGITAL_REFERENCE_BANDWIDTH_KHZ, 2.5 * bandwidth)


def multiple_address_attenuation_db(fd_khz: ArrayLike, power_w: ArrayLike) -> Array:
    """Attenuation for 900 MHz multiple-address systems with digital modulation in 12.5 kHz.

    Parameters
    ----------
    fd_khz : scalar or array
        Displacement from the centre of the authorised bandwidth in kHz, of either sign.
    power_w : scalar or array
        P, transmitter power in W, above 0.

    Returns
    -------
    scalar or array
        Attenuation below P in dB; 0 up to 2.5 kHz; NaN where an argument is NaN.

    Raises
    ------
    RadioRangeError
        If the power is not positive.

    Source
    ------
    47 CFR 101.111(a)(5), read in a stored copy of the eCFR.

    Range
    -----
    Any offset.

    Examples
    --------
    >>> multiple_address_attenuation_db([5.0, 6.25, 9.5, 12.5], 10.0).round(3)
    array([15.955, 21.091, 39.826, 58.504])
    >>> round(float(multiple_address_attenuation_db(-20, 5)), 2)
    56.99
    """
    offset = np.asarray(fd_khz, dtype=np.float64)
    return evaluate(_LIMIT_A_5, offset, in_range("power_w", power_w, 0.0, above=True))


@lru_cache(maxsize=256)
def multiple_address_emission_mask(
    power_w: float, reference_bandwidth_khz: float, cut_off_khz: float = 10.0 * MULTIPLE_ADDRESS_BANDWIDTH_KHZ
) -> Mask:
    """The emission that uses the multiple-address limit to the full, as relative power spectral density.

    Parameters
    ----------
    power_w : float
        P, transmitter power in W, above 0, spread over 12.5 kHz.
    reference_bandwidth_khz : float
        Resolution bandwidth in which compliance is shown, in kHz, above 0.
    cut_off_khz : float, optional
        Offset in kHz at which the mask ends, 125 kHz by default (our choice).

    Returns
    -------
    Mask
        A symmetric mask, within 0.05 dB of the limit between its points.

    Raises
    ------
    RadioRangeError
        If an argument is not positive or the cut-off does not lie beyond 15 kHz.

    Source
    ------
    47 CFR 101.111(a)(5), converted by :func:`spectrum.radio.masks.limit.mask_from_limit`.

    Range
    -----
    An upper bound of what the rule allows, not a typical emission.

    Examples
    --------
    >>> multiple_address_emission_mask(5.0, 0.3).span_khz
    (-125.0, 125.0)
    >>> multiple_address_emission_mask(5.0, 0.3).level_at_db([0.0, 12.5, 50.0]).round(1)
    array([  0. , -42.3, -40.8])
    """
    return mask_from_limit(
        _LIMIT_A_5, power_w, MULTIPLE_ADDRESS_BANDWIDTH_KHZ, reference_bandwidth_khz, cut_off_khz
    )
