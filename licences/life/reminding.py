"""Which reminders a licence has, from its coming days and its authority's policy. Pure.

Steps about the same thing follow each other: only the latest one that is due matters. The days
before each date are the policy's; which dates there are is said by :func:`licences.life.coming_days`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from sites.words import gettext, gettext_noop

from .days import ComingDay, coming_days, days_after
from .records import Life, Terms


class Topic(StrEnum):
    """What a reminder is about; a person chooses among these."""

    RENEWAL = "renewal"
    USE = "use"
    NOTICE = "notice"
    FEE = "fee"

    @property
    def words(self) -> str:
        return gettext(_WORDS[self])


_WORDS = {
    Topic.RENEWAL: gettext_noop("renewal and expiry"),
    Topic.USE: gettext_noop("bringing into use"),
    Topic.NOTICE: gettext_noop("notice of the bringing into use"),
    Topic.FEE: gettext_noop("fees"),
}


class StepKind(StrEnum):
    """The steps of a reminder, as the model names them, in the order of urgency on one day."""

    WINDOW_OPENS = "window_opens"
    BEFORE_LAST_DAY = "before_last_day"
    BEFORE_EXPIRY = "before_expiry"
    EXPIRED = "expired"
    UNDECIDED = "undecided"
    BRING_INTO_USE = "bring_into_use"
    USE_NOTICE = "use_notice"
    FEE = "fee"

    @property
    def topic(self) -> Topic:
        return _TOPICS.get(self, Topic.RENEWAL)


_URGENCY = list(StepKind)
_TOPICS = {StepKind.BRING_INTO_USE: Topic.USE, StepKind.USE_NOTICE: Topic.NOTICE, StepKind.FEE: Topic.FEE}
_STEP_OF_DAY = {
    "window_opens": StepKind.WINDOW_OPENS,
    "last_filing": StepKind.BEFORE_LAST_DAY,
    "expires": StepKind.BEFORE_EXPIRY,
    "bring_into_use": StepKind.BRING_INTO_USE,
    "use_notice": StepKind.USE_NOTICE,
    "fee": StepKind.FEE,
}


def topic_of(day: ComingDay) -> Topic:
    """The topic of a coming day."""
    return _STEP_OF_DAY[day.kind].topic


@dataclass(frozen=True)
class ReminderStep:
    """One reminder of a licence.

    Attributes
    ----------
    kind : which step
    days_before : how many days before its date it is due; negative: after it
    about_on : the date that tells this round of reminders from the next: the expiry, the fee's due date
    act_by : the day by which something has to be done, or has ended
    due_on : the day from which the reminder may go out
    """

    kind: StepKind
    days_before: int
    about_on: dt.date
    act_by: dt.date
    due_on: dt.date

    @property
    def topic(self) -> Topic:
        return self.kind.topic


def reminder_steps(life: Life, terms: Terms) -> list[ReminderStep]:
    """All reminders of a licence, in the order in which they fall due.

    A renewal that is filed ends the reminders to file; after the expiry there are those that it is still
    undecided. A decision to let the licence expire leaves the one that it has expired. Those after the
    expiry begin on the first day after it.
    """
    steps: list[ReminderStep] = []
    days = coming_days(life, terms)
    last_filing = next((day.on for day in days if day.kind == "last_filing"), None)
    for day in days:
        kind = _STEP_OF_DAY[day.kind]
        if kind.topic is Topic.RENEWAL:
            if life.expires_on is None or life.ended_on is not None:
                continue
            filed = life.renewal_filed_on is not None
            if kind is StepKind.BEFORE_EXPIRY:
                after = StepKind.UNDECIDED if filed else StepKind.EXPIRED
                steps += _after_expiry(after, life.expires_on, terms)
            if filed or (kind is StepKind.BEFORE_EXPIRY and life.let_expire_on is not None):
                continue
        steps += _before(kind, day, life, terms, last_filing)
    return sorted(steps, key=lambda s: (s.due_on, _URGENCY.index(s.kind), -s.days_before))


def _before(
    kind: StepKind, day: ComingDay, life: Life, terms: Terms, last_filing: dt.date | None
) -> list[ReminderStep]:
    lists: dict[StepKind, Sequence[int]] = {
        StepKind.WINDOW_OPENS: terms.window_steps_days,
        StepKind.BEFORE_LAST_DAY: terms.reminder_steps_days,
        StepKind.BEFORE_EXPIRY: terms.expiry_steps_days,
        StepKind.BRING_INTO_USE: terms.use_steps_days,
        StepKind.USE_NOTICE: terms.notice_steps_days,
        StepKind.FEE: terms.fee_steps_days,
    }
    renewal = kind.topic is Topic.RENEWAL
    about = life.expires_on if renewal and life.expires_on else day.on
    act_by = last_filing if kind is StepKind.WINDOW_OPENS and last_filing else day.on
    return [ReminderStep(kind, days, about, act_by, days_after(day.on, -days)) for days in lists[kind]]


def _after_expiry(kind: StepKind, expires_on: dt.date, terms: Terms) -> list[ReminderStep]:
    if expires_on == dt.date.max:
        return []
    return [
        ReminderStep(kind, -days, expires_on, expires_on, days_after(expires_on, days))
        for days in terms.after_expiry_steps_days
    ]


@dataclass(frozen=True)
class Due:
    """Of one topic: the step that matters on a day, and the earlier ones that it makes needless."""

    matters: ReminderStep
    overtaken: tuple[ReminderStep, ...]


def due_on_day(life: Life, terms: Terms, on: dt.date) -> list[Due]:
    """What there is to be reminded of on a day, one entry for each topic."""
    found: list[Due] = []
    due = [step for step in reminder_steps(life, terms) if step.due_on <= on]
    for topic in Topic:
        steps = [step for step in due if step.topic is topic]
        if topic is Topic.RENEWAL and (life.in_force_from is None or life.in_force_from > on):
            continue
        if steps:
            found.append(Due(steps[-1], tuple(steps[:-1])))
    return found
