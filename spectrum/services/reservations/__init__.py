"""Pairs that planned links hold: taken without a race, extended, released; they lapse after their last day."""

from spectrum.services.held_pairs import PairHeldError, RegisterBusyError

from .applied import filed_application
from .holding import BY_ROLE, extend, give_back, may_decide, release
from .lapsing import Lapsed, lapse_expired
from .taking import last_day_by_default, take_pair

__all__ = [
    "BY_ROLE",
    "Lapsed",
    "PairHeldError",
    "RegisterBusyError",
    "extend",
    "filed_application",
    "give_back",
    "lapse_expired",
    "last_day_by_default",
    "may_decide",
    "release",
    "take_pair",
]
