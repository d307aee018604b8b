"""The tables of authorities, holders, applications, licences, licensed channels and reminders."""

from .applications import Application
from .authorities import Authority, RenewalPolicy
from .channels import LicensedChannel
from .events import LicenceEvent
from .holders import Holder
from .licences import Licence
from .reminders import Reminder, ReminderSettings

__all__ = [
    "Application",
    "Authority",
    "Holder",
    "Licence",
    "LicenceEvent",
    "LicensedChannel",
    "Reminder",
    "ReminderSettings",
    "RenewalPolicy",
]
