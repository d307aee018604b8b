"""Who holds and who uses which frequencies in a band, and what is free. Pure: rows in, holdings out."""

from .holdings import (
    Band,
    HeldChannel,
    Holding,
    Raster,
    State,
    Use,
    UsingStation,
    free_channels,
    holdings,
)

__all__ = [
    "Band",
    "HeldChannel",
    "Holding",
    "Raster",
    "State",
    "Use",
    "UsingStation",
    "free_channels",
    "holdings",
]
