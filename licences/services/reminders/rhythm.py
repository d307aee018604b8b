"""When a person's next mail may go out, by the rhythm they chose. A run that comes late finds the same mail due."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from licences.models import Reminder, ReminderSettings
from sites.models import Person

from .recipients import clock_of

Rhythm = ReminderSettings.Rhythm


def latest_slot(here: dt.datetime, hour: int, weekday: int | None = None) -> dt.datetime:
    """The last moment not after ``here`` at which a mail goes out: at an hour, every day or on one weekday."""
    day = here.date()
    if dt.datetime.combine(day, dt.time(hour), here.tzinfo) > here:
        day -= dt.timedelta(days=1)
    if weekday is not None:
        day -= dt.timedelta(days=(day.weekday() - weekday) % 7)
    return dt.datetime.combine(day, dt.time(hour), here.tzinfo)


def chosen_now(
    person: Person, waiting: Sequence[Reminder], wanted: ReminderSettings, now: dt.datetime
) -> list[Reminder]:
    """Those of a person's waiting reminders that go out now, all in one mail; none when it is not time.

    A weekly mail does not let a date pass: what has to be done before the next one goes out on its day,
    and takes the others along.
    """
    here = clock_of(person, now)
    today = latest_slot(here, wanted.hour)
    ready = [row for row in waiting if row.ready_on <= today.date()]
    if wanted.rhythm == Rhythm.AT_ONCE:
        return ready
    if not ready or _had_mail_since(person, today):
        return []
    if wanted.rhythm == Rhythm.DAILY:
        return ready
    this_week = latest_slot(here, wanted.hour, wanted.weekday)
    next_mail = this_week.date() + dt.timedelta(days=7)
    in_turn = any(row.ready_on <= this_week.date() for row in ready) and not _had_mail_since(
        person, this_week
    )
    urgent = any(row.act_by < next_mail for row in ready)
    return ready if in_turn or urgent else []


def _had_mail_since(person: Person, moment: dt.datetime) -> bool:
    return Reminder.objects.filter(recipient=person, sent_at__gte=moment).exists()
