"""How far inside a licensed area a station stands, on the WGS 84 ellipsoid."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import shapely
from pyproj import Geod
from shapely.errors import ShapelyError
from shapely.geometry import MultiPolygon, Polygon, shape

from sites.refusals import RefusalError
from sites.sentences import sentence
from sites.words import gettext_noop as _

_GEOD: Final = Geod(ellps="WGS84")
#: Long edges are cut into pieces of this many degrees to find the nearest piece.
_PIECE_DEG: Final = 0.05
#: Points set on the nearest piece in each round of the search along it.
_POINTS: Final = 201


class AreaError(RefusalError):
    """A licensed area cannot be read; the message says what was expected."""


def geodesic_distance_m(
    latitude_deg: float, longitude_deg: float, other_latitude_deg: float, other_longitude_deg: float
) -> float:
    """Length of the geodesic between two points on the WGS 84 ellipsoid, in metres.

    Parameters
    ----------
    latitude_deg, longitude_deg, other_latitude_deg, other_longitude_deg : float
        The two points, degrees.

    Returns
    -------
    float
        Metres; 0 for one and the same point.

    Raises
    ------
    TypeError
        When a coordinate is no number.

    Source
    ------
    C. F. F. Karney, J. Geodesy 87 (2013), by pyproj.

    Range
    -----
    Any two points.

    Examples
    --------
    >>> geodesic_distance_m(48.0, 11.0, 48.0, 11.0)
    0.0
    >>> round(geodesic_distance_m(0.0, 0.0, 1 / 3600, 0.0), 3)  # one second of latitude at the equator
    30.715
    """
    return float(_GEOD.inv(longitude_deg, latitude_deg, other_longitude_deg, other_latitude_deg)[2])


def distance_inside_m(area: Mapping[str, Any], latitude_deg: float, longitude_deg: float) -> float:
    """Distance from a point to the boundary of an area: positive inside, negative outside.

    Edges are straight in longitude and latitude, as RFC 7946 § 3.1.1 has them; a ring that steps over
    the 180th meridian is followed across it. The distance is the geodesic to the nearest boundary point.

    Parameters
    ----------
    area : mapping
        GeoJSON Polygon or MultiPolygon, or a Feature with such a geometry; WGS 84 degrees.
    latitude_deg, longitude_deg : float
        The point.

    Returns
    -------
    float
        Metres, inside positive.

    Raises
    ------
    AreaError
        When the GeoJSON is not a valid, non-empty Polygon or MultiPolygon.

    Source
    ------
    RFC 7946; geodesics after C. F. F. Karney, J. Geodesy 87 (2013), by pyproj.

    Range
    -----
    Rings that enclose a pole are not supported by GeoJSON's flat reading.

    Examples
    --------
    >>> square = {"type": "Polygon", "coordinates": [[[8, 50], [9, 50], [9, 51], [8, 51], [8, 50]]]}
    >>> round(distance_inside_m(square, 50.01, 8.5))
    1112
    >>> distance_inside_m(square, 49.0, 8.5) < 0
    True
    """
    nearest_m = np.inf
    inside = False
    for flat, rings in _flat(area):
        inside = inside or _holds(flat, latitude_deg, longitude_deg)
        for ring in rings:
            nearest_m = min(nearest_m, _distance_to_ring_m(ring, latitude_deg, longitude_deg))
    return nearest_m if inside else -nearest_m


def covers(area: Mapping[str, Any], latitude_deg: float, longitude_deg: float) -> bool:
    """Whether a point lies in an area or on its boundary; agrees with the sign of :func:`distance_inside_m`.

    Parameters
    ----------
    area : mapping
        GeoJSON Polygon or MultiPolygon, or a Feature with such a geometry; WGS 84 degrees.
    latitude_deg, longitude_deg : float
        The point.

    Returns
    -------
    bool
        True inside and on the boundary.

    Raises
    ------
    AreaError
        When the area is not a valid polygon.

    Source
    ------
    IETF RFC 7946, § 3.1.1, 3.1.6 and 3.1.7.

    Range
    -----
    As for :func:`distance_inside_m`.

    Examples
    --------
    >>> square = {"type": "Polygon", "coordinates": [[[8, 50], [9, 50], [9, 51], [8, 51], [8, 50]]]}
    >>> covers(square, 50.5, 8.5), covers(square, 49.0, 8.5)
    (True, False)
    """
    return any(_holds(flat, latitude_deg, longitude_deg) for flat, _ in _flat(area))


def _flat(area: Mapping[str, Any]) -> Iterator[tuple[Polygon, list[npt.NDArray[np.float64]]]]:
    """Each polygon of an area on the plane of longitude and latitude, unrolled, with its rings."""
    for polygon in _polygons(area):
        rings = [_unrolled(np.asarray(ring.coords)[:, :2]) for ring in (polygon.exterior, *polygon.interiors)]
        holes = [hole + _turns_apart(rings[0], hole) for hole in rings[1:]]
        flat = Polygon(rings[0], holes)
        if not flat.is_valid:
            raise AreaError(
                sentence(
                    _("the licensed area is not a valid polygon: {is_valid_reason}."),
                    is_valid_reason=shapely.is_valid_reason(flat),
                )
            )
        yield flat, rings


def _holds(flat: Polygon, latitude_deg: float, longitude_deg: float) -> bool:
    turns = longitude_deg + np.array([-360.0, 0.0, 360.0])
    return bool(shapely.covers(flat, shapely.points(turns, latitude_deg)).any())


def check_area(area: Any) -> None:
    """Refuse an area that cannot be used.

    Parameters
    ----------
    area : mapping
        GeoJSON Polygon or MultiPolygon, longitude and latitude in degrees on WGS 84.

    Raises
    ------
    AreaError
        When it is not a valid GeoJSON Polygon or MultiPolygon with longitude and latitude in degrees;
        the message says what was expected.

    Source
    ------
    IETF RFC 7946, § 3.1.6 and 3.1.7.

    Range
    -----
    Longitudes within ±180°, latitudes within ±90°.

    Examples
    --------
    >>> check_area({"type": "Polygon", "coordinates": [[[8, 50], [9, 50], [9, 51], [8, 50]]]})
    >>> check_area({"type": "Point", "coordinates": [8, 50]})
    Traceback (most recent call last):
    ...
    licences.areas.AreaError: the licensed area is a Point; a GeoJSON Polygon or MultiPolygon was expected.
    """
    if not isinstance(area, Mapping):
        raise AreaError(
            sentence(
                _("the licensed area is {name}, expected a GeoJSON Polygon object."), name=type(area).__name__
            )
        )
    for polygon in _polygons(area):
        if not polygon.is_valid:
            raise AreaError(
                sentence(
                    _("the licensed area is not a valid polygon: {is_valid_reason}."),
                    is_valid_reason=shapely.is_valid_reason(polygon),
                )
            )
        west, south, east, north = polygon.bounds
        if west < -180 or east > 180 or south < -90 or north > 90:
            raise AreaError(
                sentence(
                    _(
                        "the licensed area reaches from {west}, {south} to {east}, {north}; longitude must lie "
                        "within ±180 and latitude within ±90 degrees, longitude first."
                    ),
                    west=f"{west:g}",
                    south=f"{south:g}",
                    east=f"{east:g}",
                    north=f"{north:g}",
                )
            )


def _polygons(area: Mapping[str, Any]) -> list[Polygon]:
    geometry = area.get("geometry") if area.get("type") == "Feature" else area
    try:
        outline = shape(geometry)
    except (ShapelyError, AttributeError, KeyError, TypeError, ValueError, IndexError) as error:
        raise AreaError(
            sentence(_("the licensed area is not GeoJSON that can be read ({error})."), error=error)
        ) from error
    if not isinstance(outline, Polygon | MultiPolygon) or outline.is_empty:
        raise AreaError(
            sentence(
                _("the licensed area is a {geom_type}; a GeoJSON Polygon or MultiPolygon was expected."),
                geom_type=outline.geom_type,
            )
        )
    return [outline] if isinstance(outline, Polygon) else list(outline.geoms)


def _unrolled(ring: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """The ring with longitudes that run on over ±180° instead of jumping back."""
    longitude = np.unwrap(ring[:, 0], period=360.0)
    return np.column_stack([longitude, ring[:, 1]])


def _turns_apart(ring: npt.NDArray[np.float64], hole: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """The whole turns of longitude (0 in latitude) that bring a hole to the turn of its outer ring."""
    turns = np.round((ring[:, 0].mean() - hole[:, 0].mean()) / 360.0)
    return np.array([360.0 * turns, 0.0])


def _distance_to_ring_m(ring: npt.NDArray[np.float64], latitude_deg: float, longitude_deg: float) -> float:
    """Nearest piece in the azimuthal equidistant plane about the point, then a search along that piece."""
    edges = shapely.segmentize(shapely.LineString(ring), _PIECE_DEG)
    knots = shapely.get_coordinates(edges)
    azimuth_deg, _, distance_m = _GEOD.inv(
        np.full(len(knots), longitude_deg), np.full(len(knots), latitude_deg), knots[:, 0], knots[:, 1]
    )
    azimuth = np.radians(azimuth_deg)
    plane = np.column_stack([distance_m * np.sin(azimuth), distance_m * np.cos(azimuth)])
    pieces = shapely.linestrings(np.stack([plane[:-1], plane[1:]], axis=1))
    nearest = int(np.argmin(shapely.distance(pieces, shapely.Point(0.0, 0.0))))
    start, end = knots[nearest], knots[nearest + 1]
    best_m = float(distance_m.min())
    for _ in range(3):
        along = np.linspace(start, end, _POINTS)
        here_m = _GEOD.inv(
            np.full(_POINTS, longitude_deg), np.full(_POINTS, latitude_deg), along[:, 0], along[:, 1]
        )[2]
        closest = int(np.argmin(here_m))
        best_m = min(best_m, float(here_m[closest]))
        start, end = along[max(closest - 1, 0)], along[min(closest + 1, _POINTS - 1)]
    return best_m
