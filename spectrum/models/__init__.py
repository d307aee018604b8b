"""The tables of plans, radios, links, stations, applications, what was found, checks, variants and extracts."""

from .applications import ApplicationLink, FiledStation
from .checks import Check, Finding
from .commissioning import CommissioningRecord
from .comparison import Difference, RegulatorRecord
from .criteria import ProtectionCriterion
from .extracts import ExtractMapping, ExtractRun
from .interchange import ImportFile
from .interference import InterferenceEntry
from .links import Link, Station
from .network_runs import NetworkRun, Shard
from .plans import ChannelPlan
from .radios import RadioMask, RadioMode, RadioType
from .variants import PlannedChange, Variant, VariantCheck, VariantFinding

__all__ = [
    "ApplicationLink",
    "ChannelPlan",
    "Check",
    "CommissioningRecord",
    "Difference",
    "ExtractMapping",
    "ExtractRun",
    "FiledStation",
    "Finding",
    "ImportFile",
    "InterferenceEntry",
    "Link",
    "NetworkRun",
    "PlannedChange",
    "ProtectionCriterion",
    "RadioMask",
    "RadioMode",
    "RadioType",
    "RegulatorRecord",
    "Shard",
    "Station",
    "Variant",
    "VariantCheck",
    "VariantFinding",
]
