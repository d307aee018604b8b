"""Where licensed channels are on a map."""

from __future__ import annotations

from licences.models import LicensedChannel
from sites.tables import Geometry, place, polygon


def place_of_channel(channel: LicensedChannel) -> Geometry | None:
    """The position as licensed, that of the site, or the licensed area."""
    if channel.latitude_deg is not None and channel.longitude_deg is not None:
        return place(channel.longitude_deg, channel.latitude_deg)
    if channel.site is not None:
        return place(channel.site.longitude_deg, channel.site.latitude_deg)
    return polygon(channel.area)
