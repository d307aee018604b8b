"""How P.452-18 weighs the mechanisms against time and joins them (§4.2.4, §4.6)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectrum.radio.ranges import Array


def inverse_normal(x: Array) -> Array:
    """I(x), the inverse complementary cumulative normal distribution, 1e-6 ≤ x ≤ 0.5.

    The published rational approximation; an exact inverse moves Lb by at most 0.004 dB.
    """
    t = np.sqrt(-2.0 * np.log(np.maximum(x, 1e-6)))
    top = 2.515516698 + t * (0.802853 + t * 0.010328)
    return t - top / (1.0 + t * (1.432788 + t * (0.189269 + t * 0.001308)))


def interpolation_factor(time_percent: Array, beta0_percent: Array) -> Array:
    """Fi: 0 at 50 %, 1 at β0 % and below (§4.2.4)."""
    between = inverse_normal(time_percent / 100.0) / inverse_normal(np.minimum(beta0_percent, 50.0) / 100.0)
    between = np.where(time_percent == 50.0, 0.0, between)
    return np.where(time_percent > beta0_percent, between, np.where(np.isnan(beta0_percent), np.nan, 1.0))


@dataclass(frozen=True)
class Combined:
    """The joints of §4.6, each in dB but for the two weights."""

    fj: Array
    fk: Array
    lbd50: Array
    lbd: Array
    lminb0p: Array
    lminbap: Array
    lbda: Array
    lbam: Array
    lb: Array


def combine(
    *,
    distance_km: Array,
    horizon_excess_mrad: Array,
    over_sea_fraction: Array,
    time_percent: Array,
    beta0_percent: Array,
    fi: Array,
    lbfsg: Array,
    lb0p: Array,
    lb0b: Array,
    ld50: Array,
    ldp: Array,
    lbs: Array,
    lba: Array,
) -> Combined:
    """Join line of sight with diffraction, ducting and troposcatter into Lb.

    ``horizon_excess_mrad`` is Stim − Str, the steepest slope of the bare terrain less that of the
    direct line, under the median earth radius. Fj is half where it is 0. P.1812-8 has θ − 0.3 in its
    place, and the two must not be mixed: (Stim − Str − 0.3)/0.3 misses published losses of an open
    implementation of P.452-18 by up to 0.1 dB (tests, grazing path), this form by none.
    """
    fj = 1.0 - 0.5 * (1.0 + np.tanh(3.0 * 0.8 * horizon_excess_mrad / 0.3))
    fk = 1.0 - 0.5 * (1.0 + np.tanh(3.0 * 0.5 * (distance_km - 20.0) / 20.0))
    lbd50 = lbfsg + ld50
    lbd = lb0p + ldp
    land_ldp = (1.0 - over_sea_fraction) * ldp
    lminb0p = np.where(time_percent < beta0_percent, lb0p + land_ldp, lbd50 + (lb0b + land_ldp - lbd50) * fi)
    lminbap = np.maximum(lba, lb0p) + 2.5 * np.log1p(np.exp(-np.abs(lba - lb0p) / 2.5))
    lbda = np.where(lminbap > lbd, lbd, lminbap + (lbd - lminbap) * fk)
    lbam = lbda + (lminb0p - lbda) * fj
    lb = -5.0 * np.log10(10.0 ** (-0.2 * lbs) + 10.0 ** (-0.2 * lbam))
    return Combined(fj, fk, lbd50, lbd, lminb0p, lminbap, lbda, lbam, lb)
