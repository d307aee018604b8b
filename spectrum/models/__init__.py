"""The tables of channel plans, radios, links, stations, checks and findings."""

from .checks import Check, Finding
from .criteria import ProtectionCriterion
from .links import Link, Station
from .plans import ChannelPlan
from .radios import RadioMask, RadioMode, RadioType

__all__ = [
    "ChannelPlan",
    "Check",
    "Finding",
    "Link",
    "ProtectionCriterion",
    "RadioMask",
    "RadioMode",
    "RadioType",
    "Station",
]
