"""What F.699 and F.1245 share: the antenna's size in wavelengths and its main lobe."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from spectrum.radio.propagation.free_space import SPEED_OF_LIGHT_M_PER_S
from spectrum.radio.ranges import Array, ArrayLike, RadioRangeError, in_range, same_shape


class Aperture(NamedTuple):
    """D/λ, maximum gain, level of the first side lobe and end of the main lobe."""

    d_over_lambda: Array
    max_gain_dbi: Array
    side_lobe_dbi: Array
    main_lobe_end_deg: Array


def d_over_lambda(frequency_mhz: ArrayLike, diameter_m: ArrayLike) -> Array:
    """Diameter of an antenna in wavelengths.

    D/λ = D f / c.

    Parameters
    ----------
    frequency_mhz : scalar or array
        Frequency in MHz, above 0.
    diameter_m : scalar or array
        Diameter in m, above 0.

    Returns
    -------
    scalar or array
        D/λ.

    Raises
    ------
    RadioRangeError
        If an argument is not positive.

    Source
    ------
    Definition, with the speed of light in vacuum.

    Range
    -----
    Any positive arguments.

    Examples
    --------
    >>> round(float(d_over_lambda(410, 3)), 5)
    4.10284
    >>> d_over_lambda([900.0, 960.0], 1.8).round(4)
    array([5.4037, 5.764 ])
    """
    frequency = in_range("frequency_mhz", frequency_mhz, 0.0, above=True)
    diameter = in_range("diameter_m", diameter_m, 0.0, above=True)
    return same_shape(np.asarray(diameter * frequency * 1e6 / SPEED_OF_LIGHT_M_PER_S))


def d_over_lambda_from_gain(max_gain_dbi: ArrayLike) -> Array:
    """Diameter in wavelengths of the aperture that has a given gain, 20 log(D/λ) = Gmax − 7.7.

    For antennas without a dish, such as Yagis: the reference pattern of the equivalent aperture.

    Parameters
    ----------
    max_gain_dbi : scalar or array
        Maximum gain in dBi.

    Returns
    -------
    scalar or array
        D/λ.

    Source
    ------
    ITU-R F.699-8, recommends 3.

    Range
    -----
    Any gain; the patterns have their own ranges in D/λ.

    Examples
    --------
    >>> round(float(d_over_lambda_from_gain(19.9617)), 4)
    4.1028
    >>> d_over_lambda_from_gain([7.7, 27.7])
    array([ 1., 10.])
    """
    return same_shape(np.asarray(10.0 ** ((np.asarray(max_gain_dbi, dtype=np.float64) - 7.7) / 20.0)))


def aperture(
    frequency_mhz: Array, diameter_m: ArrayLike | None, max_gain_dbi: ArrayLike | None, source: str
) -> Aperture:
    """Size, gain and main lobe from what is known: the diameter, the gain or both.

    D/λ from the diameter, else from 20 log(D/λ) = Gmax − 7.7; the gain, where it is not given, from the
    same formula; G1 = 2 + 15 log(D/λ); the main lobe ends at φm = 20 (λ/D) √(Gmax − G1).

    Parameters
    ----------
    frequency_mhz : array
        Frequency in MHz, above 0.
    diameter_m : scalar, array or None
        Diameter in m, above 0.
    max_gain_dbi : scalar, array or None
        Maximum gain in dBi.
    source : str
        Document and clause to name in an error.

    Returns
    -------
    Aperture
        D/λ, Gmax and G1 in dBi, φm in degrees.

    Raises
    ------
    RadioRangeError
        If frequency or diameter is not positive, or the gain is below the first side lobe.
    ValueError
        If neither diameter nor gain is given.

    Source
    ------
    ITU-R F.699-8, recommends 2 and 3; ITU-R F.1245, recommends 2, has the same.

    Range
    -----
    A gain not below the first side lobe, else there is no main lobe to end.

    Examples
    --------
    >>> [round(float(figure), 3) for figure in aperture(np.float64(410.0), 3.0, None, "F.699")]
    [4.103, 19.962, 11.196, 14.432]
    >>> aperture(np.float64(410.0), None, [7.7, 27.7], "F.699").side_lobe_dbi
    array([ 2., 17.])
    """
    if diameter_m is None and max_gain_dbi is None:
        raise ValueError("Neither diameter_m nor max_gain_dbi is given; give at least one of them.")
    ratio = (
        d_over_lambda_from_gain(np.asarray(max_gain_dbi))
        if diameter_m is None
        else d_over_lambda(frequency_mhz, diameter_m)
    )
    gain = (
        20.0 * np.log10(ratio) + 7.7 if max_gain_dbi is None else np.asarray(max_gain_dbi, dtype=np.float64)
    )
    side_lobe = 2.0 + 15.0 * np.log10(ratio)
    below = np.atleast_1d(gain < side_lobe)
    if below.any():
        shape = below.shape
        value = float(np.broadcast_to(gain, shape)[below].flat[0])
        low = float(np.broadcast_to(side_lobe, shape)[below].flat[0])
        raise RadioRangeError("max_gain_dbi", value, low, np.inf, f"{source}, for this diameter")
    end = 20.0 / ratio * np.sqrt(gain - side_lobe)
    return Aperture(np.asarray(ratio), np.asarray(gain), np.asarray(side_lobe), np.asarray(end))


def main_lobe_dbi(shape: Aperture, off_axis_deg: Array) -> Array:
    """Gain in the main lobe, Gmax − 2.5·10⁻³ (D φ / λ)².

    Parameters
    ----------
    shape : Aperture
        Size and gain of the antenna.
    off_axis_deg : array
        Angle φ off the axis in degrees.

    Returns
    -------
    array
        Gain in dBi.

    Source
    ------
    ITU-R F.699-8, recommends 2; ITU-R F.1245, recommends 2, has the same.

    Range
    -----
    0° to the end of the main lobe, φm.

    Examples
    --------
    >>> dish = aperture(np.float64(410.0), 3.0, None, "F.699")
    >>> round(float(main_lobe_dbi(dish, np.float64(0.0))), 3)
    19.962
    >>> main_lobe_dbi(dish, np.array([5.0, 10.0])).round(3)
    array([18.91 , 15.753])
    """
    return np.asarray(shape.max_gain_dbi - 2.5e-3 * (shape.d_over_lambda * off_axis_deg) ** 2)


def side_slope_db(off_axis_deg: Array) -> Array:
    """The slope of the side lobes, 25 log φ, without a warning on the axis, where it is not used.

    Parameters
    ----------
    off_axis_deg : array
        Angle φ off the axis in degrees.

    Returns
    -------
    array
        25 log φ in dB; 0 on the axis.

    Source
    ------
    ITU-R F.699-8, recommends 2; ITU-R F.1245, recommends 2, has the same.

    Range
    -----
    Above 0°.

    Examples
    --------
    >>> float(side_slope_db(np.float64(10.0)))
    25.0
    >>> side_slope_db(np.array([0.0, 1.0, 100.0]))
    array([ 0.,  0., 50.])
    """
    return np.asarray(25.0 * np.log10(np.where(off_axis_deg > 0.0, off_axis_deg, 1.0)))
