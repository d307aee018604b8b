"""Reference pattern of directional antennas of the fixed service, average side lobes (ITU-R F.1245-3)."""

from __future__ import annotations

import numpy as np

from spectrum.radio.antennas.aperture import aperture, main_lobe_dbi, side_slope_db
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

SOURCE = "ITU-R F.1245-3"
FREQUENCY_RANGE_MHZ = (1_000.0, 70_000.0)


def gain_dbi(
    off_axis_deg: ArrayLike,
    frequency_mhz: ArrayLike,
    diameter_m: ArrayLike | None = None,
    max_gain_dbi: ArrayLike | None = None,
) -> Array:
    """Gain off the axis, average of the side lobes; for the aggregate of many interferers.

    G = Gmax − 2.5·10⁻³ (D φ/λ)² up to φm; then 39 − 5 log(D/λ) − 25 log φ; then −3 − 5 log(D/λ) from 48°.

    For D/λ > 100: level at G1 = 2 + 15 log(D/λ) from φm to 12.02 (D/λ)^−0.6, then 29 − 25 log φ, then −13 from 48°.

    Parameters
    ----------
    off_axis_deg : scalar or array
        Angle from the axis in degrees, 0 to 180.
    frequency_mhz : scalar or array
        Frequency in MHz, 1000 to 70 000.
    diameter_m : scalar or array, optional
        Diameter in m. Without it the size follows from the gain.
    max_gain_dbi : scalar or array, optional
        Maximum gain in dBi. Without it, 20 log(D/λ) + 7.7.

    Returns
    -------
    scalar or array
        Gain in dBi; NaN where any argument is NaN.

    Raises
    ------
    RadioRangeError
        If the angle or the frequency is out of range, or the gain is below the first side lobe that
        belongs to the diameter.
    ValueError
        If neither the diameter nor the gain is given.

    Source
    ------
    ITU-R F.1245-3, recommends 2. Formulas as read in one public implementation; the
    Recommendation's text itself was not read.

    Range
    -----
    1 to 70 GHz; not defined below 1 GHz, where F.699 is the only one of the two.

    Known disagreements
    -------------------
    For a single interferer use F.699 (peak side lobes); averages understate it by up to some 13 dB.

    Examples
    --------
    >>> gain_dbi([0.0, 7.5, 30.0, 180.0], 1400, diameter_m=2.4).round(3)
    array([28.69 , 11.876, -3.176, -8.248])
    >>> round(float(gain_dbi(1, 15000, 2.4)), 3)
    29.0
    """
    angle = in_range("off_axis_deg", off_axis_deg, 0.0, 180.0)
    frequency = in_range("frequency_mhz", frequency_mhz, *FREQUENCY_RANGE_MHZ, source=SOURCE)
    shape = aperture(frequency, diameter_m, max_gain_dbi, SOURCE)
    ratio = shape.d_over_lambda
    large = ratio > 100.0
    log_ratio = np.log10(ratio)
    plateau_end = np.where(large, 12.02 * ratio**-0.6, 0.0)  # only large antennas have the level stretch
    slope = np.where(large, 29.0, 39.0 - 5.0 * log_ratio) - side_slope_db(angle)
    far = np.where(large, -13.0, -3.0 - 5.0 * log_ratio)

    gain = np.where(angle < plateau_end, shape.side_lobe_dbi, slope)
    gain = np.where(angle >= 48.0, far, gain)
    gain = np.where(angle < shape.main_lobe_end_deg, main_lobe_dbi(shape, angle), gain)
    return same_shape(np.where(np.isnan(angle + frequency + ratio + shape.max_gain_dbi), np.nan, gain))
