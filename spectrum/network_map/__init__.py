"""The network as a map draws it: columns of places and lines, whole or gathered into cells. No Django."""

from .cells import gathered
from .columns import ENDED, NONE_OPEN, NOT_YET, ON_AIR, MapColumns, map_columns
from .drawn import MOST_LINES, Drawn, View, drawn
from .projection import latitude_deg, longitude_deg, map_x, map_y

__all__ = [
    "ENDED",
    "MOST_LINES",
    "NONE_OPEN",
    "NOT_YET",
    "ON_AIR",
    "Drawn",
    "MapColumns",
    "View",
    "drawn",
    "gathered",
    "latitude_deg",
    "longitude_deg",
    "map_columns",
    "map_x",
    "map_y",
]
