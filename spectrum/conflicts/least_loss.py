"""A loss that no path can undercut: what the search leaves out, it leaves out by this.

ITU-R P.452-18 gives Lb = −5 log(10^(−0.2 Lbs) + 10^(−0.2 Lbam)) with troposcatter Lbs and all other
mechanisms Lbam. Both sides are replaced below by something smaller, and Lb grows with both.

Lbam is a mean, with weight Fj, of Lbda and Lminb0p; Lbda a mean, with weight Fk, of Lminbap and Lbd, or
Lbd where that is smaller. A mean is not below the smaller of the two:

    Lbam ≥ min(Lbd, Lminbap, Lminb0p).

*Line of sight.* Lbd = Lb0p + Ldp. Lminb0p is Lb0p + Ldp where p < β0, else a mean of Lbfsg + Ld50 and
Lb0β + Ldp. Lb0p and Lb0β are Lbfsg + 2.6 (1 − e^…) log(x/50) with x = p or β0, the bracket at most 1.
Over land β0 is nowhere below 0.3 %: 10^(1.67 − 0.015|φ|) µ1^(0.065 + 0.0176|φ|) falls with the distance
(µ1 ≥ 10^−0.85) and with |φ|, to 4.17 · 10^(−0.85 · 1.3) = 0.33 % from 70° on. So both are at least
S + Ldp with S = Lbfs + 2.6 log(min(p, 0.3)/50), for the mean in Lminb0p has Fi as its weight, and Ldp itself is
(1 − Fi) Ld50 + Fi Ldβ, a mean of the diffraction losses for the median and for three times the earth's radius.
Fi is 1 where p ≤ β0 and I(p)/I(β0) else; I falls, so Fi grows with β0, and the β0 of the shortest distance and
least |φ| gives the greatest. With losses M and R that Ld50 and Ldβ do not undercut, Ldp ≥ M − Fi max(M − R, 0).
Gas is left out.

*Diffraction.* Ld = Lbulla + max(Ldsph − Lbulls, 0) ≥ Lbulla, Bullington's loss over the terrain. With
α and β the steepest slopes seen from the two ends less the slope of the straight line, the edge has
ν = √(2 d α β / λ) where α > 0 and ν ≤ 0 else (put the crossing x = βd/(α + β) and its height αβd/(α + β)
into the definition of ν). Both are maxima over the points of the profile, hence grow when terrain is
raised under antennas that stay where they are above the sea, and with every point added; so does ν, and
the loss grows with ν. Terrain is therefore replaced by the bare sphere at its lowest height, and the
earth radius by the larger of the two, which flattens it most. Over the sphere of curvature c = 500/a
(m, km) with antennas h above it and x = √(h/c):

    α = c (d − x_t − x_r)(d − x_t + x_r)/d,   β = c (d − x_t − x_r)(d + x_t − x_r)/d,
    α β d = c² (d − x_t − x_r)² (d² − (x_t − x_r)²)/d,

which grows with d and falls with both heights beyond the horizon d = x_t + x_r: a distance too short
and heights too great are on the safe side. A profile has points, and the horizon may fall between two:
a slope c (d − x) − h/x misses its maximum by c δ²/x at a distance δ beyond it, so by less than c·s where s
is the spacing.

Over level ground Lbulls is Lbulla, so that Ld = max(Lbulla, Ldsph). Beyond the horizon Ldsph is the first term
−F(X) − G(Y_t) − G(Y_r): F falls with X, hence with the distance, and G grows with the height (but for 0.02 dB
where its two branches meet). β falls and K grows from horizontal to vertical polarisation; that of F is
taken for vertical, that of Y at its greatest, 1, and the least G for vertical.

*Ducting.* Lminbap ≥ max(Lba, Lb0p). Lba = 102.45 + 20 log(f (dlt + dlr)) + Alf + As + Ac + γd θ' + A. Site
shielding As and gas are not negative, coastal coupling Ac is 0 over land, γd is positive, θ' at least
2 c_e (d − x_t − x_r) (median radius; each end's angle is bounded as α was). The time term A grows as β =
β0 µ2 µ3 falls: no proof in closed form, a test walks its whole range, and ``UNPROVED_DB`` is taken off.
β0 falls with distance and |φ|; µ2, µ3 are at most 1, µ2 falls with the distance and grows with the heights.
Over bare, level ground the horizons dlt, dlr are x_t, x_r. Over terrain a horizon may stand at the first
point of the profile.

*Troposcatter.* Lbs = 190 + Lf + 20 log d + 0.573 θ − 0.15 N0 + Lc + Ag − 10.1 (−log(p/50))^0.7 with Lc and
gas Ag not negative and θ ≥ max(0, 2 c_e (d − x_t − x_r)).

*Distances.* The chord is no longer than the geodesic d, and d no longer than 2R asin(chord/2R) with
R = 6335 km, the smallest radius of curvature of WGS 84 (Schur's comparison of arcs and chords). Each
term takes the end of that interval that makes it smaller.

Over sea Lminb0p can lose its diffraction and β0 is larger; the engine counts every path as inland.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spectrum.radio.propagation.free_space import free_space_loss_db
from spectrum.radio.propagation.p452 import Climate
from spectrum.radio.propagation.p452._combination import interpolation_factor

from .path_loss import GREATEST_FREQUENCY_MHZ, LEAST_FREQUENCY_MHZ

FloatArray = npt.NDArray[np.float64]

EARTH_RADIUS_KM = 6371.0
SMALLEST_CURVATURE_RADIUS_KM = 6335.0
LEAST_BETA0_PERCENT = 0.3
# Between the constant 92.4 of P.452 and the exact one of free space.
FREE_SPACE_CONSTANT_DB = 0.05
COMBINATION_DB = float(5.0 * np.log10(2.0))
# G falls by so much or less at b = 2, twice.
BRANCHES_DB = 0.04
# For rounding, and for the one step that is shown by a test and not proved.
UNPROVED_DB = 0.3
# Nearer than this nothing but line of sight is counted on.
LEAST_DISTANCE_KM = 5.0


@dataclass(frozen=True)
class Ground:
    """What is known of the ground under the paths.

    ``level`` is True where the loss is computed over bare, level ground (the smooth earth). Over a terrain
    profile it is False; ``spacing_km`` is then the widest spacing of its points, ``first_point_km`` the
    distance of its first and last ones from the ends.
    """

    level: bool = True
    spacing_km: float = 0.0
    first_point_km: float = 0.0


LEVEL = Ground()


@dataclass(frozen=True)
class Heights:
    """All that the bound takes of the heights of two antennas.

    ``roots`` is √h_t + √h_r and ``apart`` the difference of the two, √m; ``gain_db(f, a)`` is G(Y_t) + G(Y_r),
    or more, in dB at f GHz over a sphere of a km.
    """

    roots: FloatArray
    apart: FloatArray
    gain_db: Callable[[FloatArray, float], FloatArray]

    @classmethod
    def of(cls, height_tx_m: FloatArray, height_rx_m: FloatArray) -> Heights:
        """Of two antennas so many m above the ground."""
        one, other = np.sqrt(height_tx_m), np.sqrt(height_rx_m)
        return cls(
            one + other,
            np.abs(one - other),
            lambda f, a: height_gain_db(f, one * one, a) + height_gain_db(f, other * other, a),
        )


def height_gain_db(f: FloatArray, height_m: FloatArray, radius_km: float) -> FloatArray:
    """G(Y) of one antenna over land at f GHz, or more, dB; whatever the polarisation."""
    b = 0.9575 * np.cbrt(f * f / radius_km) * height_m
    above = np.maximum(b - 1.1, 0.9)
    high = 17.6 * np.sqrt(above) - 5.0 * np.log10(above) - 8.0
    low = 20.0 * np.log10(np.maximum(b, 1e-9) * (1.0 + 0.1 * b * b))
    return np.maximum(np.where(b > 2.0, high, low), 2.0 + 20.0 * np.log10(_vertical_k(f, radius_km)))


def _vertical_k(f: FloatArray, radius_km: float) -> FloatArray:
    imaginary = (18.0 * 0.003 / f) ** 2
    return np.asarray(
        0.036 * np.sqrt(22.0**2 + imaginary) / np.cbrt(radius_km * f) / np.sqrt(np.sqrt(21.0**2 + imaginary))
    )


def line_of_sight_allowance_db(time_percent: npt.ArrayLike) -> FloatArray:
    """How far P.452-18 can fall below free space at a percentage of time, dB."""
    rarest = np.minimum(np.asarray(time_percent, dtype=np.float64), LEAST_BETA0_PERCENT)
    enhancement = 2.6 * np.log10(50.0 / rarest)
    return np.asarray(enhancement + COMBINATION_DB + FREE_SPACE_CONSTANT_DB)


def least_loss_db(
    frequency_mhz: npt.ArrayLike,
    chord_km: npt.ArrayLike,
    time_percent: npt.ArrayLike,
    height_tx_m: npt.ArrayLike,
    height_rx_m: npt.ArrayLike,
    least_latitude_deg: npt.ArrayLike,
    climate: Climate,
    ground: Ground = LEVEL,
) -> FloatArray:
    """A basic transmission loss in dB that P.452-18 does not go below; the head of this module proves it.

    Parameters
    ----------
    frequency_mhz : MHz; below 100 MHz and above 50 GHz, where P.452 does not hold, free space counts
    chord_km : straight line between the antennas' positions on the ellipsoid, km, above zero
    time_percent : %, 0.001 to 50
    height_tx_m, height_rx_m : of the antennas above level ground, m; over a profile, above its lowest
        ground or anything greater
    least_latitude_deg : |φ| of the path's centre, degrees, or anything smaller
    climate : ΔN and N0 are used
    ground : level (the default) or a profile

    Returns
    -------
    dB, the broadcast shape of the arguments.

    Source
    ------
    ITU-R P.452-18 §4.1 to §4.6; the bound is ours.

    Examples
    --------
    >>> from spectrum.radio.propagation.p452 import smooth_earth_loss
    >>> bound = least_loss_db(410.0, [20.0, 100.0, 300.0], 20.0, 20.0, 30.0, 47.0, Climate())
    >>> loss = smooth_earth_loss(410.0, [20.0, 100.0, 300.0], 20.0, 30.0, 20.0, latitude_deg=47.0).lb_db
    >>> bound.round(1), (loss - bound).round(1)
    (array([104.6, 166.7, 190.9]), array([12.9,  2.1,  1.1]))
    """
    heights = Heights.of(np.asarray(height_tx_m, dtype=np.float64), np.asarray(height_rx_m, dtype=np.float64))
    return least_loss_of_heights_db(
        frequency_mhz, chord_km, time_percent, heights, least_latitude_deg, climate, ground
    )


def least_loss_of_heights_db(
    frequency_mhz: npt.ArrayLike,
    chord_km: npt.ArrayLike,
    time_percent: npt.ArrayLike,
    heights: Heights,
    least_latitude_deg: npt.ArrayLike,
    climate: Climate,
    ground: Ground = LEVEL,
) -> FloatArray:
    """As :func:`least_loss_db`, of antennas of which no more is known than ``heights``."""
    f_mhz, d, p, latitude = (
        np.asarray(v, dtype=np.float64) for v in (frequency_mhz, chord_km, time_percent, least_latitude_deg)
    )
    free_space = free_space_loss_db(f_mhz, d)
    sight = free_space - line_of_sight_allowance_db(p)
    lapse = float(np.max(np.asarray(climate.refractivity_lapse_n_per_km)))
    far = (d >= LEAST_DISTANCE_KM) & (f_mhz >= LEAST_FREQUENCY_MHZ) & (f_mhz <= GREATEST_FREQUENCY_MHZ)
    f = np.maximum(f_mhz, LEAST_FREQUENCY_MHZ) / 1000.0
    d = np.maximum(d, LEAST_DISTANCE_KM)
    longest = 2.0 * SMALLEST_CURVATURE_RADIUS_KM * np.arcsin(d / (2.0 * SMALLEST_CURVATURE_RADIUS_KM))
    median_radius, rare_radius = EARTH_RADIUS_KM * 157.0 / (157.0 - lapse), 3.0 * EARTH_RADIUS_KM
    median = 500.0 / median_radius
    line = sight + COMBINATION_DB
    tau = -np.expm1(-4.12e-4 * d**2.41)
    beta0 = _beta0_percent(d, tau, latitude)
    often = _diffraction_db(f, d, heights, median_radius, ground)
    seldom = _diffraction_db(f, d, heights, rare_radius, ground)
    blocked = line + often - interpolation_factor(p, beta0) * np.maximum(often - seldom, 0.0)
    beyond = d - heights.roots / np.sqrt(median) - ground.spacing_km
    ducted = _ducting_db(f, d, longest, p, heights.roots, beta0, tau, median, beyond, ground)
    others = np.minimum(blocked, np.maximum(ducted, line))
    scattered = _troposcatter_db(
        f, d, p, median, beyond, float(np.max(np.asarray(climate.surface_refractivity_n)))
    )
    joined = -5.0 * np.log10(10.0 ** (-0.2 * others) + 10.0 ** (-0.2 * scattered)) - UNPROVED_DB
    return np.asarray(np.where(far, np.maximum(joined, sight), sight))


def _diffraction_db(
    f: FloatArray, d: FloatArray, heights: Heights, radius_km: float, ground: Ground
) -> FloatArray:
    """A diffraction loss over a sphere of a radius, and over level ground, that is not undercut."""
    c = 500.0 / radius_km
    past = d - heights.roots / np.sqrt(c)
    apart = heights.apart / np.sqrt(c)
    alpha = c * past * (d - apart) / d - c * ground.spacing_km
    beta = c * past * (d + apart) / d - c * ground.spacing_km
    seen = (past > 2.0 * ground.spacing_km) & (alpha > 0.0) & (beta > 0.0)
    nu = np.sqrt(np.where(seen, alpha * beta, 0.0) * 0.002 * d * f / 0.2998)
    shifted = nu - 0.1
    edge = 6.9 + 20.0 * np.log10(np.sqrt(shifted * shifted + 1.0) + shifted)
    total = edge - np.expm1(-edge / 6.0) * (10.0 + 0.02 * d)
    if ground.level:
        k2 = _vertical_k(f, radius_km) ** 2
        steepness = (1.0 + k2 * (1.6 + 0.67 * k2)) / (1.0 + k2 * (4.5 + 1.53 * k2))
        x = 21.88 * steepness * np.cbrt(f / radius_km**2) * d
        decades = np.log10(x)
        away = np.where(x < 1.6, 20.0 * decades + 5.6488 * x**1.425, 17.6 * x - 11.0 - 10.0 * decades)
        total = np.maximum(total, away - heights.gain_db(f, radius_km) - BRANCHES_DB)
    return np.where(seen, total, 0.0)


def _troposcatter_db(
    f: FloatArray, d: FloatArray, p: FloatArray, c: float, beyond: FloatArray, refractivity: float
) -> FloatArray:
    theta = np.maximum(2.0 * c * beyond, 0.0)
    lf = 25.0 * np.log10(f) - 2.5 * np.log10(0.5 * f) ** 2
    time = np.maximum(-np.log10(p / 50.0), 0.0) ** 0.7
    return np.asarray(190.0 + lf + 20.0 * np.log10(d) + 0.573 * theta - 0.15 * refractivity - 10.1 * time)


def _ducting_db(
    f: FloatArray,
    d: FloatArray,
    longest: FloatArray,
    p: FloatArray,
    roots: FloatArray,
    beta0: FloatArray,
    tau: FloatArray,
    c: float,
    beyond: FloatArray,
    ground: Ground,
) -> FloatArray:
    radius = 500.0 / c
    if ground.level:
        # Where the antennas see each other the two horizon distances make up the whole path.
        horizons = np.minimum(roots / np.sqrt(c), d)
        base = 500.0 * d * d / (radius * roots * roots)
        exponent = np.maximum(-0.6 - 3.5e-9 * d**3.1 * tau, -3.4)
        mu2 = np.minimum(np.maximum(base, 1.0) ** exponent, 1.0)
    else:
        horizons = np.full_like(d, 2.0 * ground.first_point_km)
        mu2 = np.ones_like(d)
    low = np.where(f < 0.5, 45.375 - 137.0 * f + 92.5 * f * f, 0.0)
    log_beta = np.log10(np.maximum(beta0 * mu2, 1e-300))
    with np.errstate(divide="ignore"):
        fixed = 102.45 + 20.0 * np.log10(f * horizons) + low
    angular = 5e-5 * radius * np.cbrt(f) * 2.0 * c * beyond
    return np.asarray(fixed + angular + time_term_db(np.log10(p), log_beta, d, longest))


def _beta0_percent(d: FloatArray, tau: FloatArray, latitude: FloatArray) -> FloatArray:
    """β0 of an inland path, §3.2.1."""
    coastal = 10.0 ** (-d / (16.0 - 6.6 * tau)) + 10.0 ** (-5.0 * (0.496 + 0.354 * tau))
    mu1 = np.minimum(coastal**0.2, 1.0)
    below_70 = 10.0 ** (1.67 - 0.015 * latitude) * mu1 ** (0.065 + 0.0176 * latitude)
    return np.where(latitude <= 70.0, below_70, 4.17 * mu1**1.3)


def time_term_db(
    log_p: FloatArray, log_beta: FloatArray, shortest_km: FloatArray, longest_km: FloatArray
) -> FloatArray:
    """The time term A of ducting, §4.4, with the end of the distance interval that makes it smaller."""
    ratio = log_p - log_beta
    d = np.where(ratio < 0.0, shortest_km, longest_km)
    power = 1.076 / (2.0058 - log_beta) ** 1.012
    power = power * np.exp(-(9.51 - 4.8 * log_beta + 0.198 * log_beta**2) * 1e-6 * d**1.13)
    slope_km = np.where(ratio < 0.0, longest_km, shortest_km)
    return np.asarray(-12.0 + (1.2 + 3.7e-3 * slope_km) * ratio + 12.0 * 10.0 ** (power * ratio))
