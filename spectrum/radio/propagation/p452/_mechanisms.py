"""The loss of each propagation mechanism of P.452-18, one value per path.

Symbols follow the Recommendation. Units: km, m, GHz, mrad, dB, per cent of time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectrum.radio.propagation._gas_lines import specific_attenuation
from spectrum.radio.propagation._summary import ProfileSummary
from spectrum.radio.propagation.p452._conditions import Conditions
from spectrum.radio.ranges import Array

FREE_SPACE_GHZ_DB = 92.4
TROPOSCATTER_VAPOUR_G_PER_M3 = 3.0
STRONG_LAYER_RADIUS_KM = 3.0 * 6371.0
"""Effective earth radius exceeded for β0 % of time (k = 3)."""


@dataclass(frozen=True)
class PathGeometry:
    """Angles, horizon distances and effective heights (P.452-18 Attachment 2), per path."""

    ae: Array
    theta_t: Array
    theta_r: Array
    theta: Array
    dlt: Array
    dlr: Array
    hte: Array
    hre: Array


def path_geometry(s: ProfileSummary, ae: Array) -> PathGeometry:
    """Horizon angles and distances, angular distance and effective heights.

    The slopes of the summary hold the bulge of the whole path; 500 d/ae takes it back to the angle
    above the local horizontal.
    """
    d = s.length_km
    bulge = 500.0 * d / ae
    step = s.step_slope
    blocked = s.trans_horizon
    theta_t = np.arctan(1e-3 * (np.where(blocked, s.bare.slope_tx, step) - bulge)) * 1e3
    theta_r = np.arctan(1e-3 * (np.where(blocked, np.maximum(s.bare.slope_rx, -step), -step) - bulge)) * 1e3
    dlt = np.where(blocked, s.horizon_first_km, s.nu_last_km)
    dlr = d - np.where(blocked, s.horizon_last_km, s.nu_last_km)
    return PathGeometry(
        ae=ae,
        theta_t=theta_t,
        theta_r=theta_r,
        theta=1e3 * d / ae + theta_t + theta_r,
        dlt=dlt,
        dlr=dlr,
        hte=s.height_tx_m - np.minimum(s.surface_tx_m, s.ground_tx_m),
        hre=s.height_rx_m - np.minimum(s.surface_rx_m, s.ground_rx_m),
    )


@dataclass(frozen=True)
class Anomalous:
    """τ and β0: how often layers bend rays strongly at the path's centre (P.452-18 §3.2.1)."""

    tau: Array
    beta0: Array


def anomalous_time(s: ProfileSummary, latitude_deg: Array) -> Anomalous:
    """Part of the time (%) for which strong lapse rates are to be expected."""
    latitude = np.abs(latitude_deg)
    tau = -np.expm1(-4.12e-4 * s.longest_inland_km**2.41)
    coastal = 10.0 ** (-s.longest_land_km / (16.0 - 6.6 * tau)) + 10.0 ** (-5.0 * (0.496 + 0.354 * tau))
    mu1 = np.minimum(coastal**0.2, 1.0)
    middle = 10.0 ** (1.67 - 0.015 * latitude) * mu1 ** (0.065 + 0.0176 * latitude)
    return Anomalous(tau, np.where(latitude <= 70.0, middle, 4.17 * mu1**1.3))


@dataclass(frozen=True)
class LineOfSight:
    """Free space with gas, and line of sight exceeded for p % and β0 % (P.452-18 §4.1)."""

    gas_db: Array
    lbfsg: Array
    lb0p: Array
    lb0b: Array


def vapour_density(over_sea_fraction: Array) -> Array:
    """Water-vapour density in g/m³: 7.5 over land to 10 over sea (P.452-18 §4.1)."""
    return 7.5 + 2.5 * over_sea_fraction


def gas_db_per_km(c: Conditions, vapour_g_per_m3: Array) -> Array:
    """Specific attenuation for each path, computed once per distinct air and frequency."""
    air = (c.pressure_hpa, c.temperature_c, vapour_g_per_m3)
    if len(c.frequency_ghz) == 0 or any((a != a[0]).any() for a in air):
        return specific_attenuation(c.frequency_ghz, *air)
    frequency, inverse = np.unique(c.frequency_ghz, return_inverse=True)
    return specific_attenuation(frequency, *(a[:1] for a in air))[inverse]


def line_of_sight(
    s: ProfileSummary, g: PathGeometry, c: Conditions, beta0: Array, gas_per_km: Array
) -> LineOfSight:
    slant_km = np.hypot(s.length_km, 1e-3 * (s.height_tx_m - s.height_rx_m))
    gas = gas_per_km * slant_km
    lbfsg = FREE_SPACE_GHZ_DB + 20.0 * np.log10(c.frequency_ghz * slant_km) + gas
    focusing = -2.6 * np.expm1(-0.1 * (g.dlt + g.dlr))
    return LineOfSight(
        gas,
        lbfsg,
        lbfsg + focusing * np.log10(c.time_percent / 50.0),
        lbfsg + focusing * np.log10(beta0 / 50.0),
    )


def troposcatter(s: ProfileSummary, g: PathGeometry, c: Conditions, gas_per_km: Array) -> Array:
    """Lbs of §4.3, exceeded for all but p % of time; its gas is that of 3 g/m³ of vapour."""
    f, d = c.frequency_ghz, s.length_km
    lf = 25.0 * np.log10(f) - 2.5 * np.log10(0.5 * f) ** 2
    lc = 0.051 * np.exp(0.055 * (c.gain_tx_dbi + c.gain_rx_dbi))
    gas = gas_per_km * d
    time = np.maximum(-np.log10(c.time_percent / 50.0), 0.0) ** 0.7
    return 190.0 + lf + 20.0 * np.log10(d) + 0.573 * g.theta - 0.15 * c.refractivity + lc + gas - 10.1 * time


def _site_shielding(theta: Array, horizon_km: Array, f: Array) -> Array:
    excess = np.maximum(theta - 0.1 * horizon_km, 0.0)
    return 20.0 * np.log10(1.0 + 0.361 * excess * np.sqrt(f * horizon_km)) + 0.264 * excess * np.cbrt(f)


def _coastal_coupling(
    coast_km: Array, horizon_km: Array, height_amsl_m: Array, over_sea_fraction: Array
) -> Array:
    near = (over_sea_fraction >= 0.75) & (coast_km <= horizon_km) & (coast_km <= 5.0)
    if not near.any():
        return np.zeros_like(horizon_km)
    gain = -3.0 * np.exp(-0.25 * coast_km**2) * (1.0 + np.tanh(0.07 * (50.0 - height_amsl_m)))
    return np.where(near, gain, 0.0)


def ducting(s: ProfileSummary, g: PathGeometry, c: Conditions, a: Anomalous, gas_per_km: Array) -> Array:
    """Lba of §4.4: ducting and layer reflection, not exceeded for p % of time.

    Its gas is counted along the surface, that of line of sight along the slant path.
    """
    f, d, p = c.frequency_ghz, s.length_km, c.time_percent
    low = np.where(f < 0.5, 45.375 - 137.0 * f + 92.5 * f * f, 0.0)
    fixed = (
        102.45
        + 20.0 * np.log10(f * (g.dlt + g.dlr))
        + low
        + _site_shielding(g.theta_t, g.dlt, f)
        + _site_shielding(g.theta_r, g.dlr, f)
        + _coastal_coupling(c.coast_tx_km, g.dlt, s.height_tx_m, s.over_sea_fraction)
        + _coastal_coupling(c.coast_rx_km, g.dlr, s.height_rx_m, s.over_sea_fraction)
    )
    gamma_d = 5e-5 * g.ae * np.cbrt(f)
    theta = 1e3 * d / g.ae + np.minimum(g.theta_t, 0.1 * g.dlt) + np.minimum(g.theta_r, 0.1 * g.dlr)
    alpha = np.maximum(-0.6 - 3.5e-9 * d**3.1 * a.tau, -3.4)
    mu2 = np.minimum((500.0 * d * d / (g.ae * (np.sqrt(g.hte) + np.sqrt(g.hre)) ** 2)) ** alpha, 1.0)
    rough = np.maximum(s.roughness_m - 10.0, 0.0)
    mu3 = np.exp(-4.6e-5 * rough * (43.0 + 6.0 * np.minimum(d - g.dlt - g.dlr, 40.0)))
    # Roughness of thousands of metres takes µ3 below the smallest float; its logarithm must stay finite.
    beta = np.maximum(a.beta0 * mu2 * mu3, 1e-300)
    log_beta = np.log10(beta)
    power = 1.076 / (2.0058 - log_beta) ** 1.012
    power *= np.exp(-(9.51 - 4.8 * log_beta + 0.198 * log_beta**2) * 1e-6 * d**1.13)
    log_ratio = np.log10(p) - log_beta
    time = -12.0 + (1.2 + 3.7e-3 * d) * log_ratio + 12.0 * 10.0 ** (power * log_ratio)
    total: Array = fixed + gamma_d * theta + time + gas_per_km * d
    return total
