"""Diffraction formulas without argument checks, shared by P.526 and P.452.

Units are those of the Recommendations: km, m, GHz, dB. Arguments are float64
arrays that broadcast; NaN goes through. The public modules check their
arguments once and call these.

Source: ITU-R P.526 (knife edge; diffraction over a spherical earth) and
ITU-R P.452-18 §4.2.1-§4.2.2, which state the same formulas.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spectrum.radio.ranges import Array

LAND_RELATIVE_PERMITTIVITY = 22.0
LAND_CONDUCTIVITY_S_PER_M = 0.003
SEA_RELATIVE_PERMITTIVITY = 80.0
SEA_CONDUCTIVITY_S_PER_M = 5.0

NU_WITHOUT_LOSS = -0.78
"""Knife edges lower than this are taken to cause no loss."""


def knife_edge(nu: Array) -> Array:
    """J(ν) in dB; zero for ν up to −0.78."""
    shifted = nu - 0.1
    loss = 6.9 + 20.0 * np.log10(np.sqrt(shifted * shifted + 1.0) + shifted)
    return np.where(nu <= NU_WITHOUT_LOSS, 0.0, loss)


def bullington_total(knife_edge_loss: Array, distance_km: Array) -> Array:
    """Bullington's loss from the loss of its single edge: the correction for the rest of the path."""
    return knife_edge_loss - np.expm1(-knife_edge_loss / 6.0) * (10.0 + 0.02 * distance_km)


def bullington_edge(
    slope_tx: Array,
    slope_rx: Array,
    nu_line_of_sight: Array,
    distance_km: Array,
    height_tx_m: Array,
    height_rx_m: Array,
    wavelength_m: Array,
) -> Array:
    """ν of the Bullington edge, from the steepest slopes (m/km) seen from the two ends.

    ``nu_line_of_sight`` is the largest ν of the profile's own points, which counts where no
    point stands above the line of sight.
    """
    step = height_rx_m - height_tx_m
    with np.errstate(divide="ignore", invalid="ignore"):
        edge_km = (step + slope_rx * distance_km) / (slope_tx + slope_rx)
        rest_km = distance_km - edge_km
        clearance = height_tx_m + slope_tx * edge_km - (height_tx_m + step * edge_km / distance_km)
        nu_edge = clearance * np.sqrt(0.002 * distance_km / (wavelength_m * edge_km * rest_km))
    return np.where(slope_tx < step / distance_km, nu_line_of_sight, nu_edge)


def _height_gain(b: Array, k: Array) -> Array:
    above = np.maximum(b - 1.1, 0.9)
    high = 17.6 * np.sqrt(above) - 5.0 * np.log10(above) - 8.0
    with np.errstate(divide="ignore"):
        low = 20.0 * np.log10(b * (1.0 + 0.1 * b * b))
    return np.maximum(np.where(b > 2.0, high, low), 2.0 + 20.0 * np.log10(k))


def _first_term_over(
    permittivity: float,
    conductivity: float,
    distance_km: Array,
    height_tx_m: Array,
    height_rx_m: Array,
    radius_km: Array,
    frequency_ghz: Array,
    vertical: npt.NDArray[np.bool_],
) -> Array:
    imaginary = (18.0 * conductivity / frequency_ghz) ** 2
    k = (
        0.036
        * np.cbrt(1.0 / (radius_km * frequency_ghz))
        / np.sqrt(np.sqrt((permittivity - 1.0) ** 2 + imaginary))
    )
    if vertical.any():
        k = np.where(vertical, k * np.sqrt(permittivity**2 + imaginary), k)
    k2 = k * k
    beta = (1.0 + k2 * (1.6 + 0.67 * k2)) / (1.0 + k2 * (4.5 + 1.53 * k2))
    x = 21.88 * beta * np.cbrt(frequency_ghz / (radius_km * radius_km)) * distance_km
    y_per_m = 0.9575 * beta * np.cbrt(frequency_ghz * frequency_ghz / radius_km)
    log_x = np.log10(x)
    far = 11.0 + 10.0 * log_x - 17.6 * x
    near = -20.0 * log_x - 5.6488 * x**1.425
    distance_term = np.where(x >= 1.6, far, near)
    scale = beta * y_per_m
    return -distance_term - _height_gain(scale * height_tx_m, k) - _height_gain(scale * height_rx_m, k)


def first_term(
    distance_km: Array,
    height_tx_m: Array,
    height_rx_m: Array,
    radius_km: Array,
    frequency_ghz: Array,
    vertical: npt.NDArray[np.bool_],
    over_sea_fraction: Array,
) -> Array:
    """First term of the residue series for diffraction over a sphere, land and sea mixed by fraction."""
    args = (distance_km, height_tx_m, height_rx_m, radius_km, frequency_ghz, vertical)
    if not over_sea_fraction.any():
        return _first_term_over(LAND_RELATIVE_PERMITTIVITY, LAND_CONDUCTIVITY_S_PER_M, *args)
    sea = _first_term_over(SEA_RELATIVE_PERMITTIVITY, SEA_CONDUCTIVITY_S_PER_M, *args)
    if (over_sea_fraction == 1.0).all():
        return sea
    land = _first_term_over(LAND_RELATIVE_PERMITTIVITY, LAND_CONDUCTIVITY_S_PER_M, *args)
    return over_sea_fraction * sea + (1.0 - over_sea_fraction) * land


def spherical_earth(
    distance_km: Array,
    height_tx_m: Array,
    height_rx_m: Array,
    radius_km: Array,
    frequency_ghz: Array,
    vertical: npt.NDArray[np.bool_],
    over_sea_fraction: Array,
    wavelength_m: Array,
) -> Array:
    """Diffraction loss over a smooth sphere; heights above it must not be negative."""
    roots = np.sqrt(height_tx_m) + np.sqrt(height_rx_m)
    line_of_sight_km = np.sqrt(2.0 * radius_km) * np.sqrt(0.001) * roots
    beyond = distance_km >= line_of_sight_km
    with np.errstate(divide="ignore", invalid="ignore"):
        total = height_tx_m + height_rx_m
        c = (height_tx_m - height_rx_m) / total
        m = 250.0 * distance_km * distance_km / (radius_km * total)
        angle = np.arccos(np.clip(1.5 * c * np.sqrt(3.0 * m / (m + 1.0) ** 3), -1.0, 1.0))
        b = 2.0 * np.sqrt((m + 1.0) / (3.0 * m)) * np.cos(np.pi / 3.0 + angle / 3.0)
        first_km = np.clip(0.5 * distance_km * (1.0 + b), 0.0, distance_km)
        second_km = distance_km - first_km
        bulge = 500.0 / radius_km
        clearance_m = (
            (height_tx_m - bulge * first_km * first_km) * second_km
            + (height_rx_m - bulge * second_km * second_km) * first_km
        ) / distance_km
        required_m = 17.456 * np.sqrt(first_km * second_km * wavelength_m / distance_km)
        grazing_radius_km = 500.0 * (distance_km / roots) ** 2
        radius = np.where(beyond, radius_km, grazing_radius_km)
    loss = first_term(
        distance_km, height_tx_m, height_rx_m, radius, frequency_ghz, vertical, over_sea_fraction
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        # An antenna on the ground puts the least clearance at its own foot: no clearance, none required.
        shortfall = np.where(required_m == 0.0, 1.0, 1.0 - clearance_m / required_m)
        within = np.where(shortfall < 0.0, 0.0, shortfall * np.maximum(loss, 0.0))
    return np.where(beyond, loss, within)
