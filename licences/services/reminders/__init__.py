"""Reminders of renewals: planned as rows, sent as one mail per person and day, each step once."""

from .planning import plan
from .sending import Outcome, remind, send_due

__all__ = ["Outcome", "plan", "remind", "send_due"]
