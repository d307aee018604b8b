"""The one crossing between the register's rows and the engine's records."""

from .fetching import fetched, links_of_stations
from .in_force import Shared, antenna_records, criteria_in_force, shared_in_force, terrain_in_force
from .networks import (
    all_licences,
    around_link,
    as_drafted,
    drafted_network,
    links_between,
    links_near,
    links_whole,
    one_link,
    unused_channels,
    whole_network,
    with_same_channels,
)

__all__ = [
    "Shared",
    "all_licences",
    "antenna_records",
    "around_link",
    "as_drafted",
    "criteria_in_force",
    "drafted_network",
    "fetched",
    "links_between",
    "links_near",
    "links_of_stations",
    "links_whole",
    "one_link",
    "shared_in_force",
    "terrain_in_force",
    "unused_channels",
    "whole_network",
    "with_same_channels",
]
