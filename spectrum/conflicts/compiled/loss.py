"""P.452-18 over level ground for one path at a time, compiled; never above the definition.

The formulas are those of spectrum.radio.propagation (there with their sources); three small losses are
left out, gas, site shielding and the gain term of troposcatter, and within line of sight Bullington's
part, so that the result is that of :func:`smooth_earth_loss` or a little less.
"""

from __future__ import annotations

from math import acos, cos, exp, expm1, log, log1p, pi, sqrt, tanh

from numba import njit

EARTH_RADIUS_KM = 6371.0
TEN = log(10.0)
PER_TEN = 1.0 / TEN


# Powers are taken as exponentials of logarithms that are at hand: a general power costs three times as much.
@njit(cache=True)
def _log10(x: float) -> float:
    return log(x) * PER_TEN


@njit(cache=True)
def _inverse_normal(x: float) -> float:
    t = sqrt(-2.0 * log(max(x, 1e-6)))
    top = 2.515516698 + t * (0.802853 + t * 0.010328)
    return t - top / (1.0 + t * (1.432788 + t * (0.189269 + t * 0.001308)))


@njit(cache=True)
def _height_gain(b: float, k: float) -> float:
    least = 2.0 + 20.0 * _log10(k)
    if b > 2.0:
        return max(17.6 * sqrt(b - 1.1) - 5.0 * _log10(b - 1.1) - 8.0, least)
    return max(20.0 * _log10(b * (1.0 + 0.1 * b * b)), least)


@njit(cache=True)
def _first_term(d: float, h_t: float, h_r: float, radius: float, f: float, vertical: bool) -> float:
    imaginary = (18.0 * 0.003 / f) * (18.0 * 0.003 / f)
    ln_f, ln_r = log(f), log(radius)
    k = 0.036 * exp(-(ln_r + ln_f) / 3.0) / sqrt(sqrt(21.0 * 21.0 + imaginary))
    if vertical:
        k *= sqrt(22.0 * 22.0 + imaginary)
    k2 = k * k
    beta = (1.0 + k2 * (1.6 + 0.67 * k2)) / (1.0 + k2 * (4.5 + 1.53 * k2))
    x = 21.88 * beta * exp((ln_f - 2.0 * ln_r) / 3.0) * d
    ln_x = log(x)
    y = 0.9575 * beta * exp((2.0 * ln_f - ln_r) / 3.0)
    decades = ln_x * PER_TEN
    term = 11.0 + 10.0 * decades - 17.6 * x
    if x < 1.6:
        term = -20.0 * decades - 5.6488 * exp(1.425 * ln_x)
    return -term - _height_gain(beta * y * h_t, k) - _height_gain(beta * y * h_r, k)


@njit(cache=True)
def _spherical(d: float, h_t: float, h_r: float, radius: float, f: float, vertical: bool) -> float:
    roots = sqrt(h_t) + sqrt(h_r)
    if d >= sqrt(0.002 * radius) * roots:
        return _first_term(d, h_t, h_r, radius, f, vertical)
    total = h_t + h_r
    c = (h_t - h_r) / total
    m = 250.0 * d * d / (radius * total)
    angle = acos(min(max(1.5 * c * sqrt(3.0 * m / (m + 1.0) ** 3), -1.0), 1.0))
    b = 2.0 * sqrt((m + 1.0) / (3.0 * m)) * cos(pi / 3.0 + angle / 3.0)
    first = min(max(0.5 * d * (1.0 + b), 0.0), d)
    second = d - first
    bulge = 500.0 / radius
    clearance = ((h_t - bulge * first * first) * second + (h_r - bulge * second * second) * first) / d
    required = 17.456 * sqrt(first * second * (0.2998 / f) / d)
    shortfall = 1.0 if required == 0.0 else 1.0 - clearance / required
    if shortfall < 0.0:
        return 0.0
    loss = _first_term(d, h_t, h_r, 500.0 * (d / roots) ** 2, f, vertical)
    return shortfall * max(loss, 0.0)


@njit(cache=True)
def _diffraction(d: float, h_t: float, h_r: float, radius: float, f: float, vertical: bool) -> float:
    """The greater of Bullington's loss (beyond the horizon) and that of the sphere."""
    c = 500.0 / radius
    x_t, x_r = sqrt(h_t / c), sqrt(h_r / c)
    past = d - x_t - x_r
    edge_loss = 0.0
    if past > 0.0:
        squared = c * c * past * past * (d * d - (x_t - x_r) ** 2) / d
        nu = sqrt(max(squared, 0.0) * 0.002 * f / 0.2998) - 0.1
        edge = 6.9 + 20.0 * _log10(sqrt(nu * nu + 1.0) + nu)
        edge_loss = edge - expm1(-edge / 6.0) * (10.0 + 0.02 * d)
    return max(edge_loss, _spherical(d, h_t, h_r, radius, f, vertical))


@njit(cache=True)
def level_ground_losses(  # noqa: PLR0915 - one path from end to end, as the Recommendation
    f: float,
    d: float,
    h_t: float,
    h_r: float,
    p_long: float,
    p_short: float,
    latitude: float,
    vertical: bool,
    radius: float,
    refractivity: float,
) -> tuple[float, float]:
    """Loss at two percentages of time, dB; f in GHz, d in km, heights in m above level ground."""
    c = 500.0 / radius
    x_t, x_r = sqrt(h_t / c), sqrt(h_r / c)
    past = d - x_t - x_r
    step = (h_r - h_t) / d
    blocked = past > 0.0
    horizons = x_t + x_r if blocked else d
    slant = sqrt(d * d + (1e-3 * (h_t - h_r)) ** 2)
    lbfs = 92.4 + 20.0 * _log10(f * slant)
    focusing = 2.6 * -expm1(-0.1 * horizons)
    ln_d, ln_f = log(d), log(f)
    tau = -expm1(-4.12e-4 * exp(2.41 * ln_d))
    coastal = exp(-TEN * d / (16.0 - 6.6 * tau)) + exp(-TEN * 5.0 * (0.496 + 0.354 * tau))
    ln_mu1 = min(0.2 * log(coastal), 0.0)
    ln_beta0 = log(4.17) + 1.3 * ln_mu1
    if latitude <= 70.0:
        ln_beta0 = TEN * (1.67 - 0.015 * latitude) + ln_mu1 * (0.065 + 0.0176 * latitude)
    beta0 = exp(ln_beta0)
    median = _diffraction(d, h_t, h_r, radius, f, vertical)
    rare = _diffraction(d, h_t, h_r, 3.0 * EARTH_RADIUS_KM, f, vertical)
    theta = 2.0 * c * past if blocked else 0.0
    ducted_angle = theta
    if not blocked:
        ducted_angle = 2.0 * c * d + min(step - c * d, 0.0) + min(-step - c * d, 0.0)
    # Steepest slope of the ground less that of the direct line, as the transmitter sees it.
    excess = -h_r / d
    if x_t < d:
        excess = c * (d - x_t - x_r) * (d - x_t + x_r) / d
    fj = 1.0 - 0.5 * (1.0 + tanh(2.4 * excess / 0.3))
    fk = 1.0 - 0.5 * (1.0 + tanh(1.5 * (d - 20.0) / 20.0))
    low = 45.375 - 137.0 * f + 92.5 * f * f if f < 0.5 else 0.0
    ducting_fixed = (
        102.45 + 20.0 * _log10(f * horizons) + low + 5e-5 * radius * exp(ln_f / 3.0) * ducted_angle
    )
    alpha = max(-0.6 - 3.5e-9 * exp(3.1 * ln_d) * tau, -3.4)
    roots = sqrt(h_t) + sqrt(h_r)
    ln_mu2 = min(alpha * log(500.0 * d * d / (radius * roots * roots)), 0.0)
    log_beta = max((ln_beta0 + ln_mu2) * PER_TEN, -300.0)
    power = 1.076 * exp(-1.012 * log(2.0058 - log_beta))
    power *= exp(-(9.51 - 4.8 * log_beta + 0.198 * log_beta * log_beta) * 1e-6 * exp(1.13 * ln_d))
    scatter_fixed = (
        190.0 + 25.0 * _log10(f) - 2.5 * _log10(0.5 * f) ** 2 + 20.0 * _log10(d) + 0.573 * theta
        - 0.15 * refractivity
    )  # fmt: skip
    long_db = 0.0
    short_db = 0.0
    for turn in range(2):
        p = p_long if turn == 0 else p_short
        if p == 50.0:
            fi = 0.0
        elif p > beta0:
            fi = _inverse_normal(p / 100.0) / _inverse_normal(min(beta0, 50.0) / 100.0)
        else:
            fi = 1.0
        ldp = median + fi * (rare - median)
        lb0p = lbfs + focusing * _log10(p / 50.0)
        ratio = _log10(p) - log_beta
        lba = ducting_fixed - 12.0 + (1.2 + 3.7e-3 * d) * ratio + 12.0 * exp(TEN * power * ratio)
        lbs = scatter_fixed - 10.1 * max(-_log10(p / 50.0), 0.0) ** 0.7
        lbd = lb0p + ldp
        if p < beta0:
            lminb0p = lb0p + ldp
        else:
            lb0b = lbfs + focusing * _log10(beta0 / 50.0)
            lminb0p = lbfs + median + (lb0b + ldp - lbfs - median) * fi
        lminbap = max(lba, lb0p) + 2.5 * log1p(exp(-abs(lba - lb0p) / 2.5))
        lbda = lbd if lminbap > lbd else lminbap + (lbd - lminbap) * fk
        lbam = lbda + (lminb0p - lbda) * fj
        least = min(lbs, lbam)
        lb = least - 5.0 * PER_TEN * log1p(exp(-0.2 * TEN * abs(lbs - lbam)))
        if turn == 0:
            long_db = lb
        else:
            short_db = lb
    return long_db, short_db
