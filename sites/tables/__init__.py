"""Tables in and out as files: CSV, XLSX, GeoJSON and KML. Rows and names only; no Django, no clock."""

from .cells import Cell, defused, restored
from .geometry import Geometry, lines, place, polygon

__all__ = ["Cell", "Geometry", "defused", "lines", "place", "polygon", "restored"]
