"""Fresnel zones and the clearance of a path over its terrain (ITU-R P.526, P.530)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from spectrum.radio.propagation.free_space import SPEED_OF_LIGHT_M_PER_S
from spectrum.radio.propagation.profiles import PathProfiles
from spectrum.radio.propagation.smooth_earth import STANDARD_EFFECTIVE_RADIUS_KM
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape


def fresnel_radius_m(
    frequency_mhz: ArrayLike, distance_1_km: ArrayLike, distance_2_km: ArrayLike, zone: ArrayLike = 1.0
) -> Array:
    """Radius of the n-th Fresnel ellipsoid at a point of the path.

    Parameters
    ----------
    frequency_mhz : scalar or array, MHz, above zero
    distance_1_km, distance_2_km : scalar or array, km, not negative, from each end to the point
    zone : scalar or array, n, above zero; 1 is the first zone

    Returns
    -------
    Radius in m, the broadcast shape of the arguments; 0 at either end.

    Raises
    ------
    RadioRangeError
        An argument outside the range given above.

    Source
    ------
    ITU-R P.526, Fresnel ellipsoids: Rn = √(n λ d1 d2/(d1 + d2)), with λ = c/f.

    Range
    -----
    Points well away from the antennas; radius small against both distances.

    Known disagreements
    -------------------
    The practical forms round differently: 550 √(n d1 d2/((d1 + d2) f)) of P.526 lies 0.45 % above,
    17.3 √(d1 d2/(f d)) of P.530 (GHz) 0.08 % below the exact value that is given here.

    Examples
    --------
    >>> round(float(fresnel_radius_m(410.0, 10.0, 10.0)), 3)
    60.465
    >>> fresnel_radius_m(900.0, [0.0, 5.0, 15.0], 15.0, zone=2).round(2)
    array([ 0.  , 49.98, 70.69])
    """
    f = in_range("frequency_mhz", frequency_mhz, 0.0, above=True)
    d1 = in_range("distance_1_km", distance_1_km, 0.0)
    d2 = in_range("distance_2_km", distance_2_km, 0.0)
    n = in_range("zone", zone, 0.0, above=True)
    total = d1 + d2
    share = np.divide(d1 * d2, total, out=np.zeros(np.shape(total)), where=total != 0.0)
    return same_shape(np.sqrt(n * (SPEED_OF_LIGHT_M_PER_S / (f * 1e6)) * share * 1e3))


def earth_bulge_m(
    distance_1_km: ArrayLike,
    distance_2_km: ArrayLike,
    effective_radius_km: ArrayLike = STANDARD_EFFECTIVE_RADIUS_KM,
) -> Array:
    """Height of the curved earth over the chord between the ends of a path.

    Parameters
    ----------
    distance_1_km, distance_2_km : scalar or array, km, not negative, from each end to the point
    effective_radius_km : scalar or array, km, above zero; 8500 is k = 4/3

    Returns
    -------
    Bulge in m, the broadcast shape of the arguments.

    Raises
    ------
    RadioRangeError
        An argument outside the range given above.

    Source
    ------
    ITU-R P.452-18 §4.2.1: the term 500 Ce d1 d2 (m, km), with Ce = 1/a.

    Range
    -----
    Distances small against the radius (parabolic earth).

    Examples
    --------
    >>> round(float(earth_bulge_m(20.0, 20.0)), 2)
    23.53
    >>> earth_bulge_m([10.0, 25.0], 25.0, effective_radius_km=6371.0).round(2)
    array([19.62, 49.05])
    """
    d1 = in_range("distance_1_km", distance_1_km, 0.0)
    d2 = in_range("distance_2_km", distance_2_km, 0.0)
    radius = in_range("effective_radius_km", effective_radius_km, 0.0, above=True)
    return same_shape(500.0 * d1 * d2 / radius)


@dataclass(frozen=True)
class FresnelClearance:
    """Clearance of paths over their terrain.

    Attributes
    ----------
    ray_amsl_m : (paths, points), m, the straight line between the antennas
    obstacle_amsl_m : (paths, points), m, terrain with clutter and the earth's bulge
    radius_m : (paths, points), m, first Fresnel zone
    clearance_m : (paths, points), m, ray less obstacle; negative where obstructed
    least_ratio : (paths,), least clearance in units of the first Fresnel radius, ends left out
    least_ratio_at_km : (paths,), km from the transmitter, where that is
    """

    ray_amsl_m: Array
    obstacle_amsl_m: Array
    radius_m: Array
    clearance_m: Array
    least_ratio: Array
    least_ratio_at_km: Array


def fresnel_clearance(
    paths: PathProfiles,
    frequency_mhz: ArrayLike,
    height_tx_agl_m: ArrayLike,
    height_rx_agl_m: ArrayLike,
    effective_radius_km: ArrayLike = STANDARD_EFFECTIVE_RADIUS_KM,
) -> FresnelClearance:
    """Height of the ray over terrain, ground cover and the earth's bulge, against the first Fresnel zone.

    Clearance = ray − (terrain + ground cover + d1 d2/(2 ae)); the ratio is clearance / R1.

    Parameters
    ----------
    paths : PathProfiles, (paths, points); all clutter is counted, also near the ends
    frequency_mhz : scalar or (paths,), MHz, above zero
    height_tx_agl_m, height_rx_agl_m : scalar or (paths,), m above ground, not negative
    effective_radius_km : scalar or (paths,), km, above zero

    Returns
    -------
    FresnelClearance; NaN in the padding of short rows, and in both least values of a path whose
    terrain is not known everywhere.

    Raises
    ------
    RadioRangeError
        An argument outside the range given above.

    Source
    ------
    ITU-R P.526, Fresnel ellipsoids; P.530 §2.2.2 uses the ratio for its rules on antenna height.

    Range
    -----
    Profiles of three points or more. Points at the ends, where the radius is 0, do not count.

    Examples
    --------
    >>> path = PathProfiles([[0.0, 10.0, 20.0]], [[0.0, 20.0, 0.0]])
    >>> result = fresnel_clearance(path, 410.0, 60.0, 60.0)
    >>> result.clearance_m.round(2)
    array([[60.  , 34.12, 60.  ]])
    >>> fresnel_clearance(path, 900.0, 30.0, [50.0]).least_ratio.round(3)
    array([0.346])
    """
    n = len(paths)
    f = np.broadcast_to(in_range("frequency_mhz", frequency_mhz, 0.0, above=True), n)[:, None]
    tx = np.broadcast_to(in_range("height_tx_agl_m", height_tx_agl_m, 0.0), n)
    rx = np.broadcast_to(in_range("height_rx_agl_m", height_rx_agl_m, 0.0), n)
    radius_km = np.broadcast_to(in_range("effective_radius_km", effective_radius_km, 0.0, above=True), n)
    d, length = paths.distance_km, paths.length_km[:, None]
    rest = np.maximum(length - d, 0.0)
    rows, last = np.arange(n), paths.points - 1
    start = (paths.terrain_m[:, 0] + tx)[:, None]
    end = (paths.terrain_m[rows, last] + rx)[:, None]
    ray = start + (end - start) * d / length
    cover = 0.0 if paths.clutter_m is None else paths.clutter_m
    obstacle = paths.terrain_m + cover + earth_bulge_m(d, rest, radius_km[:, None])
    zone = fresnel_radius_m(f, d, rest)
    clearance = ray - obstacle
    inner = (np.arange(d.shape[1]) > 0) & (np.arange(d.shape[1]) < last[:, None])
    ratio = np.divide(clearance, zone, out=np.full(d.shape, np.inf), where=inner & (zone > 0.0))
    worst = np.argmin(ratio, axis=1)
    least = ratio[rows, worst]
    at_km = np.where(np.isnan(least), np.nan, d[rows, worst])
    return FresnelClearance(ray, obstacle, zone, clearance, least, at_km)
