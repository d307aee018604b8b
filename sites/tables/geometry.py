"""Geometries of what is exported: WGS 84 longitude and latitude, cut where they cross the antimeridian."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

DECIMALS = 7  # about a centimetre
Position = tuple[float, float]


@dataclass(frozen=True)
class Geometry:
    """A geometry as GeoJSON names it (RFC 7946 § 3.1), positions as longitude and latitude in degrees."""

    kind: str  # Point, LineString, MultiLineString, Polygon
    coordinates: Any

    def as_json(self) -> dict[str, Any]:
        return {"type": self.kind, "coordinates": self.coordinates}


def place(longitude_deg: float, latitude_deg: float) -> Geometry:
    """One place.

    >>> place(14.5, 47.0).as_json()
    {'type': 'Point', 'coordinates': [14.5, 47.0]}
    """
    return Geometry("Point", _position((longitude_deg, latitude_deg)))


def lines(pairs: Sequence[tuple[Position, Position]]) -> Geometry | None:
    """Straight lines in longitude and latitude, each from one position to another; None for no line.

    A line that crosses the antimeridian is cut there (RFC 7946 § 3.1.9), the shorter way round.

    >>> lines([((179.0, 0.0), (-179.0, 2.0))]).as_json()["coordinates"]
    [[[179.0, 0.0], [180.0, 1.0]], [[-180.0, 1.0], [-179.0, 2.0]]]
    """
    parts = [part for start, end in pairs for part in _cut(start, end)]
    if not parts:
        return None
    if len(parts) == 1:
        return Geometry("LineString", parts[0])
    return Geometry("MultiLineString", parts)


def polygon(area: Any) -> Geometry | None:
    """A polygon as the register keeps areas: a GeoJSON geometry; None for anything else."""
    if isinstance(area, dict) and area.get("type") in ("Polygon", "MultiPolygon"):
        return Geometry(area["type"], area["coordinates"])
    return None


def _cut(start: Position, end: Position) -> list[list[list[float]]]:
    (west, south), (east, north) = start, end
    if abs(east - west) <= 180:
        return [[_position(start), _position(end)]]
    side = 180.0 if west > 0 else -180.0
    beyond = east + 2 * side  # the end, counted on past the antimeridian
    share = (side - west) / (beyond - west) if beyond != west else 0.0
    crossing = south + share * (north - south)
    return [
        [_position(start), _position((side, crossing))],
        [_position((-side, crossing)), _position(end)],
    ]


def _position(position: Position) -> list[float]:
    return [round(float(position[0]), DECIMALS), round(float(position[1]), DECIMALS)]
