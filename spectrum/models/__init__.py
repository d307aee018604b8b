"""The tables of channel plans, radios, links, stations, checks, findings, variants and imported extracts."""

from .checks import Check, Finding
from .criteria import ProtectionCriterion
from .extracts import ExtractMapping, ExtractRun
from .links import Link, Station
from .network_runs import NetworkRun, Shard
from .plans import ChannelPlan
from .radios import RadioMask, RadioMode, RadioType
from .variants import PlannedChange, Variant, VariantCheck, VariantFinding

__all__ = [
    "ChannelPlan",
    "Check",
    "ExtractMapping",
    "ExtractRun",
    "Finding",
    "Link",
    "NetworkRun",
    "PlannedChange",
    "ProtectionCriterion",
    "RadioMask",
    "RadioMode",
    "RadioType",
    "Shard",
    "Station",
    "Variant",
    "VariantCheck",
    "VariantFinding",
]
