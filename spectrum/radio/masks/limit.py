"""From a published emission limit to a mask of power spectral density.

A limit is stated as an attenuation below the transmitter power P, measured in
a reference bandwidth, with formulas that hold between certain offsets. Here a
limit is a list of stretches, each with the offset up to which it holds (that
offset included) and its formula.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from spectrum.radio.masks.mask import MASK_FLOOR_DB, Mask
from spectrum.radio.ranges import Array, in_range, same_shape

MASK_ERROR_DB = 0.05
"""Greatest difference between a limit and the mask made from it, in dB."""

_PROBES = np.linspace(0.0, 1.0, 17)[1:-1]


class Stretch(NamedTuple):
    """One interval of a limit: it holds up to ``upto_khz``, from the end of the one before.

    ``attenuation_db`` takes the offset in kHz (positive) and 10 log P with P in watts.
    """

    upto_khz: Array
    attenuation_db: Callable[[Array, Array], Array]


def evaluate(stretches: Sequence[Stretch], fd_khz: Array, power_w: Array) -> Array:
    """Attenuation below P that a limit demands, at offsets of either sign.

    Parameters
    ----------
    stretches : sequence of Stretch
        The limit.
    fd_khz : array
        Offset from the centre in kHz.
    power_w : array
        P, transmitter power in W, above 0.

    Returns
    -------
    array
        Attenuation in dB; NaN beyond the last stretch and where an argument is NaN.

    Source
    ------
    Reading of a limit as its rule states it; the rules are in :mod:`.cfr90_210` and :mod:`.cfr101_111`.

    Range
    -----
    Offsets up to the end of the last stretch.

    Examples
    --------
    >>> limit = [
    ...     Stretch(np.float64(10.0), lambda offset, carrier: 0.0 * offset),
    ...     Stretch(np.float64(50.0), lambda offset, carrier: 43.0 + carrier + 0.0 * offset),
    ... ]
    >>> float(evaluate(limit, np.float64(-20.0), np.float64(10.0)))
    53.0
    >>> evaluate(limit, np.array([10.0, 50.0, 60.0]), np.float64(1.0))
    array([ 0., 43., nan])
    """
    offset = np.abs(fd_khz)
    for_formulas = np.where(offset > 0.0, offset, 1.0)  # no formula with a logarithm holds at 0
    carrier_db = 10.0 * np.log10(power_w)
    result = np.full(np.broadcast(offset, carrier_db).shape, np.nan)
    for stretch in reversed(stretches):
        value = stretch.attenuation_db(for_formulas, carrier_db)
        result = np.where(offset <= stretch.upto_khz, value, result)
    return same_shape(np.where(np.isnan(offset + carrier_db), np.nan, result))


def mask_from_limit(
    stretches: Sequence[Stretch],
    power_w: float,
    occupied_bandwidth_khz: float,
    reference_bandwidth_khz: float,
    cut_off_khz: float,
) -> Mask:
    """The emission that uses a limit to the full, as a mask of relative power spectral density.

    In the channel the power P is spread over the occupied bandwidth; outside, the limit allows P − A
    in each reference bandwidth. The level relative to the channel is therefore
    −A + 10 log(occupied / reference bandwidth), not above 0 dB. Where the rule states no limit the
    level is 0 dB. Formulas with logarithms are drawn in straight pieces, close enough to be within
    :data:`MASK_ERROR_DB` of the limit everywhere.

    Parameters
    ----------
    stretches : sequence of Stretch
        The limit.
    power_w : float
        P, transmitter power in W, above 0.
    occupied_bandwidth_khz : float
        Occupied bandwidth in kHz, above 0.
    reference_bandwidth_khz : float
        Reference (resolution) bandwidth of the limit in kHz, above 0.
    cut_off_khz : float
        Offset in kHz at which the mask ends.

    Returns
    -------
    Mask
        A symmetric mask.

    Raises
    ------
    RadioRangeError
        If a bandwidth or the power is not positive, or the cut-off does not lie beyond the last offset
        at which the limit changes.

    Source
    ------
    Arithmetic of power spectral density; common practice, no published source.

    Range
    -----
    An upper bound of what the rule allows, not a typical emission.

    Examples
    --------
    >>> steps = [Stretch(np.array(5.0), lambda f, p: 0 * f), Stretch(np.array(np.inf), lambda f, p: 60 + 0 * f)]
    >>> mask_from_limit(steps, 10.0, 10.0, 0.1, 50.0)
    Mask(offset_khz=(0.0, 5.0, 5.0, 50.0), level_db=(0.0, 0.0, -40.0, -40.0))
    >>> mask_from_limit(steps, 10.0, 10.0, 10.0, 50.0).level_at_db([0, 20]).tolist()
    [0.0, -60.0]
    """
    in_range("power_w", power_w, 0.0, above=True)
    in_range("occupied_bandwidth_khz", occupied_bandwidth_khz, 0.0, above=True)
    in_range("reference_bandwidth_khz", reference_bandwidth_khz, 0.0, above=True)
    edges = [0.0, *(float(stretch.upto_khz) for stretch in stretches if np.isfinite(stretch.upto_khz))]
    in_range("cut_off_khz", cut_off_khz, edges[-1], above=True)
    spread_db = 10.0 * np.log10(occupied_bandwidth_khz / reference_bandwidth_khz)

    def level_db(offset_khz: Array) -> Array:
        attenuation = evaluate(stretches, offset_khz, np.asarray(power_w))
        return np.asarray(np.clip(np.nan_to_num(spread_db - attenuation, nan=0.0), MASK_FLOOR_DB, 0.0))

    points: list[tuple[float, float]] = []
    for low, high in pairwise([*edges, cut_off_khz]):
        inside = low if low == 0.0 else float(np.nextafter(low, high))  # the stretch begins after its edge
        offsets = [inside, *_ends_of_straight_pieces(level_db, inside, high)]
        for offset, level in zip(offsets, level_db(np.array(offsets)).tolist(), strict=True):
            point = (low if offset == inside else offset, level)
            if point not in points[-1:]:
                points.append(point)
    return Mask.from_points(points)


def _ends_of_straight_pieces(level_db: Callable[[Array], Array], low: float, high: float) -> list[float]:
    """Ends of pieces from ``low`` to ``high`` on which a straight line is close enough to the level."""
    probes = low + (high - low) * _PROBES
    start, end = level_db(np.array([low, high]))
    error = np.abs(level_db(probes) - (start + (end - start) * _PROBES)).max()
    if error <= MASK_ERROR_DB / 2.0:
        return [high]
    middle = (low + high) / 2.0
    return _ends_of_straight_pieces(level_db, low, middle) + _ends_of_straight_pieces(level_db, middle, high)
