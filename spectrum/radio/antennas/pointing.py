"""Where an antenna points and where the other station lies, in three dimensions."""

from __future__ import annotations

from typing import Final

import numpy as np

from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

EFFECTIVE_EARTH_RADIUS_KM: Final = 8500.0
"""Radius for k = 4/3 as the ITU-R rounds it (4/3 · 6371 = 8495 km)."""


def elevation_deg(
    distance_km: ArrayLike,
    height_from_m: ArrayLike,
    height_to_m: ArrayLike,
    effective_radius_km: ArrayLike = EFFECTIVE_EARTH_RADIUS_KM,
) -> Array:
    """Elevation of one station seen from another, over an earth of effective radius.

    ε = arctan[((ae + h2) cos γ − (ae + h1)) / ((ae + h2) sin γ)] with γ = d/ae.

    Parameters
    ----------
    distance_km : scalar or array
        Distance along the earth's surface in km, at least 0.
    height_from_m, height_to_m : scalar or array
        Antenna heights above sea level in m, at the station that looks and at the one it looks at.
    effective_radius_km : scalar or array, optional
        Effective earth radius in km, above 0; 8500 km (k = 4/3) by default.

    Returns
    -------
    scalar or array
        Elevation above the local horizontal in degrees, −90 to 90; 0 if the two points coincide.

    Raises
    ------
    RadioRangeError
        If the distance is negative or the radius is not positive.

    Source
    ------
    Geometry of a straight line over a sphere of effective radius (ITU-R P.310 defines the radius).

    Range
    -----
    The effective radius describes the refraction near the ground.

    Examples
    --------
    >>> round(float(elevation_deg(30, 50, 50)), 4)
    -0.1011
    >>> elevation_deg([0.0, 1.0, 10.0], 0.0, 100.0).round(3)
    array([90.   ,  5.707,  0.539])
    """
    distance = in_range("distance_km", distance_km, 0.0) * 1e3
    radius = in_range("effective_radius_km", effective_radius_km, 0.0, above=True) * 1e3
    low = np.asarray(height_from_m, dtype=np.float64)
    high = np.asarray(height_to_m, dtype=np.float64)
    centre = distance / radius
    up = high - low - 2.0 * (radius + high) * np.sin(centre / 2.0) ** 2
    return same_shape(np.asarray(np.degrees(np.arctan2(up, (radius + high) * np.sin(centre)))))


def off_axis_deg(
    azimuth_a_deg: ArrayLike,
    elevation_a_deg: ArrayLike,
    azimuth_b_deg: ArrayLike,
    elevation_b_deg: ArrayLike,
) -> Array:
    """Angle between two directions, for example an antenna's axis and another station.

    cos ψ = sin ε1 sin ε2 + cos ε1 cos ε2 cos(α2 − α1).

    Parameters
    ----------
    azimuth_a_deg, azimuth_b_deg : scalar or array
        Azimuths from true north in degrees; any turn.
    elevation_a_deg, elevation_b_deg : scalar or array
        Elevations above the horizontal in degrees, −90 to 90.

    Returns
    -------
    scalar or array
        Angle in degrees, 0 to 180; exact for small angles too.

    Raises
    ------
    RadioRangeError
        If an elevation is out of range.

    Source
    ------
    Spherical trigonometry.

    Range
    -----
    Any azimuths.

    Examples
    --------
    >>> round(float(off_axis_deg(350, 0, 10, 0)), 9)
    20.0
    >>> off_axis_deg(0.0, 0.0, [0.0, 90.0, 180.0], [-3.0, 45.0, 0.0]).round(6)
    array([  3.,  90., 180.])
    """
    turn = np.radians(
        np.asarray(azimuth_b_deg, dtype=np.float64) - np.asarray(azimuth_a_deg, dtype=np.float64)
    )
    a = np.radians(in_range("elevation_a_deg", elevation_a_deg, -90.0, 90.0))
    b = np.radians(in_range("elevation_b_deg", elevation_b_deg, -90.0, 90.0))
    across = np.cos(b) * np.sin(turn)
    along = np.cos(a) * np.sin(b) - np.sin(a) * np.cos(b) * np.cos(turn)
    ahead = np.sin(a) * np.sin(b) + np.cos(a) * np.cos(b) * np.cos(turn)
    return same_shape(np.asarray(np.degrees(np.arctan2(np.hypot(across, along), ahead))))


def antenna_frame_deg(
    boresight_azimuth_deg: ArrayLike,
    boresight_elevation_deg: ArrayLike,
    azimuth_deg: ArrayLike,
    elevation_deg: ArrayLike,
) -> tuple[Array, Array]:
    """A direction as the antenna sees it, turned and tilted mechanically.

    With the turn τ from the axis, its tilt β and the elevation ε: ahead = cos β cos ε cos τ + sin β sin ε,
    aside = cos ε sin τ, above = −sin β cos ε cos τ + cos β sin ε.

    Parameters
    ----------
    boresight_azimuth_deg : scalar or array
        Azimuth of the axis in degrees.
    boresight_elevation_deg : scalar or array
        Elevation of the axis in degrees, −90 to 90; a downward tilt is negative.
    azimuth_deg : scalar or array
        Azimuth of the direction in degrees.
    elevation_deg : scalar or array
        Elevation of the direction in degrees, −90 to 90.

    Returns
    -------
    tuple of two scalars or arrays
        Azimuth from the axis (−180 to 180) and elevation above the antenna's own horizontal plane
        (−90 to 90), in degrees.

    Raises
    ------
    RadioRangeError
        If an elevation is out of range.

    Source
    ------
    Rotation about the vertical, then about the antenna's horizontal axis.

    Range
    -----
    Any azimuths.

    Examples
    --------
    >>> azimuth, elevation = antenna_frame_deg(90, -5, 90, -2)
    >>> round(float(azimuth), 6), round(float(elevation), 6)
    (0.0, 3.0)
    >>> antenna_frame_deg(0.0, -5.0, [180.0, 90.0], 0.0)[1].round(6)
    array([-5.,  0.])
    """
    turn = np.radians(
        np.asarray(azimuth_deg, dtype=np.float64) - np.asarray(boresight_azimuth_deg, dtype=np.float64)
    )
    tilt = np.radians(in_range("boresight_elevation_deg", boresight_elevation_deg, -90.0, 90.0))
    up = np.radians(in_range("elevation_deg", elevation_deg, -90.0, 90.0))
    ahead = np.cos(tilt) * np.cos(up) * np.cos(turn) + np.sin(tilt) * np.sin(up)
    aside = np.cos(up) * np.sin(turn)
    above = -np.sin(tilt) * np.cos(up) * np.cos(turn) + np.cos(tilt) * np.sin(up)
    return (
        same_shape(np.asarray(np.degrees(np.arctan2(aside, ahead)))),
        same_shape(np.asarray(np.degrees(np.arctan2(above, np.hypot(ahead, aside))))),
    )
