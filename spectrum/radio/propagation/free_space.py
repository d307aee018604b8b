"""Free-space attenuation and the conversions around it (ITU-R P.525).

Power radiated by one isotropic antenna and received by another: every other
propagation model in this package states its loss as an addition to this one.
"""

from __future__ import annotations

import numpy as np

from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

SPEED_OF_LIGHT_M_PER_S = 299_792_458.0
"""Speed of light in vacuum, exact by the SI definition of the metre."""

FREE_SPACE_CONSTANT_DB = 20.0 * float(np.log10(4.0 * np.pi * 1e9 / SPEED_OF_LIGHT_M_PER_S))
"""20 log(4π·1 km·1 MHz/c) = 32.4478 dB, the constant of the exact formula for MHz and km."""

P525_ROUNDED_CONSTANT_DB = 32.4
"""The constant as ITU-R P.525 prints it; P.452-18 and P.1812-8 print it as 92.4 for GHz."""

FIELD_STRENGTH_CONSTANT_DB = 10.0 * float(np.log10(30.0)) + 60.0
"""10 log 30 + 120 − 60 = 74.7712 dB: from dBW and km to dB(µV/m), E = √(30·e.i.r.p.)/d."""

FLUX_DENSITY_CONSTANT_DB = 10.0 * float(np.log10(120.0 * np.pi)) + 120.0
"""10 log(120π) + 120 = 145.7635 dB: from dB(µV/m) to dB(W/m²) in free space."""


def free_space_loss_db(frequency_mhz: ArrayLike, distance_km: ArrayLike, *, rounded: bool = False) -> Array:
    """Free-space basic transmission loss between isotropic antennas.

    Parameters
    ----------
    frequency_mhz : scalar or array, MHz, above zero
    distance_km : scalar or array, km, above zero; the slant (three-dimensional) distance
    rounded : use the printed constant 32.4 instead of the exact 32.4478

    Returns
    -------
    Loss in dB, the broadcast shape of the arguments.

    Raises
    ------
    RadioRangeError
        A frequency or a distance that is not above zero.

    Source
    ------
    ITU-R P.525, free-space basic transmission loss, Lbf = 20 log(4πd/λ); the rounded form is
    Lbf = 32.4 + 20 log f(MHz) + 20 log d(km).

    Range
    -----
    Far field of both antennas. Any frequency and distance above zero is computed.

    Known disagreements
    -------------------
    P.525, P.452-18 and P.1812-8 print the rounded 32.4 (92.4 for GHz), P.452-16 printed 92.5. The
    exact constant, 32.4478, is 0.0478 dB above the first. The functions in ``p452`` follow the
    printed 92.4, because the published validation results do.

    Examples
    --------
    >>> round(float(free_space_loss_db(410.0, 30.0)), 3)
    114.246
    >>> free_space_loss_db([138.0, 900.0], 10.0).round(2)
    array([ 95.25, 111.53])
    """
    f = in_range("frequency_mhz", frequency_mhz, 0.0, above=True)
    d = in_range("distance_km", distance_km, 0.0, above=True)
    constant = P525_ROUNDED_CONSTANT_DB if rounded else FREE_SPACE_CONSTANT_DB
    return same_shape(constant + 20.0 * np.log10(f) + 20.0 * np.log10(d))


def field_strength_dbuv_per_m(eirp_dbm: ArrayLike, distance_km: ArrayLike) -> Array:
    """Root-mean-square field strength of a transmission in free space.

    Parameters
    ----------
    eirp_dbm : scalar or array, dBm, equivalent isotropically radiated power toward the point
    distance_km : scalar or array, km, above zero

    Returns
    -------
    Field strength in dB(µV/m), the broadcast shape of the arguments.

    Raises
    ------
    RadioRangeError
        A distance that is not above zero.

    Source
    ------
    ITU-R P.525, conversion formulae: E = Pt(dBW) − 20 log d(km) + 74.8. Computed here from
    E = √(30·e.i.r.p.)/d, whose constant is 74.7712.

    Range
    -----
    Far field of the antenna.

    Known disagreements
    -------------------
    The printed constant 74.8 lies 0.03 dB above the exact one.

    Examples
    --------
    >>> round(float(field_strength_dbuv_per_m(30.0, 1.0)), 3)
    74.771
    >>> field_strength_dbuv_per_m([30.0, 46.0], 10.0).round(2)
    array([54.77, 70.77])
    """
    d = in_range("distance_km", distance_km, 0.0, above=True)
    power = in_range("eirp_dbm", eirp_dbm)
    return same_shape(power - 30.0 + FIELD_STRENGTH_CONSTANT_DB - 20.0 * np.log10(d))


def power_flux_density_dbw_per_m2(field_strength_dbuv_per_m: ArrayLike) -> Array:
    """Power flux-density that belongs to a field strength in free space.

    Parameters
    ----------
    field_strength_dbuv_per_m : scalar or array, dB(µV/m)

    Returns
    -------
    Power flux-density in dB(W/m²), same shape.

    Source
    ------
    ITU-R P.525, conversion formulae: S = E − 145.8; computed here from S = E²/(120π).

    Range
    -----
    A plane wave: the far field.

    Known disagreements
    -------------------
    The printed constant 145.8 differs from the exact 145.7635 by 0.04 dB.

    Examples
    --------
    >>> round(float(power_flux_density_dbw_per_m2(74.7712)), 3)
    -70.992
    >>> power_flux_density_dbw_per_m2([40.0, 60.0]).round(2)
    array([-105.76,  -85.76])
    """
    return same_shape(
        in_range("field_strength_dbuv_per_m", field_strength_dbuv_per_m) - FLUX_DENSITY_CONSTANT_DB
    )


def received_power_dbm(
    field_strength_dbuv_per_m: ArrayLike, frequency_mhz: ArrayLike, antenna_gain_dbi: ArrayLike = 0.0
) -> Array:
    """Power that a matched antenna takes from a field.

    Parameters
    ----------
    field_strength_dbuv_per_m : scalar or array, dB(µV/m)
    frequency_mhz : scalar or array, MHz, above zero
    antenna_gain_dbi : scalar or array, dBi, toward the source; 0 is the isotropic antenna

    Returns
    -------
    Received power in dBm, the broadcast shape of the arguments.

    Raises
    ------
    RadioRangeError
        A frequency that is not above zero.

    Source
    ------
    ITU-R P.525, conversion formulae: Pr(dBW) = E − 20 log f(GHz) − 167.2; computed here from
    Pr = S·λ²/(4π)·g.

    Range
    -----
    Far field; polarisation of antenna and field alike.

    Known disagreements
    -------------------
    The printed constant 167.2 differs from the exact one by 0.02 dB.

    Examples
    --------
    >>> round(float(received_power_dbm(74.7712, 410.0)), 3)
    -54.703
    >>> received_power_dbm([40.0, 60.0], 900.0, antenna_gain_dbi=8.0).round(2)
    array([-88.3, -68.3])
    """
    f = in_range("frequency_mhz", frequency_mhz, 0.0, above=True)
    gain = in_range("antenna_gain_dbi", antenna_gain_dbi)
    field = in_range("field_strength_dbuv_per_m", field_strength_dbuv_per_m)
    wavelength_m = SPEED_OF_LIGHT_M_PER_S / (f * 1e6)
    aperture_db = 20.0 * np.log10(wavelength_m) - 10.0 * np.log10(4.0 * np.pi)
    return same_shape(field - FLUX_DENSITY_CONSTANT_DB + aperture_db + gain + 30.0)


def loss_from_field_strength_db(
    field_strength_dbuv_per_m: ArrayLike, eirp_dbm: ArrayLike, frequency_mhz: ArrayLike
) -> Array:
    """Basic transmission loss that belongs to a measured or predicted field strength.

    Parameters
    ----------
    field_strength_dbuv_per_m : scalar or array, dB(µV/m), at the receiving point
    eirp_dbm : scalar or array, dBm, of the transmission that made the field
    frequency_mhz : scalar or array, MHz, above zero

    Returns
    -------
    Basic transmission loss in dB, the broadcast shape of the arguments.

    Raises
    ------
    RadioRangeError
        A frequency that is not above zero.

    Source
    ------
    ITU-R P.525, conversion formulae: Lbf = Pt(dBW) − E + 20 log f(GHz) + 167.2, with the exact constant.

    Range
    -----
    Any path: the formula only restates the loss.

    Examples
    --------
    >>> field = field_strength_dbuv_per_m(46.0, 30.0)
    >>> round(float(loss_from_field_strength_db(field, 46.0, 410.0)), 3)
    114.246
    >>> loss_from_field_strength_db([60.0, 40.0], 46.0, 900.0).round(2)
    array([122.3, 142.3])
    """
    power = in_range("eirp_dbm", eirp_dbm)
    return same_shape(power - received_power_dbm(field_strength_dbuv_per_m, frequency_mhz))
