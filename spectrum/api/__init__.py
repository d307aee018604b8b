"""The API of what is on the air and planned, and of what the checks found."""

from .applications import ApplicationViewSet
from .commissioning import CommissioningRecordViewSet
from .comparison import DifferenceViewSet
from .extracts import ExtractMappingViewSet, ExtractRunViewSet
from .interference import InterferenceViewSet
from .variants import VariantViewSet
from .views import (
    ChannelPlanViewSet,
    CheckViewSet,
    FindingViewSet,
    LinkViewSet,
    NetworkCheckView,
    ProtectionCriterionViewSet,
    RadioMaskViewSet,
    RadioModeViewSet,
    RadioTypeViewSet,
    StationViewSet,
)

ROUTES = (
    ("channel-plans", ChannelPlanViewSet, "channel-plan"),
    ("radio-types", RadioTypeViewSet, "radio-type"),
    ("radio-modes", RadioModeViewSet, "radio-mode"),
    ("radio-masks", RadioMaskViewSet, "radio-mask"),
    ("protection-criteria", ProtectionCriterionViewSet, "protection-criterion"),
    ("links", LinkViewSet, "link"),
    ("stations", StationViewSet, "station"),
    ("commissioning-records", CommissioningRecordViewSet, "commissioning-record"),
    ("interference", InterferenceViewSet, "interference-entry"),
    ("findings", FindingViewSet, "finding"),
    ("checks", CheckViewSet, "check"),
    ("variants", VariantViewSet, "variant"),
    ("applications", ApplicationViewSet, "application"),
    ("extract-mappings", ExtractMappingViewSet, "extract-mapping"),
    ("extract-runs", ExtractRunViewSet, "extract-run"),
    ("differences", DifferenceViewSet, "difference"),
)

__all__ = ["ROUTES", "NetworkCheckView"]
