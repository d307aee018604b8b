"""Measured patterns: tables of angle and level, read by interpolation."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from spectrum.radio.antennas.pointing import off_axis_deg
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

WIDEST_GAP_DEG = 30.0
"""A table that leaves a wider gap around the circle does not cover it; the gap reads NaN."""


class PatternError(ValueError):
    """A table of angles and levels that does not describe a cut; the sentence says how to mend it."""


@dataclass(frozen=True)
class Cut:
    """One measured cut of a pattern: level in dB below the maximum over angle in degrees.

    A table whose angles all lie between 0 and 180 and that starts at 0 is one half of a symmetric
    cut. Any other table is taken around the circle: from 0 to 360, from −180 to 180, or any part of
    it. Between points the level is linear in dB, across 360° too. Angles that the table does not
    cover read NaN, "not known": beyond the end of a half table that stops before 180°, and in a gap
    of more than 30° of a whole one.

    Parameters
    ----------
    angle_deg : tuple of float
        Angles in degrees, ascending, over not more than 360°.
    level_db : tuple of float
        Levels relative to the maximum in dB, not above 0.

    Raises
    ------
    PatternError
        Fewer than two points, unequal lengths, a value that is not finite, angles that do not ascend
        or span more than 360°, or a level above 0 dB.

    Source
    ------
    Our own reading rules, no published source; linear interpolation in dB is common practice.

    Range
    -----
    Levels not above 0 dB.

    Examples
    --------
    >>> half = Cut(angle_deg=(0, 30, 90, 180), level_db=(0, -3, -15, -20))
    >>> half.level_at_db([-30, 60, 330]).round(3)
    array([-3., -9., -3.])
    >>> whole = Cut(angle_deg=tuple(range(0, 360, 10)), level_db=(0,) + (-20,) * 34 + (-2,))
    >>> float(whole.level_at_db(355))
    -1.0
    """

    angle_deg: tuple[float, ...]
    level_db: tuple[float, ...]

    def __post_init__(self) -> None:
        angles = tuple(float(value) for value in self.angle_deg)
        levels = tuple(float(value) for value in self.level_db)
        _check(angles, levels)
        object.__setattr__(self, "angle_deg", angles)
        object.__setattr__(self, "level_db", levels)

    @classmethod
    def from_points(cls, points: Iterable[tuple[float, float]]) -> Cut:
        """Make a cut from pairs (angle in degrees, level in dB).

        Parameters
        ----------
        points : iterable of pairs
            Angle in degrees and level in dB, ascending in angle.

        Returns
        -------
        Cut

        Raises
        ------
        PatternError
            As for :class:`Cut`.

        Source
        ------
        As for :class:`Cut`.

        Range
        -----
        As for :class:`Cut`.

        Examples
        --------
        >>> Cut.from_points([(0, 0), (90, -12), (180, -20)]).is_half
        True
        >>> Cut.from_points([(-180, -20), (0, 0), (180, -20)]).is_half
        False
        """
        pairs = list(points)
        return cls(tuple(angle for angle, _ in pairs), tuple(level for _, level in pairs))

    @property
    def is_half(self) -> bool:
        """True if the table is one half of a symmetric cut."""
        return self.angle_deg[0] == 0 and self.angle_deg[-1] <= 180

    def level_at_db(self, angle_deg: ArrayLike) -> Array:
        """Read the cut at one or more angles.

        Parameters
        ----------
        angle_deg : scalar or array
            Angle from the direction of the table's zero, degrees; any turn.

        Returns
        -------
        scalar or array
            Level in dB below the maximum; NaN where the angle is NaN or the table does not cover it.

        Source
        ------
        As for :class:`Cut`.

        Range
        -----
        Any angle.

        Examples
        --------
        >>> cut = Cut((0, 90), (0, -30))
        >>> float(cut.level_at_db(-45))
        -15.0
        >>> cut.level_at_db([90, 91])
        array([-30.,  nan])
        """
        angle = np.asarray(angle_deg, dtype=np.float64)
        known_angle, known_level = self._table
        if self.is_half:
            turned = np.abs(np.mod(angle + 180.0, 360.0) - 180.0)
        else:
            turned = known_angle[0] + np.mod(angle - known_angle[0], 360.0)
        level = np.interp(turned, known_angle, known_level, left=np.nan, right=np.nan)
        return same_shape(np.asarray(level))

    @cached_property
    def _table(self) -> tuple[Array, Array]:
        """Angles and levels to interpolate, closed around the circle; NaN in gaps that are too wide."""
        angle, level = np.array(self.angle_deg), np.array(self.level_db)
        if self.is_half:
            return angle, level
        if angle[-1] - angle[0] < 360.0:
            angle, level = np.append(angle, angle[0] + 360.0), np.append(level, level[0])
        inner_angle: list[float] = []
        inner_level: list[float] = []
        for left in np.flatnonzero(np.diff(angle) > WIDEST_GAP_DEG):
            inner_angle += [np.nextafter(angle[left], np.inf), np.nextafter(angle[left + 1], -np.inf)]
            inner_level += [np.nan, np.nan]
        order = np.argsort(np.append(angle, inner_angle))
        return np.append(angle, inner_angle)[order], np.append(level, inner_level)[order]


def measured_gain_dbi(
    azimuth_deg: ArrayLike,
    elevation_deg: ArrayLike,
    max_gain_dbi: ArrayLike,
    horizontal: Cut | None,
    vertical: Cut | None,
) -> Array:
    """Gain of a measured antenna in a direction of its own frame.

    With both cuts the levels are added, G = Gmax + H(azimuth) + V(elevation). With the vertical cut
    alone the antenna is omnidirectional; with the horizontal cut alone the pattern is taken to be
    the same around the axis and read at the angle off the axis.

    Parameters
    ----------
    azimuth_deg : scalar or array
        Angle from the direction of maximum gain in the antenna's horizontal plane, degrees, −180 to 180.
    elevation_deg : scalar or array
        Angle above that plane in degrees, −90 to 90.
    max_gain_dbi : scalar or array
        Maximum gain in dBi.
    horizontal, vertical : Cut or None
        Measured cuts through the maximum; at least one.

    Returns
    -------
    scalar or array
        Gain in dBi; NaN where an argument is NaN or a table does not cover the angle.

    Raises
    ------
    RadioRangeError
        If an angle is out of range.
    ValueError
        If neither cut is given.

    Source
    ------
    Sum of two cuts: common practice, no published source.

    Range
    -----
    The sum is good near the two cuts and tends to understate the gain far from both, behind the antenna
    and at large elevations.

    Examples
    --------
    >>> cut = Cut((0, 60, 180), (0, -12, -24))
    >>> measured_gain_dbi([0.0, 60.0, 180.0], 0.0, 10.0, cut, None).round(3)
    array([ 10.,  -2., -14.])
    >>> float(measured_gain_dbi(120, 30, 6, None, Cut((0, 90), (0, -30))))
    -4.0
    """
    azimuth = in_range("azimuth_deg", azimuth_deg, -180.0, 180.0)
    elevation = in_range("elevation_deg", elevation_deg, -90.0, 90.0)
    gain = np.asarray(max_gain_dbi, dtype=np.float64)
    if horizontal is not None and vertical is not None:
        level = horizontal.level_at_db(azimuth) + vertical.level_at_db(elevation)
    elif horizontal is not None:
        level = horizontal.level_at_db(off_axis_deg(0.0, 0.0, azimuth, elevation))
    elif vertical is not None:
        level = vertical.level_at_db(elevation) + 0.0 * azimuth
    else:
        raise ValueError("Neither a horizontal nor a vertical cut is given; give at least one of them.")
    return same_shape(np.asarray(gain + level))


def _check(angles: tuple[float, ...], levels: tuple[float, ...]) -> None:
    """Raise :class:`PatternError` unless the points describe a cut."""
    if len(angles) != len(levels):
        raise PatternError(
            f"The cut has {len(angles)} angles and {len(levels)} levels; give one level for each angle."
        )
    if len(angles) < 2:
        raise PatternError(f"The cut has {len(angles)} points; give at least two.")
    for number, (angle, level) in enumerate(zip(angles, levels, strict=True), start=1):
        if not np.isfinite(angle):
            raise PatternError(f"Point {number} of the cut has the angle {angle}; give degrees.")
        if not (np.isfinite(level) and level <= 0):
            raise PatternError(
                f"Point {number} of the cut has the level {level:g} dB; levels are relative to the "
                "maximum and are not above 0 dB."
            )
        if number > 1 and angle <= angles[number - 2]:
            raise PatternError(
                f"Point {number} of the cut is at {angle:g}°, not after {angles[number - 2]:g}°; "
                "give the points in ascending order of angle."
            )
    if angles[-1] - angles[0] > 360:
        raise PatternError(
            f"The cut runs from {angles[0]:g}° to {angles[-1]:g}°; it must not span more than 360°."
        )
