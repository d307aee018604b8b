"""What a person answers to a reminder: acknowledged, or put off to a day with a reason. Both stay in the change record."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from licences.models import Reminder
from sites.errors import RegisterError
from sites.models import Person
from sites.reading import neutral, written_day
from sites.services import record
from sites.services.record import Author

from .recipients import clock_of

LATE_DAYS = 30  # for so long something whose day has passed may be put off
State = Reminder.State


class AnswerRefusedError(RegisterError):
    """An answer that comes too late: the reminder moved on in the meantime."""

    status = 409
    title = "The reminder has moved on"


def may_answer(person: Any, reminder: Reminder) -> bool:
    """Everybody answers their own reminders, and those whose role says so the others'."""
    return person.pk == reminder.recipient_id or person.has_perm("licences.answer_reminder")


def acknowledge(
    reminder: Reminder, *, by: Person, author: Author, now: dt.datetime | None = None
) -> Reminder:
    """Say that somebody has it in hand: nobody else is told of this step, the managers neither.

    Later steps still come. A second acknowledgement changes nothing.
    """
    now = now or timezone.now()

    def change(row: Reminder) -> str:
        if row.acknowledged_at is not None:
            return ""
        row.acknowledged_at, row.acknowledged_by = now, by
        if row.state == State.WAITING:
            row.state = State.OVERTAKEN
        elif row.state == State.SNOOZED:
            row.state, row.snoozed_until = State.SENT, None
        return f"acknowledged by {by}"

    return _answered(reminder, change, author)


def latest_day(reminder: Reminder, today: dt.date) -> dt.date:
    """The last day to which a reminder may be put off: that by which something has to be done."""
    return reminder.act_by if reminder.act_by > today else today + dt.timedelta(days=LATE_DAYS)


def put_off(
    reminder: Reminder, until: dt.date, reason: str, *, author: Author, now: dt.datetime | None = None
) -> Reminder:
    """Be reminded again on a day. RegisterError for a day that is not ahead or too late, or without a reason."""
    today = clock_of(reminder.recipient, now or timezone.now()).date()
    last = latest_day(reminder, today)
    if not today < until <= last:
        raise RegisterError(
            gettext(
                "{until} was given; a day after today ({today}) and not after {last} was expected."
            ).format(until=written_day(until), today=written_day(today), last=written_day(last)),
            field="until",
        )
    if not reason.strip():
        raise RegisterError(gettext("Say in a few words why; it stays in the change record."), field="reason")

    def change(row: Reminder) -> str:
        if row.acknowledged_at is not None:
            raise AnswerRefusedError(
                gettext("It was acknowledged by {person} already.").format(person=row.acknowledged_by)
            )
        if row.state == State.SENDING:
            raise AnswerRefusedError(gettext("Its mail is just going out. Try again in a few minutes."))
        if row.state == State.OVERTAKEN:
            raise AnswerRefusedError(
                gettext("It is no longer needed: a later reminder or a step took its place.")
            )
        row.state, row.snoozed_until, row.snooze_reason = State.SNOOZED, until, reason.strip()[:200]
        row.rounds += 1
        return f"put off until {until}"

    return _answered(reminder, change, author, reason)


def _answered(
    reminder: Reminder, change: Callable[[Reminder], str], author: Author, reason: str = ""
) -> Reminder:
    with transaction.atomic():
        rows = Reminder.objects.select_for_update(of=("self",)).select_related("licence__authority")
        row = rows.get(pk=reminder.pk)
        with neutral():  # what is recorded does not depend on who answers
            before, what = in_words(row), f"reminder {row.step_words} ({row.about_on})"
        if after := change(row):
            row.save()
            record.note(row.licence, {what: [before, after]}, by=author, reason=reason)
    return row


def in_words(reminder: Reminder) -> str:
    """How a reminder stands, in words."""
    if reminder.acknowledged_at is not None:
        return gettext("acknowledged by {person} on {day}").format(
            person=reminder.acknowledged_by, day=written_day(reminder.acknowledged_at)
        )
    if reminder.state == State.SNOOZED and reminder.snoozed_until is not None:
        return gettext("put off until {day}").format(day=written_day(reminder.snoozed_until))
    return str(reminder.get_state_display())
