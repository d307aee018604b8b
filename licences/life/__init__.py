"""The life of a licence and of each licensed channel: which step leads where, and what dates follow.

Pure: dates in, dates out, no clock and no framework.

One truth. The row of a licence holds the dates as they stand after its last step; how it stands
on a day follows from them by :mod:`licences.standing`. A step is what somebody did on a day: it
sets some of those dates and keeps, for each, what stood before. The row is therefore always the
result of its steps upon what was entered first, and the past is the row with the later steps
undone (:func:`as_of`). A date that a step has set is changed by another step only: the step
"correct the record" is for what was entered wrongly, and holds for the past too.
"""

from .days import ComingDay, coming_days
from .history import Entered, as_of
from .invariants import broken_invariants
from .records import FIELDS, Life, Step, StepRefusedError, Taken, Terms
from .reminding import Due, ReminderStep, StepKind, Topic, due_on_day, reminder_steps, topic_of
from .steps import allowed_steps, take

__all__ = [
    "FIELDS",
    "ComingDay",
    "Due",
    "Entered",
    "Life",
    "ReminderStep",
    "Step",
    "StepKind",
    "StepRefusedError",
    "Taken",
    "Terms",
    "Topic",
    "allowed_steps",
    "as_of",
    "broken_invariants",
    "coming_days",
    "due_on_day",
    "reminder_steps",
    "take",
    "topic_of",
]
