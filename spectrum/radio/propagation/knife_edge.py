"""Diffraction over a single knife edge (ITU-R P.526)."""

from __future__ import annotations

import numpy as np

from spectrum.radio.propagation._kernels import knife_edge
from spectrum.radio.propagation.free_space import SPEED_OF_LIGHT_M_PER_S
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape


def knife_edge_nu(
    frequency_mhz: ArrayLike, height_m: ArrayLike, distance_1_km: ArrayLike, distance_2_km: ArrayLike
) -> Array:
    """Dimensionless parameter ν of an edge between two antennas.

    Parameters
    ----------
    frequency_mhz : scalar or array, MHz, above zero
    height_m : scalar or array, m, of the edge over the straight line between the antennas; negative
        where the edge lies below it
    distance_1_km, distance_2_km : scalar or array, km, above zero, from each antenna to the edge

    Returns
    -------
    ν, the broadcast shape of the arguments.

    Raises
    ------
    RadioRangeError
        A frequency or distance that is not above zero.

    Source
    ------
    ITU-R P.526, single knife-edge obstacle: ν = h √((2/λ)(1/d1 + 1/d2)), with λ = c/f.

    Range
    -----
    Height and wavelength small against the distances.

    Known disagreements
    -------------------
    The practical form of P.526, ν = 0.0316 h √(2(d1 + d2)/(λ d1 d2)), is 0.07 % lower through its
    rounded constant.

    Examples
    --------
    >>> round(float(knife_edge_nu(410.0, 30.0, 10.0, 10.0)), 4)
    0.7017
    >>> knife_edge_nu([150.0, 900.0], -20.0, 5.0, 15.0).round(3)
    array([-0.327, -0.8  ])
    """
    f = in_range("frequency_mhz", frequency_mhz, 0.0, above=True)
    d1 = in_range("distance_1_km", distance_1_km, 0.0, above=True)
    d2 = in_range("distance_2_km", distance_2_km, 0.0, above=True)
    wavelength_m = SPEED_OF_LIGHT_M_PER_S / (f * 1e6)
    return same_shape(in_range("height_m", height_m) * np.sqrt(0.002 / wavelength_m * (1.0 / d1 + 1.0 / d2)))


def knife_edge_loss_db(nu: ArrayLike) -> Array:
    """Loss added to free space by a knife edge.

    Parameters
    ----------
    nu : scalar or array, the parameter of :func:`knife_edge_nu`

    Returns
    -------
    J(ν) in dB, same shape; 0 for ν up to −0.78.

    Source
    ------
    ITU-R P.526, J(ν) = 6.9 + 20 log(√((ν − 0.1)² + 1) + ν − 0.1) for ν above −0.78; the same in
    P.452-18 and P.1812-8.

    Range
    -----
    Any ν. Below −0.78 the exact loss swings around 0 by up to 1.4 dB; the formula takes 0.

    Known disagreements
    -------------------
    Against the exact Fresnel integrals, −20 log(½√((1 − C − S)² + (C − S)²)), the formula stays
    within 0.13 dB for 0 ≤ ν ≤ 10 and within 0.11 dB for −0.78 < ν < 0.

    Examples
    --------
    >>> round(float(knife_edge_loss_db(0.0)), 4)
    6.0329
    >>> knife_edge_loss_db([-1.0, 1.0, 5.0]).round(3)
    array([ 0.   , 13.926, 26.814])
    """
    return same_shape(knife_edge(in_range("nu", nu)))
