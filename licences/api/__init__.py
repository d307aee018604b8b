"""The API of what is allowed, and until when."""

from .reminders import ReminderViewSet
from .views import (
    AuthorityViewSet,
    HolderViewSet,
    LicenceViewSet,
    LicensedChannelViewSet,
    RenewalPolicyViewSet,
)

ROUTES = (
    ("authorities", AuthorityViewSet, "authority"),
    ("renewal-policies", RenewalPolicyViewSet, "renewal-policy"),
    ("holders", HolderViewSet, "holder"),
    ("licences", LicenceViewSet, "licence"),
    ("licensed-channels", LicensedChannelViewSet, "licensed-channel"),
    ("reminders", ReminderViewSet, "reminder"),
)
