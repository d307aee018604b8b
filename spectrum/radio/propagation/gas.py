"""Attenuation by oxygen and water vapour (ITU-R P.676, Annex 1, line by line).

The spectroscopic coefficients below are those of Tables 1 and 2 of P.676-11 (unchanged in -12 and
-13), written from memory. At 1013 hPa and 15 °C they reproduce the gas loss inside the published
P.452-18 results to the last printed digit at nineteen frequencies from 0.1 to 50 GHz, which the
tests repeat; their dependence on pressure and temperature has not been checked against a table.
"""

from __future__ import annotations

import numpy as np

from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

SOURCE = "ITU-R P.676 as P.452-18 uses it"

# Centre frequency (GHz) and coefficients a1 to a6 of the oxygen lines.
OXYGEN_LINES = np.array(
    [
        (50.474214, 0.975, 9.651, 6.690, 0.0, 2.566, 6.850),
        (50.987745, 2.529, 8.653, 7.170, 0.0, 2.246, 6.800),
        (51.503360, 6.193, 7.709, 7.640, 0.0, 1.947, 6.729),
        (52.021429, 14.320, 6.819, 8.110, 0.0, 1.667, 6.640),
        (52.542418, 31.240, 5.983, 8.580, 0.0, 1.388, 6.526),
        (53.066934, 64.290, 5.201, 9.060, 0.0, 1.349, 6.206),
        (53.595775, 124.600, 4.474, 9.550, 0.0, 2.227, 5.085),
        (54.130025, 227.300, 3.800, 9.960, 0.0, 3.170, 3.750),
        (54.671180, 389.700, 3.182, 10.370, 0.0, 3.558, 2.654),
        (55.221384, 627.100, 2.618, 10.890, 0.0, 2.560, 2.952),
        (55.783815, 945.300, 2.109, 11.340, 0.0, -1.172, 6.135),
        (56.264774, 543.400, 0.014, 17.030, 0.0, 3.525, -0.978),
        (56.363399, 1331.800, 1.654, 11.890, 0.0, -2.378, 6.547),
        (56.968211, 1746.600, 1.255, 12.230, 0.0, -3.545, 6.451),
        (57.612486, 2120.100, 0.910, 12.620, 0.0, -5.416, 6.056),
        (58.323877, 2363.700, 0.621, 12.950, 0.0, -1.932, 0.436),
        (58.446588, 1442.100, 0.083, 14.910, 0.0, 6.768, -1.273),
        (59.164204, 2379.900, 0.387, 13.530, 0.0, -6.561, 2.309),
        (59.590983, 2090.700, 0.207, 14.080, 0.0, 6.957, -0.776),
        (60.306056, 2103.400, 0.207, 14.150, 0.0, -6.395, 0.699),
        (60.434778, 2438.000, 0.386, 13.390, 0.0, 6.342, -2.825),
        (61.150562, 2479.500, 0.621, 12.920, 0.0, 1.014, -0.584),
        (61.800158, 2275.900, 0.910, 12.630, 0.0, 5.014, -6.619),
        (62.411220, 1915.400, 1.255, 12.170, 0.0, 3.029, -6.759),
        (62.486253, 1503.000, 0.083, 15.130, 0.0, -4.499, 0.844),
        (62.997984, 1490.200, 1.654, 11.740, 0.0, 1.856, -6.675),
        (63.568526, 1078.000, 2.108, 11.340, 0.0, 0.658, -6.139),
        (64.127775, 728.700, 2.617, 10.880, 0.0, -3.036, -2.895),
        (64.678910, 461.300, 3.181, 10.380, 0.0, -3.968, -2.590),
        (65.224078, 274.000, 3.800, 9.960, 0.0, -3.528, -3.680),
        (65.764779, 153.000, 4.473, 9.550, 0.0, -2.548, -5.002),
        (66.302096, 80.400, 5.200, 9.060, 0.0, -1.660, -6.091),
        (66.836834, 39.800, 5.982, 8.580, 0.0, -1.680, -6.393),
        (67.369601, 18.560, 6.818, 8.110, 0.0, -1.956, -6.475),
        (67.900868, 8.172, 7.708, 7.640, 0.0, -2.216, -6.545),
        (68.431006, 3.397, 8.652, 7.170, 0.0, -2.492, -6.600),
        (68.960312, 1.334, 9.650, 6.690, 0.0, -2.773, -6.650),
        (118.750334, 940.300, 0.010, 16.640, 0.0, -0.439, 0.079),
        (368.498246, 67.400, 0.048, 16.400, 0.0, 0.0, 0.0),
        (424.763020, 637.700, 0.044, 16.400, 0.0, 0.0, 0.0),
        (487.249273, 237.400, 0.049, 16.000, 0.0, 0.0, 0.0),
        (715.392902, 98.100, 0.145, 16.000, 0.0, 0.0, 0.0),
        (773.839490, 572.300, 0.141, 16.200, 0.0, 0.0, 0.0),
        (834.145546, 183.100, 0.145, 14.700, 0.0, 0.0, 0.0),
    ]
)

# Centre frequency (GHz) and coefficients b1 to b6 of the water-vapour lines.
WATER_LINES = np.array(
    [
        (22.235080, 0.1079, 2.144, 26.38, 0.76, 5.087, 1.00),
        (67.803960, 0.0011, 8.732, 28.58, 0.69, 4.930, 0.82),
        (119.995940, 0.0007, 8.353, 29.48, 0.70, 4.780, 0.79),
        (183.310087, 2.273, 0.668, 29.06, 0.77, 5.022, 0.85),
        (321.225630, 0.0470, 6.179, 24.04, 0.67, 4.398, 0.54),
        (325.152888, 1.514, 1.541, 28.23, 0.64, 4.893, 0.74),
        (336.227764, 0.0010, 9.825, 26.93, 0.69, 4.740, 0.61),
        (380.197353, 11.67, 1.048, 28.11, 0.54, 5.063, 0.89),
        (390.134508, 0.0045, 7.347, 21.52, 0.63, 4.810, 0.55),
        (437.346667, 0.0632, 5.048, 18.45, 0.60, 4.230, 0.48),
        (439.150807, 0.9098, 3.595, 20.07, 0.63, 4.483, 0.52),
        (443.018343, 0.1920, 5.048, 15.55, 0.60, 5.083, 0.50),
        (448.001085, 10.41, 1.405, 25.64, 0.66, 5.028, 0.67),
        (470.888999, 0.3254, 3.597, 21.34, 0.66, 4.506, 0.65),
        (474.689092, 1.260, 2.379, 23.20, 0.65, 4.804, 0.64),
        (488.490108, 0.2529, 2.852, 25.86, 0.69, 5.201, 0.72),
        (503.568532, 0.0372, 6.731, 16.12, 0.61, 3.980, 0.43),
        (504.482692, 0.0124, 6.731, 16.12, 0.61, 4.010, 0.45),
        (547.676440, 0.9785, 0.158, 26.00, 0.70, 4.500, 1.00),
        (552.020960, 0.1840, 0.158, 26.00, 0.70, 4.500, 1.00),
        (556.935985, 497.0, 0.159, 30.86, 0.69, 4.552, 1.00),
        (620.700807, 5.015, 2.391, 24.38, 0.71, 4.856, 0.68),
        (645.766085, 0.0067, 8.633, 18.00, 0.60, 4.000, 0.50),
        (658.005280, 0.2732, 7.816, 32.10, 0.69, 4.140, 1.00),
        (752.033113, 243.4, 0.396, 30.86, 0.68, 4.352, 0.84),
        (841.051732, 0.0134, 8.177, 15.90, 0.33, 5.760, 0.45),
        (859.965698, 0.1325, 8.055, 30.60, 0.68, 4.090, 0.84),
        (899.303175, 0.0547, 7.914, 29.85, 0.68, 4.530, 0.90),
        (902.611085, 0.0386, 8.429, 28.65, 0.70, 5.100, 0.95),
        (906.205957, 0.1836, 5.110, 24.08, 0.70, 4.700, 0.53),
        (916.171582, 8.400, 1.441, 26.73, 0.70, 5.150, 0.78),
        (923.112692, 0.0079, 10.293, 29.00, 0.70, 5.000, 0.80),
        (970.315022, 9.009, 1.919, 25.50, 0.64, 4.940, 0.67),
        (987.926764, 134.6, 0.257, 29.85, 0.68, 4.550, 0.90),
        (1780.000000, 17506.0, 0.952, 196.3, 2.00, 24.15, 5.00),
    ]
)


def _oxygen(f: Array, p: Array, e: Array, theta: Array) -> Array:
    """γo in dB/km; f in GHz, p and e in hPa, θ = 300/T. The lines stand on a new last axis."""
    f0, a1, a2, a3, a4, a5, a6 = OXYGEN_LINES.T
    pl, el, t, x = p[..., None], e[..., None], theta[..., None], f[..., None]
    strength = a1 * 1e-7 * pl * t**3 * np.exp(a2 * (1.0 - t)) / f0
    width = a3 * 1e-4 * (pl * t ** (0.8 - a4) + 1.1 * el * t)
    squared = width * width + 2.25e-6
    width = np.sqrt(squared)
    delta = (a5 + a6 * t) * 1e-4 * (pl + el) * t**0.8
    below, above = f0 - x, f0 + x
    shape = (width - delta * below) / (below * below + squared)
    shape += (width - delta * above) / (above * above + squared)
    shape *= strength
    debye = 5.6e-4 * (p + e) * theta**0.8
    dry = 6.14e-5 / (debye * (1.0 + (f / debye) ** 2)) + 1.4e-12 * p * theta**1.5 / (1.0 + 1.9e-5 * f**1.5)
    gamma: Array = 0.1820 * f * f * (shape.sum(axis=-1) + p * theta * theta * dry)
    return gamma


def _water(f: Array, p: Array, e: Array, theta: Array) -> Array:
    """γw in dB/km; arguments as for oxygen."""
    f0, b1, b2, b3, b4, b5, b6 = WATER_LINES.T
    pl, el, t, x = p[..., None], e[..., None], theta[..., None], f[..., None]
    strength = b1 * 1e-1 * el * t**3.5 * np.exp(b2 * (1.0 - t)) / f0
    width = b3 * 1e-4 * (pl * t**b4 + b5 * el * t**b6)
    width = 0.535 * width + np.sqrt(0.217 * width * width + 2.1316e-12 * f0 * f0 / t)
    squared = width * width
    strength = strength * width
    below, above = f0 - x, f0 + x
    shape = 1.0 / (below * below + squared)
    shape += 1.0 / (above * above + squared)
    shape *= strength
    gamma: Array = 0.1820 * f * f * shape.sum(axis=-1)
    return gamma


def _air(pressure_hpa: Array, temperature_c: Array, vapour_g_per_m3: Array) -> tuple[Array, Array, Array]:
    kelvin = temperature_c + 273.15
    return pressure_hpa, vapour_g_per_m3 * kelvin / 216.7, 300.0 / kelvin


def specific_attenuation(
    frequency_ghz: Array, pressure_hpa: Array, temperature_c: Array, vapour_g_per_m3: Array
) -> Array:
    """γo + γw in dB/km without argument checks, for arrays that broadcast."""
    air = _air(pressure_hpa, temperature_c, vapour_g_per_m3)
    return _oxygen(frequency_ghz, *air) + _water(frequency_ghz, *air)


def _checked(
    frequency_mhz: ArrayLike, pressure_hpa: ArrayLike, temperature_c: ArrayLike, vapour_g_per_m3: ArrayLike
) -> tuple[Array, Array, Array, Array]:
    return (
        in_range("frequency_mhz", frequency_mhz, 100.0, 50_000.0, source=SOURCE) / 1000.0,
        in_range("dry_pressure_hpa", pressure_hpa, 300.0, 1100.0, source=SOURCE),
        in_range("temperature_c", temperature_c, -80.0, 60.0, source=SOURCE),
        in_range("water_vapour_g_per_m3", vapour_g_per_m3, 0.0, 60.0, source=SOURCE),
    )


def oxygen_attenuation_db_per_km(
    frequency_mhz: ArrayLike,
    dry_pressure_hpa: ArrayLike = 1013.0,
    temperature_c: ArrayLike = 15.0,
    water_vapour_g_per_m3: ArrayLike = 7.5,
) -> Array:
    """Specific attenuation by dry air: oxygen lines, their non-resonant part, and nitrogen.

    Parameters
    ----------
    frequency_mhz : scalar or array, MHz, 100 to 50 000
    dry_pressure_hpa : scalar or array, hPa, 300 to 1100, of the dry air
    temperature_c : scalar or array, °C, −80 to 60
    water_vapour_g_per_m3 : scalar or array, g/m³, 0 to 60; it widens the lines

    Returns
    -------
    Specific attenuation in dB/km, the broadcast shape of the arguments.

    Raises
    ------
    RadioRangeError
        An argument outside the range given above.

    Source
    ------
    ITU-R P.676 Annex 1, Table 1 and its equations for N″(oxygen) and the dry continuum.

    Range
    -----
    Kept to 0.1–50 GHz, where P.452-18 needs it and where it was checked.

    Known disagreements
    -------------------
    Coefficients from memory; verified at 1013 hPa and 15 °C only, against the published P.452-18
    results.

    Examples
    --------
    >>> round(float(oxygen_attenuation_db_per_km(410.0)), 5)
    0.00236
    >>> oxygen_attenuation_db_per_km([1000.0, 10_000.0]).round(4)
    array([0.0054, 0.0082])
    """
    f, p, t, rho = _checked(frequency_mhz, dry_pressure_hpa, temperature_c, water_vapour_g_per_m3)
    return same_shape(_oxygen(f, *_air(p, t, rho)))


def water_vapour_attenuation_db_per_km(
    frequency_mhz: ArrayLike,
    dry_pressure_hpa: ArrayLike = 1013.0,
    temperature_c: ArrayLike = 15.0,
    water_vapour_g_per_m3: ArrayLike = 7.5,
) -> Array:
    """Specific attenuation by water vapour.

    Parameters
    ----------
    frequency_mhz : scalar or array, MHz, 100 to 50 000
    dry_pressure_hpa : scalar or array, hPa, 300 to 1100, of the dry air
    temperature_c : scalar or array, °C, −80 to 60
    water_vapour_g_per_m3 : scalar or array, g/m³, 0 to 60

    Returns
    -------
    Specific attenuation in dB/km, the broadcast shape of the arguments.

    Raises
    ------
    RadioRangeError
        An argument outside the range given above.

    Source
    ------
    ITU-R P.676 Annex 1, Table 2 and its equation for N″(water vapour).

    Range
    -----
    Kept to 0.1–50 GHz, where P.452-18 needs it and where it was checked.

    Known disagreements
    -------------------
    Coefficients from memory; verified at 1013 hPa and 15 °C only, against the published P.452-18
    results.

    Examples
    --------
    >>> round(float(water_vapour_attenuation_db_per_km(22_235.0)), 3)
    0.179
    >>> water_vapour_attenuation_db_per_km(15_000.0, water_vapour_g_per_m3=[3.0, 10.0]).round(4)
    array([0.0073, 0.0268])
    """
    f, p, t, rho = _checked(frequency_mhz, dry_pressure_hpa, temperature_c, water_vapour_g_per_m3)
    return same_shape(_water(f, *_air(p, t, rho)))
