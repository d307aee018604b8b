"""Diffraction over a smooth spherical earth (ITU-R P.526; P.452-18 §4.2.2)."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spectrum.radio.propagation._kernels import spherical_earth
from spectrum.radio.propagation.free_space import SPEED_OF_LIGHT_M_PER_S
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

EARTH_RADIUS_KM = 6371.0
"""Mean radius of the earth as ITU-R P.452 takes it."""

STANDARD_EFFECTIVE_RADIUS_KM = 8500.0
"""Effective earth radius for k = 4/3, rounded as ITU-R P.526 rounds it."""


def effective_radius_km(refractivity_lapse_n_per_km: ArrayLike) -> Array:
    """Median effective earth radius from the lapse rate of refractivity.

    Parameters
    ----------
    refractivity_lapse_n_per_km : scalar or array, N-units/km; ΔN of P.452, positive downward,
        average over the lowest kilometre, above 0 and below 157

    Returns
    -------
    Effective earth radius in km, same shape.

    Raises
    ------
    RadioRangeError
        A lapse rate outside 0 to 156.

    Source
    ------
    ITU-R P.452-18 §3.2.2, k50 = 157/(157 − ΔN), ae = 6371·k50.

    Range
    -----
    0 to 156 N-units/km; at 157 the earth is flat to the ray.

    Known disagreements
    -------------------
    P.526 takes 8500 km for k = 4/3 (exact 8494.7); ΔN = 39 gives 8477 km.

    Examples
    --------
    >>> round(float(effective_radius_km(45.0)), 1)
    8930.8
    >>> effective_radius_km([39.0, 60.0]).round(0)
    array([ 8477., 10312.])
    """
    lapse = in_range(
        "refractivity_lapse_n_per_km", refractivity_lapse_n_per_km, 0.0, 156.0, source="P.452-18 §3.2.2"
    )
    return same_shape(EARTH_RADIUS_KM * 157.0 / (157.0 - lapse))


def line_of_sight_distance_km(
    height_tx_m: ArrayLike,
    height_rx_m: ArrayLike,
    effective_radius_km: ArrayLike = STANDARD_EFFECTIVE_RADIUS_KM,
) -> Array:
    """Distance at which two antennas just see each other over the smooth earth.

    Parameters
    ----------
    height_tx_m, height_rx_m : scalar or array, m above the smooth surface, not negative
    effective_radius_km : scalar or array, km, above zero

    Returns
    -------
    Distance in km, the broadcast shape of the arguments.

    Raises
    ------
    RadioRangeError
        A negative height, or a radius that is not above zero.

    Source
    ------
    ITU-R P.526 and P.452-18 §4.2.2: dlos = √(2a)(√(0.001 h1) + √(0.001 h2)).

    Range
    -----
    Heights small against the earth's radius.

    Examples
    --------
    >>> round(float(line_of_sight_distance_km(30.0, 30.0)), 3)
    45.166
    >>> line_of_sight_distance_km([10.0, 100.0], 10.0).round(1)
    array([26.1, 54.3])
    """
    tx = in_range("height_tx_m", height_tx_m, 0.0)
    rx = in_range("height_rx_m", height_rx_m, 0.0)
    radius = in_range("effective_radius_km", effective_radius_km, 0.0, above=True)
    return same_shape(np.sqrt(0.002 * radius) * (np.sqrt(tx) + np.sqrt(rx)))


def spherical_diffraction_loss_db(
    frequency_mhz: ArrayLike,
    distance_km: ArrayLike,
    height_tx_m: ArrayLike,
    height_rx_m: ArrayLike,
    effective_radius_km: ArrayLike = STANDARD_EFFECTIVE_RADIUS_KM,
    vertical: npt.ArrayLike = True,
    over_sea_fraction: ArrayLike = 0.0,
) -> Array:
    """Loss added to free space by diffraction over the smooth spherical earth.

    Beyond the horizon, Ld = −F(X) − G(Y1) − G(Y2): F(X) = 11 + 10 log X − 17.6 X for X ≥ 1.6, else
    −20 log X − 5.6488 X^1.425; G(B) = 17.6 √(B − 1.1) − 5 log(B − 1.1) − 8 for B > 2, else 20 log(B + 0.1 B³),
    with B = β Y, X = 21.88 β (f/ae²)^(1/3) d and Y = 0.9575 β (f²/ae)^(1/3) h (GHz, km, m).

    Within it, (1 − h/hreq) times the loss of the earth that the ray just touches, hreq = 17.456 √(d1 d2 λ/d).

    Parameters
    ----------
    frequency_mhz : scalar or array, MHz, 10 to 50 000
    distance_km : scalar or array, km, above zero, along the surface
    height_tx_m, height_rx_m : scalar or array, m above the smooth surface, not negative
    effective_radius_km : scalar or array, km, above zero
    vertical : bool or array of bool; True for vertical, False for horizontal polarisation
    over_sea_fraction : scalar or array, 0 (land) to 1 (sea)

    Returns
    -------
    Diffraction loss in dB, the broadcast shape of the arguments; 0 where the path is clear. From
    100 MHz up it never falls with distance. Below, over sea, with low antennas and vertical
    polarisation, it can drop under zero (3 dB at 30 MHz, 1 m) just beyond the horizon.

    Raises
    ------
    RadioRangeError
        An argument outside the range given above.

    Source
    ------
    ITU-R P.526, diffraction over a spherical earth (first-term residue series and its
    interpolation within line of sight); the same text stands in P.452-18 §4.2.2.1-§4.2.2.2.
    Land: relative permittivity 22, conductivity 0.003 S/m; sea: 80 and 5 S/m.

    Range
    -----
    From 10 MHz. The first term alone is meant for the diffraction region; close to the horizon
    the model interpolates.

    Known disagreements
    -------------------
    None that changes the value: P.526, P.452-18 and P.1812-8 share the formula. Under P.452 the
    wavelength is 0.2998/f; here it is c/f, a difference below 0.001 dB.

    Examples
    --------
    >>> round(float(spherical_diffraction_loss_db(150.0, 40.0, 30.0, 30.0, vertical=True)), 3)
    22.935
    >>> spherical_diffraction_loss_db(410.0, [10.0, 20.0, 60.0], 30.0, 30.0, vertical=False).round(3)
    array([ 0.   ,  5.037, 29.887])
    """
    f = in_range("frequency_mhz", frequency_mhz, 10.0, 50_000.0, source="ITU-R P.526") / 1000.0
    d = in_range("distance_km", distance_km, 0.0, above=True)
    tx = in_range("height_tx_m", height_tx_m, 0.0)
    rx = in_range("height_rx_m", height_rx_m, 0.0)
    radius = in_range("effective_radius_km", effective_radius_km, 0.0, above=True)
    omega = in_range("over_sea_fraction", over_sea_fraction, 0.0, 1.0)
    is_vertical = np.asarray(vertical, dtype=np.bool_)
    shape = np.broadcast_shapes(*(np.shape(v) for v in (f, d, tx, rx, radius, omega, is_vertical)))
    f, d, tx, rx, radius, omega = (np.broadcast_to(v, shape) for v in (f, d, tx, rx, radius, omega))
    wavelength_m = SPEED_OF_LIGHT_M_PER_S / (f * 1e9)
    polarisation = np.broadcast_to(is_vertical, shape)
    return same_shape(spherical_earth(d, tx, rx, radius, f, polarisation, omega, wavelength_m))
