"""The register as of a day: past, out of the change record; to come, by the dates that stand in it."""

from .ahead import looks_ahead, said_of, says
from .asking import FIRST_DAY, LAST_DAY, PARAMETER, day_or_today, day_shown, end_of, read_day
from .overlay import register_on
from .reading import why_not_there

__all__ = [
    "FIRST_DAY",
    "LAST_DAY",
    "PARAMETER",
    "day_or_today",
    "day_shown",
    "end_of",
    "looks_ahead",
    "read_day",
    "register_on",
    "said_of",
    "says",
    "why_not_there",
]
