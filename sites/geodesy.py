"""Lengths, azimuths and points on the ellipsoid, for thousands of paths per call.

pyproj's ``Geod`` (Karney's geodesics) does the work; this module fixes what the
register means by it: latitude before longitude, degrees, metres, azimuths
clockwise from true north in 0…360, the azimuth at B pointing back to A, and NaN
where there is no azimuth or where an input is not known.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt
from pyproj import Geod

Array = npt.NDArray[np.float64]
ArrayLike = npt.ArrayLike

COINCIDENT_M = 1e-6
"""Two points closer than this are one point: no azimuth can be given."""


class GeodesyError(ValueError):
    """An argument lies outside its range; names the argument, its value and the range.

    Attributes
    ----------
    argument : the argument's name, unit included
    value : the first offending value
    """

    def __init__(self, argument: str, value: object, expected: str) -> None:
        self.argument, self.value = argument, value
        shown = f"{value:g}" if isinstance(value, float) else repr(value)
        super().__init__(f"{argument} is {shown}; {expected}.")


@lru_cache(maxsize=64)
def _geod(ellipsoid: str) -> Geod:
    try:
        return Geod(ellps=ellipsoid)
    except KeyError as error:
        raise GeodesyError(
            "ellipsoid",
            ellipsoid,
            'it must be an ellipsoid name known to PROJ, for example "WGS84" or "intl"',
        ) from error


def _checked(argument: str, value: ArrayLike, low: float, high: float) -> Array:
    array = np.asarray(value, dtype=np.float64)
    bad = (array < low) | (array > high)
    if bad.any():
        first = float(array[bad].flat[0] if array.ndim else array)
        raise GeodesyError(argument, first, f"it must lie between {low:g} and {high:g}")
    return array


def _latitude(argument: str, value: ArrayLike) -> Array:
    return _checked(argument, value, -90.0, 90.0)


def _longitude(argument: str, value: ArrayLike) -> Array:
    return _checked(argument, value, -360.0, 360.0)


def _flat(*arrays: Array) -> tuple[tuple[int, ...], list[Array]]:
    """Broadcast, and give each array as a 1-d copy that may be written to."""
    shape = np.broadcast_shapes(*(array.shape for array in arrays))
    return shape, [np.broadcast_to(array, shape).reshape(-1).copy() for array in arrays]


def _unknown(*arrays: Array) -> npt.NDArray[np.bool_]:
    unknown = np.zeros(arrays[0].shape, dtype=bool)
    for array in arrays:
        unknown |= ~np.isfinite(array)
    return unknown


def _compass(azimuth_deg: Array) -> Array:
    """Into 0 ≤ azimuth < 360; the remainder of a tiny negative angle would round to 360 itself."""
    turned = azimuth_deg % 360.0
    turned[turned == 360.0] = 0.0
    return turned


def inverse(
    latitude_a_deg: ArrayLike,
    longitude_a_deg: ArrayLike,
    latitude_b_deg: ArrayLike,
    longitude_b_deg: ArrayLike,
    *,
    ellipsoid: str = "WGS84",
) -> tuple[Array, Array, Array]:
    """Length of the geodesic from A to B, and the azimuth each end looks along.

    Parameters
    ----------
    latitude_a_deg, longitude_a_deg, latitude_b_deg, longitude_b_deg :
        scalars or arrays that broadcast, degrees
    ellipsoid : PROJ ellipsoid name

    Returns
    -------
    distance_m : metres
    azimuth_ab_deg : at A toward B, degrees clockwise from true north, 0 ≤ azimuth < 360
    azimuth_ba_deg : at B toward A, the same way; not the forward direction carried on
        Points that coincide (closer than 1 µm) have a distance and no azimuth: NaN.

    Raises
    ------
    GeodesyError
        Latitude beyond ±90, longitude beyond ±360, ellipsoid not known.

    Source
    ------
    C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87 (2013) 43–55, as in PROJ.

    Range
    -----
    Any two points, near-antipodal ones included; about 15 nm on the WGS 84 ellipsoid.

    Examples
    --------
    >>> distance_m, azimuth_ab_deg, azimuth_ba_deg = inverse(24.7136, 46.6753, 24.9, 47.0)
    >>> print(f"{distance_m:.3f} {azimuth_ab_deg:.6f} {azimuth_ba_deg:.6f}")
    38782.713 57.764904 237.901136
    >>> distance_m, azimuth_ab_deg, _ = inverse(51.5, -0.12, [51.5, 52.5], -0.12)
    >>> print(distance_m.round(1), azimuth_ab_deg)
    [     0.  111267.3] [nan  0.]
    """
    shape, (lat_a, lon_a, lat_b, lon_b) = _flat(
        _latitude("latitude_a_deg", latitude_a_deg),
        _longitude("longitude_a_deg", longitude_a_deg),
        _latitude("latitude_b_deg", latitude_b_deg),
        _longitude("longitude_b_deg", longitude_b_deg),
    )
    unknown = _unknown(lat_a, lon_a, lat_b, lon_b)
    for array in (lat_a, lon_a, lat_b, lon_b):
        array[unknown] = 0.0
    azimuth_ab, azimuth_ba, distance = (
        np.asarray(part, dtype=np.float64) for part in _geod(ellipsoid).inv(lon_a, lat_a, lon_b, lat_b)
    )
    azimuth_ab, azimuth_ba = _compass(azimuth_ab), _compass(azimuth_ba)
    distance[unknown] = np.nan
    no_azimuth = unknown | (distance < COINCIDENT_M)
    azimuth_ab[no_azimuth] = np.nan
    azimuth_ba[no_azimuth] = np.nan
    return distance.reshape(shape)[()], azimuth_ab.reshape(shape)[()], azimuth_ba.reshape(shape)[()]


def destination(
    latitude_deg: ArrayLike,
    longitude_deg: ArrayLike,
    azimuth_deg: ArrayLike,
    distance_m: ArrayLike,
    *,
    ellipsoid: str = "WGS84",
) -> tuple[Array, Array, Array]:
    """The point reached from a start along an azimuth, and the azimuth from there back to the start.

    Parameters
    ----------
    latitude_deg, longitude_deg : the start, degrees; scalars or arrays that broadcast
    azimuth_deg : at the start, degrees clockwise from true north, −360…360
    distance_m : along the geodesic, metres, not negative
    ellipsoid : PROJ ellipsoid name

    Returns
    -------
    latitude_deg, longitude_deg : the point reached, longitude −180…180
    azimuth_back_deg : at that point toward the start, 0 ≤ azimuth < 360; NaN when the distance is 0

    Raises
    ------
    GeodesyError
        An argument out of range, ellipsoid not known.

    Source
    ------
    C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87 (2013) 43–55, as in PROJ.

    Range
    -----
    Distances from 0 to 40 000 km.

    Examples
    --------
    >>> latitude_deg, longitude_deg, back_deg = destination(24.7136, 46.6753, 57.764904195, 38782.712705)
    >>> print(f"{latitude_deg:.7f} {longitude_deg:.7f} {back_deg:.6f}")
    24.9000000 47.0000000 237.901136
    >>> latitude_deg, longitude_deg, _ = destination(0.0, 179.9, 90.0, [10000.0, 20000.0])
    >>> print(longitude_deg.round(4))
    [ 179.9898 -179.9203]
    """
    shape, (lat, lon, azimuth, distance) = _flat(
        _latitude("latitude_deg", latitude_deg),
        _longitude("longitude_deg", longitude_deg),
        _checked("azimuth_deg", azimuth_deg, -360.0, 360.0),
        _checked("distance_m", distance_m, 0.0, 4.0e7),
    )
    unknown = _unknown(lat, lon, azimuth, distance)
    for array in (lat, lon, azimuth, distance):
        array[unknown] = 0.0
    lon_b, lat_b, back = (
        np.asarray(part, dtype=np.float64) for part in _geod(ellipsoid).fwd(lon, lat, azimuth, distance)
    )
    back = _compass(back)
    back[distance < COINCIDENT_M] = np.nan
    for array in (lat_b, lon_b, back):
        array[unknown] = np.nan
    return lat_b.reshape(shape)[()], lon_b.reshape(shape)[()], back.reshape(shape)[()]


def points_along(
    latitude_a_deg: ArrayLike,
    longitude_a_deg: ArrayLike,
    latitude_b_deg: ArrayLike,
    longitude_b_deg: ArrayLike,
    n_points: int,
    *,
    ellipsoid: str = "WGS84",
) -> tuple[Array, Array, Array]:
    """Equally spaced points on the geodesic from A to B, both ends included.

    Parameters
    ----------
    latitude_a_deg, longitude_a_deg, latitude_b_deg, longitude_b_deg :
        scalars or arrays that broadcast to shape S, degrees
    n_points : points per path, at least 2
    ellipsoid : PROJ ellipsoid name

    Returns
    -------
    latitude_deg, longitude_deg, distance_m : shape S + (n_points,); distance from A in metres.
        Coincident ends give the one point n_points times.

    Raises
    ------
    GeodesyError
        An argument out of range, fewer than two points, ellipsoid not known.

    Source
    ------
    C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87 (2013) 43–55, as in PROJ.

    Range
    -----
    Any two points; between exactly antipodal ones the geodesic is one of many.

    Examples
    --------
    >>> latitude_deg, longitude_deg, distance_m = points_along(50.0, 24.0, 50.0, 25.0, 3)
    >>> print(latitude_deg.round(5), distance_m.round(1))
    [50.      50.00108 50.     ] [    0.  35847.6 71695.2]
    >>> points_along([10.0, 20.0], 30.0, [11.0, 21.0], 30.0, 200)[0].shape
    (2, 200)
    """
    if n_points < 2:
        raise GeodesyError("n_points", n_points, "it must be at least 2, one point for each end")
    lat_a, lon_a = _latitude("latitude_a_deg", latitude_a_deg), _longitude("longitude_a_deg", longitude_a_deg)
    lat_b, lon_b = _latitude("latitude_b_deg", latitude_b_deg), _longitude("longitude_b_deg", longitude_b_deg)
    distance, azimuth, _ = inverse(lat_a, lon_a, lat_b, lon_b, ellipsoid=ellipsoid)
    azimuth = np.where((distance < COINCIDENT_M) & np.isnan(azimuth), 0.0, azimuth)
    along = np.asarray(distance)[..., None] * np.linspace(0.0, 1.0, n_points)
    lat, lon, _ = destination(
        lat_a[..., None], lon_a[..., None], np.asarray(azimuth)[..., None], along, ellipsoid=ellipsoid
    )
    return lat, lon, along


def ecef(
    latitude_deg: ArrayLike,
    longitude_deg: ArrayLike,
    height_m: ArrayLike = 0.0,
    *,
    ellipsoid: str = "WGS84",
) -> Array:
    """Earth-centred, Earth-fixed vectors of points given by latitude, longitude and ellipsoidal height.

    The straight line between two such vectors (the chord) is never longer than the
    geodesic, which makes chords a safe and fast bound in neighbour searches.

    Parameters
    ----------
    latitude_deg, longitude_deg : degrees; scalars or arrays that broadcast to shape S
    height_m : metres above the ellipsoid
    ellipsoid : PROJ ellipsoid name

    Returns
    -------
    vectors_m : shape S + (3,): X, Y, Z in metres

    Raises
    ------
    GeodesyError
        Latitude beyond ±90, longitude beyond ±360, ellipsoid not known.

    Source
    ------
    IOGP Publication 373-7-2 (EPSG Guidance Note 7-2), geographic/geocentric conversions, method 9602.

    Range
    -----
    Any point outside the Earth's core (height above −6 000 km).

    Examples
    --------
    >>> print(ecef(53.80939444, 2.12955, 73.0).round(2))
    [3771793.97  140253.34 5124304.35]
    >>> import numpy as np
    >>> a, b = ecef([50.0, 50.1], 24.0)
    >>> bool(np.linalg.norm(b - a) <= inverse(50.0, 24.0, 50.1, 24.0)[0])
    True
    """
    lat = np.radians(_latitude("latitude_deg", latitude_deg))
    lon = np.radians(_longitude("longitude_deg", longitude_deg))
    height = _checked("height_m", height_m, -6.0e6, np.inf)
    geod = _geod(ellipsoid)
    prime_vertical = geod.a / np.sqrt(1.0 - geod.es * np.sin(lat) ** 2)
    parts = np.broadcast_arrays(
        (prime_vertical + height) * np.cos(lat) * np.cos(lon),
        (prime_vertical + height) * np.cos(lat) * np.sin(lon),
        ((1.0 - geod.es) * prime_vertical + height) * np.sin(lat),
    )
    return np.stack(parts, axis=-1)
