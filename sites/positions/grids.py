"""From any coordinate system with an EPSG code to WGS 84, saying by which transformation and how well."""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError
from pyproj.transformer import TransformerGroup

from sites.positions.errors import PositionError
from sites.sentences import sentence
from sites.words import gettext_noop as _

Area = tuple[float, float, float, float]
"""West, south, east, north in degrees; west above east when the antimeridian lies inside."""

WGS84_EPSG = 4326
AREA_MARGIN_DEG = 0.5
"""How far outside a system's area of use a position may lie before it is refused."""


@dataclass(frozen=True)
class Wgs84Point:
    """A point on WGS 84 with the way it came there; accuracy None when PROJ states none."""

    latitude_deg: float
    longitude_deg: float
    transformation: str
    accuracy_m: float | None
    notices: tuple[str, ...]


@lru_cache(maxsize=256)
def coordinate_system(epsg: int) -> CRS:
    """The coordinate system of an EPSG code; it must be projected, or geographic in degrees.

    Raises
    ------
    PositionError
        The code is not known, or is not a two-dimensional system for positions.

    Examples
    --------
    >>> coordinate_system(32638).name
    'WGS 84 / UTM zone 38N'
    >>> coordinate_system(4269).is_geographic
    True
    """
    try:
        system = CRS.from_epsg(epsg)
    except CRSError as error:
        raise _epsg_error(
            sentence(_("EPSG:{epsg} is not in the EPSG register that PROJ carries."), epsg=epsg), epsg
        ) from error
    in_degrees = system.is_geographic and all(axis.unit_name == "degree" for axis in system.axis_info)
    if len(system.axis_info) != 2 or not (system.is_projected or in_degrees):
        raise _epsg_error(
            sentence(
                _("EPSG:{epsg} ({system}) is a {type_name}."),
                epsg=epsg,
                system=system.name,
                type_name=system.type_name,
            ),
            epsg,
        )
    return system


def area_of_use(epsg: int) -> Area | None:
    """Area of use of a coordinate system as EPSG gives it, or None where it gives none.

    Parameters
    ----------
    epsg : code of the coordinate system

    Returns
    -------
    tuple of float, or None
        West, south, east, north in degrees.

    Raises
    ------
    PositionError
        The EPSG code cannot be used.

    Source
    ------
    The EPSG register, as PROJ carries it (ISO 19111).

    Range
    -----
    Two-dimensional coordinate systems: projected, or geographic in degrees.

    Examples
    --------
    >>> area_of_use(32638)
    (42.0, 0.0, 48.0, 84.0)
    >>> area_of_use(4326)
    (-180.0, -90.0, 180.0, 90.0)
    """
    area = coordinate_system(epsg).area_of_use
    return area.bounds if area is not None else None


def inside(area: Area, latitude_deg: float, longitude_deg: float, margin_deg: float = 0.0) -> bool:
    """Whether a point lies in an area, its edges and a margin included.

    Examples
    --------
    >>> inside((23.0, 49.0, 26.0, 51.0), 50.1, 24.5)
    True
    >>> inside((170.0, -48.0, -175.0, -34.0), -40.0, -178.0)
    True
    """
    west, south, east, north = area
    if not south - margin_deg <= latitude_deg <= north + margin_deg:
        return False
    width = (east - west) % 360.0 or (360.0 if east != west else 0.0)
    return (longitude_deg - (west - margin_deg)) % 360.0 <= width + 2.0 * margin_deg


@lru_cache(maxsize=64)
def _unprojection(epsg: int) -> Transformer:
    system = coordinate_system(epsg)
    return Transformer.from_crs(system, system.geodetic_crs, always_xy=True)


@lru_cache(maxsize=64)
def _transformations(epsg: int) -> tuple[list[Transformer], list[Any]]:
    """Transformations to WGS 84 that can be used here, and those for which a grid file is missing."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # said on the position itself, see _fallback
        group = TransformerGroup(coordinate_system(epsg), WGS84_EPSG, always_xy=True)
    return list(group.transformers), list(group.unavailable_operations)


def unproject(x: float, y: float, epsg: int) -> tuple[float, float]:
    """Latitude and longitude on the grid's own datum: the projection undone, nothing else.

    Parameters
    ----------
    x, y : easting and northing in the grid's unit
    epsg : code of the coordinate system

    Returns
    -------
    tuple of float
        Latitude and longitude in degrees on the grid's own datum.

    Raises
    ------
    PositionError
        The EPSG code cannot be used.

    Source
    ------
    IOGP Publication 373-7-2 (Guidance Note 7-2), the projection's own method, by PROJ.

    Range
    -----
    The projection's area of use; outside it PROJ's result is not finite or not accurate.

    Examples
    --------
    >>> latitude_deg, longitude_deg = unproject(577274.99, 69740.50, 27700)
    >>> print(f"{latitude_deg:.6f} {longitude_deg:.6f}")
    50.500000 0.500000
    >>> latitude_deg, longitude_deg = unproject(500000.0, 0.0, 32631)
    >>> print(f"{latitude_deg:.6f} {longitude_deg:.6f}")
    0.000000 3.000000
    """
    longitude, latitude = _unprojection(epsg).transform(x, y)
    return float(latitude), float(longitude)


def to_wgs84(x: float, y: float, epsg: int) -> Wgs84Point | None:
    """Transform one point, by the most accurate transformation at hand whose area holds it.

    Parameters
    ----------
    x, y : easting and northing in the grid's unit, or longitude and latitude in degrees
    epsg : code of the coordinate system

    Returns
    -------
    Wgs84Point, or None where the projection has no such point
        ``notices`` names the better transformation that could not be used because its
        datum grid is not installed.

    Raises
    ------
    PositionError
        The EPSG code cannot be used.

    Source
    ------
    IOGP Publication 373-7-2 (Guidance Note 7-2) and the EPSG register, by PROJ.

    Range
    -----
    Points inside the area of a transformation to WGS 84.

    Known disagreements
    -------------------
    Without the datum grid file that the best transformation asks for, the next best is taken; its accuracy
    is stated on the result and a notice names the missing file.

    Examples
    --------
    >>> point = to_wgs84(500000.0, 5316300.2245, 32632)
    >>> print(f"{point.latitude_deg:.7f} {point.longitude_deg:.7f}")
    48.0000000 9.0000000
    >>> to_wgs84(577274.99, 69740.50, 27700).accuracy_m
    2.0
    """
    if epsg == WGS84_EPSG:
        return Wgs84Point(y, x, "none (WGS 84)", 0.0, ())
    latitude, longitude = unproject(x, y, epsg)
    if not (math.isfinite(latitude) and math.isfinite(longitude)):
        return None
    usable, unavailable = _transformations(epsg)
    candidates = [operation for operation in usable if _holds(operation, latitude, longitude)]
    if not candidates:
        return None
    best = min(candidates, key=_rank)
    longitude_wgs84, latitude_wgs84 = best.transform(x, y)
    if not (math.isfinite(latitude_wgs84) and math.isfinite(longitude_wgs84)):
        return None
    missing = [operation for operation in unavailable if _holds(operation, latitude, longitude)]
    return Wgs84Point(
        float(latitude_wgs84),
        float(longitude_wgs84),
        _name(best),
        best.accuracy if best.accuracy >= 0.0 else None,
        _fallback(best, missing),
    )


@lru_cache(maxsize=64)
def example_coordinates(epsg: int) -> str:
    """Easting and northing of a point near the middle of a grid's area of use.

    Examples
    --------
    >>> example_coordinates(32638)
    '500000 4649776'
    >>> example_coordinates(2056)
    '2660014 1185172'
    """
    west, south, east, north = area_of_use(epsg) or (-180.0, -90.0, 180.0, 90.0)
    middle = west + ((east - west) % 360.0) / 2.0
    to_grid = Transformer.from_crs(WGS84_EPSG, coordinate_system(epsg), always_xy=True)
    x, y = to_grid.transform(middle, (south + north) / 2.0)
    return f"{x:.0f} {y:.0f}"


def _holds(operation: Any, latitude: float, longitude: float) -> bool:
    area = operation.area_of_use
    return area is None or inside(area.bounds, latitude, longitude)


def _name(operation: Transformer) -> str:
    """PROJ's name of the transformation, without the axis shuffling around it."""
    steps = [step for step in operation.description.split(" + ") if not step.startswith("axis order change")]
    return " + ".join(steps) or operation.description


def _rank(operation: Any) -> float:
    """Stated accuracy in metres; the unstated comes last (PROJ gives −1)."""
    return float(operation.accuracy) if operation.accuracy >= 0.0 else math.inf


def _fallback(used: Transformer, missing: list[Any]) -> tuple[str, ...]:
    better = [operation for operation in missing if _rank(operation) < _rank(used)]
    if not better and "Ballpark" in used.description:
        return (
            sentence(
                _(
                    "Fallback without a datum shift: “{used}” was used, because PROJ knows no "
                    "transformation here; the position can be several hundred metres off."
                ),
                used=_name(used),
            ),
        )
    if not better:
        return ()
    best = min(better, key=_rank)
    files = ", ".join(grid.short_name for grid in best.grids if not grid.available)
    stated = f"{used.accuracy:g} m" if used.accuracy >= 0.0 else sentence(_("accuracy not stated"))
    return (
        sentence(
            _(
                "Fallback without a datum grid: “{used}” ({stated}) was used. "
                "“{best}” ({accuracy} m) needs the grid file {files}, which is not installed."
            ),
            used=_name(used),
            stated=stated,
            best=best.name,
            accuracy=f"{best.accuracy:g}",
            files=files,
        ),
    )


def _epsg_error(problem: str, epsg: int) -> PositionError:
    return PositionError(
        problem,
        field="epsg",
        typed=epsg,
        expected=sentence(_("the code of a projected grid, or of a geographic system in degrees")),
        example="32635 (WGS 84 / UTM zone 35N)",
    )
