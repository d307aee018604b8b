"""Reminders of the dates of licences: planned as rows, sent in one mail per person and turn, each step once."""

from .answering import acknowledge, in_words, latest_day, may_answer, put_off
from .planning import plan
from .sending import Outcome, remind, send_due

__all__ = [
    "Outcome",
    "acknowledge",
    "in_words",
    "latest_day",
    "may_answer",
    "plan",
    "put_off",
    "remind",
    "send_due",
]
