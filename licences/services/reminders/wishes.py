"""What there should be on a day, compared with what there is: keys, and how far people know already."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from licences.life import Due, ReminderStep
from licences.models import Licence, Reminder
from sites.models import Person

State = Reminder.State
Key = tuple[int, int, str, int, dt.date, bool]
Round = tuple[int, str, dt.date]  # licence, topic, the date it is about
To = tuple[int, int, str, dt.date, bool]  # licence, person, topic, the date it is about, escalated
NEVER = dt.date.min


@dataclass
class Wish:
    """Which steps are to wait, which are known to be needless, and which rounds are open at all."""

    waiting: dict[Key, Reminder] = field(default_factory=dict)
    needless: dict[Key, Reminder] = field(default_factory=dict)
    due_days: dict[Key, list[dt.date]] = field(default_factory=dict)
    open_rounds: dict[Round, Licence] = field(default_factory=dict)

    def add(self, licence: Licence, person: Person, due: Due) -> None:
        """A person's step of one topic, and the earlier ones that it makes needless."""
        row = row_of(licence, person, due.matters)
        self.waiting[key_of(row)] = row
        steps = (*due.overtaken, due.matters)
        self.due_days[key_of(row)] = [step.due_on for step in steps if step.about_on == row.about_on]
        for step in due.overtaken:
            old = row_of(licence, person, step)
            self.needless[key_of(old)] = old


def row_of(licence: Licence, person: Person, step: ReminderStep) -> Reminder:
    return Reminder(
        licence=licence,
        recipient=person,
        step=step.kind.value,
        days_before=step.days_before,
        about_on=step.about_on,
        act_by=step.act_by,
        due_on=step.due_on,
        ready_on=step.due_on,
    )


def key_of(row: Reminder) -> Key:
    return (row.licence_id, row.recipient_id, str(row.step), row.days_before, row.about_on, row.escalated)


def round_of(row: Reminder) -> Round:
    return (row.licence_id, row.topic.value, row.about_on)


def to_whom(row: Reminder) -> To:
    return (row.licence_id, row.recipient_id, row.topic.value, row.about_on, row.escalated)


def told_until(rows: Iterable[Reminder]) -> dict[To, dt.date]:
    """Up to which due day each person has been told in each round, or is being told."""
    told: dict[To, dt.date] = defaultdict(lambda: NEVER)
    for row in rows:
        if row.state in (State.SENT, State.SENDING, State.SNOOZED):
            told[to_whom(row)] = max(told[to_whom(row)], row.due_on)
    return told


def acknowledged_until(rows: Iterable[Reminder]) -> dict[Round, dt.date]:
    """Up to which due day somebody has acknowledged each round."""
    known: dict[Round, dt.date] = defaultdict(lambda: NEVER)
    for row in rows:
        if row.acknowledged_at is not None:
            known[round_of(row)] = max(known[round_of(row)], row.due_on)
    return known
