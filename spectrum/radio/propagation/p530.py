"""Multipath fading of the wanted signal on line-of-sight links (ITU-R P.530-18 §2.3)."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np
import numpy.typing as npt

from sites.sentences import Sentence, sentence
from sites.words import gettext_noop as _
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

SHORTEST_PATH_KM = 5.0
LONGEST_PATH_KM = 240.0
LOWEST_FREQUENCY_GHZ = 0.45
HIGHEST_FREQUENCY_GHZ = 45.0
LEAST_FREQUENCY_TIMES_PATH = 15.0
"""Below f = 15/d (GHz, km) the formulas no longer hold."""


class OutOfRange(IntEnum):
    """Why a fading value was not given."""

    NO = 0
    PATH_SHORT = 1
    PATH_LONG = 2
    FREQUENCY_LOW = 3
    FREQUENCY_HIGH = 4
    BELOW_TERRAIN = 5

    @property
    def sentence(self) -> Sentence:
        """The reason in words."""
        return {
            OutOfRange.NO: sentence(_("Inside the range of ITU-R P.530-18.")),
            OutOfRange.PATH_SHORT: sentence(
                _("The path is shorter than {limit:g} km."), limit=SHORTEST_PATH_KM
            ),
            OutOfRange.PATH_LONG: sentence(_("The path is longer than {limit:g} km."), limit=LONGEST_PATH_KM),
            OutOfRange.FREQUENCY_LOW: sentence(
                _("The frequency is below {limit:g} GHz, or below 15/d GHz for a path of d km."),
                limit=LOWEST_FREQUENCY_GHZ,
            ),
            OutOfRange.FREQUENCY_HIGH: sentence(
                _("The frequency is above {limit:g} GHz."), limit=HIGHEST_FREQUENCY_GHZ
            ),
            OutOfRange.BELOW_TERRAIN: sentence(
                _("The path runs below the mean terrain, so it is no line of sight.")
            ),
        }[self]


@dataclass(frozen=True)
class MultipathOccurrence:
    """Multipath occurrence factor of paths.

    Attributes
    ----------
    occurrence_percent : p0, %; the deep-fade line drawn back to a fade of 0 dB, so it may exceed 100;
        NaN where ``reason`` is not 0
    reason : int array, an :class:`OutOfRange` for each path
    """

    occurrence_percent: Array
    reason: npt.NDArray[np.int8]


def _reason(distance_km: Array, frequency_ghz: Array, clearance_m: Array) -> npt.NDArray[np.int8]:
    lowest = np.maximum(LOWEST_FREQUENCY_GHZ, LEAST_FREQUENCY_TIMES_PATH / distance_km)
    tests = (
        (distance_km < SHORTEST_PATH_KM, OutOfRange.PATH_SHORT),
        (distance_km > LONGEST_PATH_KM, OutOfRange.PATH_LONG),
        (frequency_ghz < lowest, OutOfRange.FREQUENCY_LOW),
        (frequency_ghz > HIGHEST_FREQUENCY_GHZ, OutOfRange.FREQUENCY_HIGH),
        (clearance_m < 0.0, OutOfRange.BELOW_TERRAIN),
    )
    return np.select([t for t, _ in tests], [np.int8(r) for _, r in tests], default=np.int8(OutOfRange.NO))


def multipath_occurrence(
    frequency_mhz: ArrayLike,
    distance_km: ArrayLike,
    antenna_tx_amsl_m: ArrayLike,
    antenna_rx_amsl_m: ArrayLike,
    mean_terrain_amsl_m: ArrayLike,
    log_k: ArrayLike,
    refractivity_gradient_dn75: ArrayLike,
) -> MultipathOccurrence:
    """Multipath occurrence factor p0 of the worst month.

    Parameters
    ----------
    frequency_mhz : scalar or array, MHz, above zero
    distance_km : scalar or array, km, above zero
    antenna_tx_amsl_m, antenna_rx_amsl_m : scalar or array, m above sea level
    mean_terrain_amsl_m : scalar or array, m above sea level, mean height of the terrain of the path
    log_k : scalar or array, log10 of the geoclimatic factor K, from the map of P.530
    refractivity_gradient_dn75 : scalar or array, dN75, above zero, from the map of P.530

    Returns
    -------
    MultipathOccurrence; outside the range of the method p0 is NaN and the reason is told.

    Raises
    ------
    RadioRangeError
        A frequency, distance or dN75 that is not above zero.

    Source
    ------
    ITU-R P.530-18 §2.3.1: p0 = K d^3.51 (f² + 13)^0.447 · 10^(−0.376 tanh((hc − 147)/125)
    − 0.334 |εp|^0.39 − 0.00027 hL + 17.85 vsr), hc = ½(hr + he) − d²/102 − ht,
    vsr = min((dN75/50)^1.8 exp(−hc/(2.5 √d)), dN75 d^1.5 f^0.5/24 730), read in an open
    implementation that its author calls untested.

    Range
    -----
    5 to 240 km; 0.45 to 45 GHz and not below 15/d GHz (the limits from memory, not verified). Clear
    line of sight, so that hc is not below 0; flat fading. K and dN75 are read from the maps by the caller.

    Known disagreements
    -------------------
    P.530-17 computes p0 from another regression (dN1 and terrain roughness); the two differ by a
    factor of several on one path.

    Examples
    --------
    >>> p = multipath_occurrence(7500.0, 40.0, 300.0, 200.0, 100.0, -3.0, 50.0)
    >>> round(float(p.occurrence_percent), 1)
    903.9
    >>> short = multipath_occurrence([7500.0, 400.0], [3.0, 60.0], 80.0, 60.0, 30.0, -3.0, 50.0)
    >>> [OutOfRange(r).name for r in short.reason]
    ['PATH_SHORT', 'FREQUENCY_LOW']
    """
    f = in_range("frequency_mhz", frequency_mhz, 0.0, above=True) / 1000.0
    d = in_range("distance_km", distance_km, 0.0, above=True)
    he = in_range("antenna_tx_amsl_m", antenna_tx_amsl_m)
    hr = in_range("antenna_rx_amsl_m", antenna_rx_amsl_m)
    ht = in_range("mean_terrain_amsl_m", mean_terrain_amsl_m)
    dn75 = in_range("refractivity_gradient_dn75", refractivity_gradient_dn75, 0.0, above=True)
    clearance = 0.5 * (hr + he) - d * d / 102.0 - ht
    inclination = np.abs(hr - he) / d
    # A path far below its terrain overflows here; its value is not given.
    with np.errstate(over="ignore"):
        layer = (dn75 / 50.0) ** 1.8 * np.exp(-clearance / (2.5 * np.sqrt(d)))
        vsr = np.minimum(layer, dn75 * d**1.5 * np.sqrt(f) / 24_730.0)
        exponent = in_range("log_k", log_k) - 0.376 * np.tanh((clearance - 147.0) / 125.0)
        exponent = exponent - 0.334 * inclination**0.39 - 0.00027 * np.minimum(he, hr) + 17.85 * vsr
        p0 = d**3.51 * (f * f + 13.0) ** 0.447 * 10.0**exponent
    reason = np.broadcast_to(_reason(*np.broadcast_arrays(d, f, clearance)), np.shape(p0))
    return MultipathOccurrence(same_shape(np.where(reason == OutOfRange.NO, p0, np.nan)), reason)


def deep_fade_exceedance_percent(occurrence_percent: ArrayLike, fade_depth_db: ArrayLike) -> Array:
    """Time of the worst month for which a deep fade is exceeded.

    Parameters
    ----------
    occurrence_percent : scalar or array, p0, %, above zero
    fade_depth_db : scalar or array, A, dB, not negative

    Returns
    -------
    Percentage of time, the broadcast shape of the arguments.

    Raises
    ------
    RadioRangeError
        An argument outside the range given above.

    Source
    ------
    ITU-R P.530-18 §2.3.1: pw = p0 · 10^(−A/10).

    Range
    -----
    Fades deeper than :func:`deep_fade_limit_db`. For shallower ones the value is too high and may
    pass 100 %; use :func:`fade_exceedance_percent`.

    Examples
    --------
    >>> round(float(deep_fade_exceedance_percent(903.8834, 30.0)), 5)
    0.90388
    >>> deep_fade_exceedance_percent(10.0, [30.0, 40.0]).round(4)
    array([0.01 , 0.001])
    """
    p0 = in_range("occurrence_percent", occurrence_percent, 0.0, above=True)
    return same_shape(p0 * 10.0 ** (-in_range("fade_depth_db", fade_depth_db, 0.0) / 10.0))


def deep_fade_limit_db(occurrence_percent: ArrayLike) -> Array:
    """Fade depth from which the deep-fade formula holds.

    Parameters
    ----------
    occurrence_percent : scalar or array, p0, %, above zero

    Returns
    -------
    At in dB, same shape.

    Raises
    ------
    RadioRangeError
        An occurrence that is not above zero.

    Source
    ------
    ITU-R P.530 §2.3.2: At = 25 + 1.2 log p0.

    Range
    -----
    p0 up to about 2000 %, as the Recommendation says (from memory, not verified).

    Examples
    --------
    >>> round(float(deep_fade_limit_db(2.738324)), 3)
    25.525
    >>> deep_fade_limit_db([1.0, 100.0]).round(1)
    array([25. , 27.4])
    """
    return same_shape(
        25.0 + 1.2 * np.log10(in_range("occurrence_percent", occurrence_percent, 0.0, above=True))
    )


def _shallow(p0: Array, depth: Array, limit: Array) -> Array:
    """pw of §2.3.2 for fades shallower than At."""
    at_limit = p0 * 10.0 ** (-limit / 10.0)
    slope = -20.0 * np.log10(-np.log1p(-at_limit / 100.0)) / limit

    def shape(a: Array) -> tuple[Array, Array]:
        return (1.0 + 0.3 * 10.0 ** (-a / 20.0)) * 10.0 ** (-0.016 * a), 4.3 * (
            10.0 ** (-a / 20.0) + a / 800.0
        )

    factor, offset = shape(limit)
    qt = (slope - 2.0) / factor - offset
    factor, offset = shape(depth)
    qa = 2.0 + factor * (qt + offset)
    pw: Array = -100.0 * np.expm1(-(10.0 ** (-qa * depth / 20.0)))
    return pw


def fade_exceedance_percent(occurrence_percent: ArrayLike, fade_depth_db: ArrayLike) -> Array:
    """Time of the worst month for which a fade of any depth is exceeded.

    Parameters
    ----------
    occurrence_percent : scalar or array, p0, %, above 0, up to 2000
    fade_depth_db : scalar or array, A, dB, not negative

    Returns
    -------
    Percentage of time, the broadcast shape of the arguments.

    Raises
    ------
    RadioRangeError
        An argument outside the range given above.

    Source
    ------
    ITU-R P.530 §2.3.2 (all percentages of time): from At = 25 + 1.2 log p0 the deep-fade line, below
    it qa = 2 + [1 + 0.3·10^(−A/20)] 10^(−0.016 A) [qt + 4.3 (10^(−A/20) + A/800)] and
    pw = 100 [1 − exp(−10^(−qa A/20))]; from memory, continuity at At checked.

    Range
    -----
    p0 up to 2000 % (from memory, not verified).

    Known disagreements
    -------------------
    The public library itur 0.4.0 misplaces two parentheses in this formula and gives up to 16 times
    the percentage for A < At. The form here joins the deep-fade line without a step at At.

    Examples
    --------
    >>> round(float(fade_exceedance_percent(1.187996, 20.0)), 5)
    0.01107
    >>> fade_exceedance_percent(10.0, [0.0, 10.0, 30.0]).round(3)
    array([6.3212e+01, 7.0500e-01, 1.0000e-02])
    """
    p0, depth = np.broadcast_arrays(
        in_range(
            "occurrence_percent", occurrence_percent, 0.0, 2000.0, above=True, source="ITU-R P.530 §2.3.2"
        ),
        in_range("fade_depth_db", fade_depth_db, 0.0),
    )
    limit = np.asarray(deep_fade_limit_db(p0))
    deep = p0 * 10.0 ** (-depth / 10.0)
    return same_shape(np.where(depth >= limit, deep, _shallow(p0, np.minimum(depth, limit), limit)))


def fade_depth_for_outage_db(occurrence_percent: ArrayLike, outage_percent: ArrayLike) -> Array:
    """Fade margin that holds the outage of the worst month to a percentage.

    Parameters
    ----------
    occurrence_percent : scalar or array, p0, %, above 0, up to 2000
    outage_percent : scalar or array, %, above 0, up to 100

    Returns
    -------
    Fade depth in dB, the broadcast shape of the arguments; 0 where the outage may take more time than
    fading takes.

    Raises
    ------
    RadioRangeError
        An argument outside the range given above.

    Source
    ------
    The inverse of :func:`fade_exceedance_percent`: A = 10 log(p0/pw) from At up, bisection below.

    Range
    -----
    As :func:`fade_exceedance_percent`. Bisection ends within 1e-9 dB.

    Examples
    --------
    >>> round(float(fade_depth_for_outage_db(2.738324, 0.001)), 2)
    34.37
    >>> fade_depth_for_outage_db(10.0, [0.01, 1.0]).round(2)
    array([30. ,  8.6])
    """
    p0, outage = np.broadcast_arrays(
        in_range(
            "occurrence_percent", occurrence_percent, 0.0, 2000.0, above=True, source="ITU-R P.530 §2.3.2"
        ),
        in_range("outage_percent", outage_percent, 0.0, 100.0, above=True),
    )
    limit = np.asarray(deep_fade_limit_db(p0))
    deep = 10.0 * np.log10(p0 / outage)
    low, high = np.zeros_like(limit), limit.copy()
    for _step in range(36):
        middle = 0.5 * (low + high)
        above = _shallow(p0, middle, limit) > outage
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    unknown = np.isnan(p0) | np.isnan(outage)
    return same_shape(np.where(unknown, np.nan, np.where(deep >= limit, deep, low)))
