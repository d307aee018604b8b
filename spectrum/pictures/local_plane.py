"""A small part of the earth on paper: kilometres east and north of a centre, north up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sites.geodesy import destination, inverse


@dataclass(frozen=True)
class LocalPlane:
    """The azimuthal equidistant projection on WGS 84: distances and directions from the centre are true.

    Elsewhere directions turn a little (meridians converge); :meth:`turned_deg` says by how much.
    """

    latitude_deg: float
    longitude_deg: float

    @classmethod
    def around(cls, places: Sequence[tuple[float, float]]) -> LocalPlane:
        """The plane whose centre lies in the middle of some places, given as latitude and longitude, degrees."""
        latitude = (min(p[0] for p in places) + max(p[0] for p in places)) / 2
        # Longitudes are counted from the first, so that places on both sides of the 180th meridian stay together.
        first = places[0][1]
        east = [(p[1] - first + 180.0) % 360.0 - 180.0 for p in places]
        longitude = (first + (min(east) + max(east)) / 2 + 180.0) % 360.0 - 180.0
        return cls(latitude, longitude)

    def km(self, latitude_deg: float, longitude_deg: float) -> tuple[float, float]:
        """East and north of the centre, km.

        >>> [round(v, 2) for v in LocalPlane(0.0, 10.0).km(1.0, 10.0)]
        [0.0, 110.57]
        """
        length_m, azimuth, _ = inverse(self.latitude_deg, self.longitude_deg, latitude_deg, longitude_deg)
        angle = 0.0 if np.isnan(azimuth) else math.radians(float(azimuth))
        return float(length_m) / 1e3 * math.sin(angle), float(length_m) / 1e3 * math.cos(angle)

    def turned_deg(self, latitude_deg: float, longitude_deg: float) -> float:
        """By how much true north at a place points to the right of up on the paper, degrees."""
        latitude, longitude, _ = destination(latitude_deg, longitude_deg, 0.0, 1000.0)
        x, y = self.km(latitude_deg, longitude_deg)
        x1, y1 = self.km(float(latitude), float(longitude))
        return math.degrees(math.atan2(x1 - x, y1 - y))
