"""The data sheet of an application: figures of the register in the notation of authorities, as page, PDF and table."""

from .figures import StationFigures, figures_of_link
from .notation import general_values, station_values
from .sheet import DataSheet, LinkPart, StationPart, data_sheet

__all__ = [
    "DataSheet",
    "LinkPart",
    "StationFigures",
    "StationPart",
    "data_sheet",
    "figures_of_link",
    "general_values",
    "station_values",
]
