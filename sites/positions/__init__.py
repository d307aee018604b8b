"""Positions: what a person typed, read, checked, and brought to WGS 84."""

from sites.positions.angles import Angle, Axis, Notation, parse_angle
from sites.positions.errors import PositionError
from sites.positions.formatting import format_angle, format_dms
from sites.positions.grids import Area, area_of_use, to_wgs84, unproject
from sites.positions.parsing import Position, parse_position

__all__ = [
    "Angle",
    "Area",
    "Axis",
    "Notation",
    "Position",
    "PositionError",
    "area_of_use",
    "format_angle",
    "format_dms",
    "parse_angle",
    "parse_position",
    "to_wgs84",
    "unproject",
]
