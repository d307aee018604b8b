"""Isolation to reckon with between two antennas: the formulas inside their limits, or what was measured."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from licences.limits import DIPOLE_GAIN_DBI
from sites.sentences import sentence
from sites.words import gettext_noop as _
from spectrum.radio.isolation.formulas import (
    horizontal_isolation_db,
    interpolated_by_angle,
    required_horizontal_separation_m,
    required_vertical_separation_m,
    vertical_isolation_db,
    wavelength_m,
)
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

VERTICAL_LIMIT_DB: Final = 70.0
"""A manufacturer's calculator page holds the vertical formula valid up to about this isolation."""

GAIN_ANTENNA_LEAST_M: Final = 15.0
"""The same page holds the horizontal formula valid between gain antennas from this spacing."""

FIELD_DERATING_DB: Final = 16.0
"""A field note found about 40 dB at five wavelengths of vertical spacing, where the formula has 56 dB."""

_VERTICAL_NOTE: Final = sentence(
    _(
        "The vertical formula holds up to about {limit:.0f} dB and is cut off there; a field note "
        "reports {less:.0f} dB less than the formula at five wavelengths."
    ),
    limit=VERTICAL_LIMIT_DB,
    less=FIELD_DERATING_DB,
)
_HORIZONTAL_NOTE: Final = sentence(
    _("The horizontal formula holds in the far field; between gain antennas from {least:.0f} m."),
    least=GAIN_ANTENNA_LEAST_M,
)
_SLANT_NOTE: Final = _(
    "Between the two directions the isolation is interpolated by the angle of the line of sight."
)
_ESTIMATE_NOTE: Final = _(
    "An estimate by rule of thumb: mast, feeders and near objects change it. Measure it."
)
_MEASURED_NOTE: Final = _("Measured isolation as entered; no formula was applied.")


class AntennaIsolation(NamedTuple):
    """Isolation between two antennas and how far it can be trusted; arrays of one shape.

    Attributes
    ----------
    isolation_db : what to reckon with: measured where measured, else the formula inside its limits
    formula_db : the formula as it stands, without a limit
    within_range : whether the formula is inside its limits (True where measured)
    estimate : True where a formula was used, False where measured
    notes : what to say beside the number: limits, derating, estimate
    """

    isolation_db: Array
    formula_db: Array
    within_range: npt.NDArray[np.bool_]
    estimate: npt.NDArray[np.bool_]
    notes: tuple[str, ...]


class RequiredSeparation(NamedTuple):
    """Spacing that gives an isolation, horizontally or vertically; arrays of one shape.

    Attributes
    ----------
    horizontal_m, vertical_m : spacing of two antennas side by side, or one above the other
    horizontal_within_range, vertical_within_range : whether that formula is inside its limits
    notes : what to say beside the numbers
    """

    horizontal_m: Array
    vertical_m: Array
    horizontal_within_range: npt.NDArray[np.bool_]
    vertical_within_range: npt.NDArray[np.bool_]
    notes: tuple[str, ...]


def antenna_isolation(
    frequency_mhz: ArrayLike,
    horizontal_m: ArrayLike,
    vertical_m: ArrayLike,
    gain_a_dbi: ArrayLike = 0.0,
    gain_b_dbi: ArrayLike = 0.0,
    measured_db: ArrayLike = np.nan,
) -> AntennaIsolation:
    """Isolation to reckon with between two antennas at a site.

    A measured value is taken as it is. Else the horizontal, vertical or slant formula is used, the
    vertical part cut off at 70 dB, and the result is marked an estimate.

    Parameters
    ----------
    frequency_mhz : array_like
        Frequency, MHz.
    horizontal_m, vertical_m : array_like
        Horizontal and vertical spacing, m; one of the two may be 0.
    gain_a_dbi, gain_b_dbi : array_like
        Gain of each antenna toward the other in the horizontal plane, dBi.
    measured_db : array_like
        Measured isolation, dB; NaN where it was not measured.

    Returns
    -------
    AntennaIsolation
        Isolation, the bare formula, whether it is inside its limits, the estimate mark and the notes.

    Raises
    ------
    RadioRangeError
        When the frequency is not above 0, a spacing is negative, or both spacings are 0.

    Source
    ------
    As :func:`horizontal_isolation_db`, :func:`vertical_isolation_db`, :func:`slant_isolation_db`.

    Range
    -----
    Inside its limits means: spacing of at least one wavelength; at least 15 m horizontally where either
    antenna has gain over a dipole and the spacing is not vertical; vertical part at most 70 dB.

    Known disagreements
    -------------------
    One wavelength as the least spacing is our choice; the sources give none. The derating of 16 dB is
    one field note and is stated, not applied.

    Examples
    --------
    >>> found = antenna_isolation(410.0, 0.0, 10.0)
    >>> float(found.isolation_db), round(float(found.formula_db), 2), bool(found.within_range)
    (70.0, 73.44, False)
    >>> antenna_isolation(410.0, 30.0, 0.0, measured_db=[np.nan, 62.0]).isolation_db.round(1).tolist()
    [54.3, 62.0]
    """
    across, up, frequency, gain_a, gain_b, measured = np.broadcast_arrays(
        in_range("horizontal_m", horizontal_m, 0.0),
        in_range("vertical_m", vertical_m, 0.0),
        in_range("frequency_mhz", frequency_mhz, 0.0, above=True),
        in_range("gain_a_dbi", gain_a_dbi),
        in_range("gain_b_dbi", gain_b_dbi),
        in_range("measured_db", measured_db, 0.0),
    )
    spacing = in_range("horizontal_m and vertical_m together", np.hypot(across, up), 0.0, above=True)
    wavelength = wavelength_m(frequency)
    # A direction without spacing takes no part: its share of the interpolation is 0.
    horizontal = horizontal_isolation_db(frequency, np.where(across == 0, spacing, across), gain_a, gain_b)
    vertical = vertical_isolation_db(frequency, np.where(up == 0, spacing, up))
    limited = np.minimum(vertical, VERTICAL_LIMIT_DB)
    formula = interpolated_by_angle(horizontal, vertical, across, up)
    known = ~np.isnan(measured)
    with_gain = np.maximum(gain_a, gain_b) > DIPOLE_GAIN_DBI
    inside = (spacing >= wavelength) & ((up == 0) | (vertical <= VERTICAL_LIMIT_DB))
    inside &= ~with_gain | (across == 0) | (across >= GAIN_ANTENNA_LEAST_M)
    notes = [_MEASURED_NOTE] if known.any() else []
    if not known.all():
        notes += [_HORIZONTAL_NOTE] if (across[~known] > 0).any() else []
        notes += [_VERTICAL_NOTE] if (up[~known] > 0).any() else []
        notes += [_SLANT_NOTE] if ((across > 0) & (up > 0))[~known].any() else []
        notes.append(_ESTIMATE_NOTE)
    return AntennaIsolation(
        same_shape(np.where(known, measured, interpolated_by_angle(horizontal, limited, across, up))),
        same_shape(formula),
        np.asarray(inside | known)[()],
        np.asarray(~known)[()],
        tuple(notes),
    )


def required_separation(
    frequency_mhz: ArrayLike,
    isolation_db: ArrayLike,
    gain_a_dbi: ArrayLike = 0.0,
    gain_b_dbi: ArrayLike = 0.0,
) -> RequiredSeparation:
    """Spacing that gives an isolation, both ways, and whether each formula is inside its limits.

    Parameters
    ----------
    frequency_mhz : array_like
        Frequency, MHz.
    isolation_db : array_like
        Isolation wanted, dB.
    gain_a_dbi, gain_b_dbi : array_like
        Gain of each antenna toward the other in the horizontal plane, dBi.

    Returns
    -------
    RequiredSeparation
        Horizontal and vertical spacing in m, with their marks and notes.

    Raises
    ------
    RadioRangeError
        When the frequency is not above 0.

    Source
    ------
    As :func:`required_horizontal_separation_m` and :func:`required_vertical_separation_m`.

    Range
    -----
    As :func:`antenna_isolation`.

    Known disagreements
    -------------------
    As :func:`vertical_isolation_db`.

    Examples
    --------
    >>> need = required_separation(410.0, 80.0)
    >>> round(float(need.horizontal_m)), round(float(need.vertical_m), 1), bool(need.vertical_within_range)
    (581, 14.6, False)
    >>> required_separation(410.0, [60.0, 70.0]).vertical_within_range.tolist()
    [True, True]
    """
    frequency, isolation, gain_a, gain_b = np.broadcast_arrays(
        in_range("frequency_mhz", frequency_mhz, 0.0, above=True),
        in_range("isolation_db", isolation_db),
        in_range("gain_a_dbi", gain_a_dbi),
        in_range("gain_b_dbi", gain_b_dbi),
    )
    wavelength = wavelength_m(frequency)
    across = required_horizontal_separation_m(frequency, isolation, gain_a, gain_b)
    up = required_vertical_separation_m(frequency, isolation)
    with_gain = np.maximum(gain_a, gain_b) > DIPOLE_GAIN_DBI
    least = np.where(with_gain, np.maximum(GAIN_ANTENNA_LEAST_M, wavelength), wavelength)
    return RequiredSeparation(
        across,
        up,
        np.asarray(across >= least)[()],
        np.asarray((up >= wavelength) & (isolation <= VERTICAL_LIMIT_DB))[()],
        (_HORIZONTAL_NOTE, _VERTICAL_NOTE, _ESTIMATE_NOTE),
    )
