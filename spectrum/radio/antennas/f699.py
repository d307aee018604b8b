"""Reference pattern of directional antennas of the fixed service, peak side lobes (ITU-R F.699-8)."""

from __future__ import annotations

import numpy as np

from spectrum.radio.antennas.aperture import aperture, main_lobe_dbi, side_slope_db
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

SOURCE = "ITU-R F.699-8"
FREQUENCY_RANGE_MHZ = (100.0, 70_000.0)
SMALLEST_D_OVER_LAMBDA = 0.63


def gain_dbi(
    off_axis_deg: ArrayLike,
    frequency_mhz: ArrayLike,
    diameter_m: ArrayLike | None = None,
    max_gain_dbi: ArrayLike | None = None,
) -> Array:
    """Gain off the axis, envelope of the side-lobe peaks; for a single interferer.

    G = Gmax − 2.5·10⁻³ (D φ/λ)² up to φm; then G1 = 2 + 15 log(D/λ), level; then the slope,
    52 − 10 log(D/λ) − 25 log φ from 100 λ/D; then 10 − 10 log(D/λ) from 48°, or, below 1 GHz,
    −2 − 5 log(D/λ) from 144.5 (D/λ)^−0.2.

    For D/λ > 100 from 1 GHz: slope 32 − 25 log φ from 15.85 (D/λ)^−0.6, then −10 from 48°.

    Parameters
    ----------
    off_axis_deg : scalar or array
        Angle from the axis in degrees, 0 to 180.
    frequency_mhz : scalar or array
        Frequency in MHz, 100 to 70 000.
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
        If the angle or the frequency is out of range, D/λ is not above 0.63 below 1 GHz, or the gain
        is below the first side lobe that belongs to the diameter.
    ValueError
        If neither the diameter nor the gain is given.

    Source
    ------
    ITU-R F.699-8, recommends 2.1 (1 to 70 GHz, D/λ > 100), 2.2 (1 to 70 GHz, D/λ ≤ 100), 2.3 (0.1 to
    1 GHz, D/λ > 0.63) and 3 (gain and D/λ from each other). Formulas as read in two independent
    public implementations; the Recommendation's text itself was not read.

    Range
    -----
    100 MHz to 70 GHz; below 1 GHz D/λ above 0.63.

    Known disagreements
    -------------------
    One of the two implementations has −10 − 10 log(D/λ) as the far side lobe of recommends 2.2; this
    function has 10 − 10 log(D/λ), the only one that joins the slope at 48° (52 − 25 log 48 = 9.97).
    It also starts that slope at 15.85 (D/λ)^−0.6, which belongs to recommends 2.1; here it is 100 λ/D.
    F.699-9 (2026) exists and was not seen.

    Examples
    --------
    >>> gain_dbi([0.0, 5.0, 30.0, 180.0], 410, diameter_m=3).round(3)
    array([19.962, 18.91 ,  8.941, -5.065])
    >>> round(float(gain_dbi(90, 450, max_gain_dbi=12)), 3)
    0.994
    """
    angle = in_range("off_axis_deg", off_axis_deg, 0.0, 180.0)
    frequency = in_range("frequency_mhz", frequency_mhz, *FREQUENCY_RANGE_MHZ, source=SOURCE)
    shape = aperture(frequency, diameter_m, max_gain_dbi, SOURCE)
    ratio = shape.d_over_lambda
    below_1_ghz = frequency < 1000.0
    in_range(
        "d_over_lambda",
        np.where(below_1_ghz, ratio, np.inf),
        SMALLEST_D_OVER_LAMBDA,
        above=True,
        source=f"{SOURCE}, recommends 2.3",
    )

    large = (ratio > 100.0) & ~below_1_ghz
    log_ratio = np.log10(ratio)
    # Where the level of the first side lobe ends, the slope, where the slope ends, and what follows.
    plateau_end = np.maximum(shape.main_lobe_end_deg, np.where(large, 15.85 * ratio**-0.6, 100.0 / ratio))
    slope = np.where(large, 32.0, 52.0 - 10.0 * log_ratio) - side_slope_db(angle)
    slope_end = np.where(below_1_ghz, 144.5 * ratio**-0.2, 48.0)
    far = np.where(below_1_ghz, -2.0 - 5.0 * log_ratio, np.where(large, -10.0, 10.0 - 10.0 * log_ratio))

    gain = np.where(angle < plateau_end, shape.side_lobe_dbi, slope)
    gain = np.where(angle >= slope_end, far, gain)
    gain = np.where(angle < shape.main_lobe_end_deg, main_lobe_dbi(shape, angle), gain)
    return same_shape(np.where(np.isnan(angle + frequency + ratio + shape.max_gain_dbi), np.nan, gain))
