"""The tables of authorities, holders, licences, licensed channels and reminders."""

from .authorities import Authority, RenewalPolicy
from .channels import LicensedChannel
from .holders import Holder
from .licences import Licence
from .reminders import Reminder

__all__ = ["Authority", "Holder", "Licence", "LicensedChannel", "Reminder", "RenewalPolicy"]
