"""Which reminders there have to be: rows are made before any mail is sent.

For every person and licence only the latest step that is due matters. A step
has one row for ever, so it is sent once, whatever is restarted or run twice.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from licences.models import Licence, Reminder
from licences.selectors import terms_of
from licences.standing import ReminderStep, StepKind, step_that_matters
from sites.models import Person

from .recipients import clock_of, managers, recipients_of

State = Reminder.State
Key = tuple[int, int, str, int, dt.date]


@dataclass
class Planned:
    """How many reminders now wait to be sent, and the licences of which nobody can be told."""

    waiting: int = 0
    nobody_for: list[str] = field(default_factory=list)


@dataclass
class _Wish:
    """What is to be so: which steps wait, and which are known to be needless."""

    waiting: dict[Key, Reminder] = field(default_factory=dict)
    needless: dict[Key, Reminder] = field(default_factory=dict)


def plan(now: dt.datetime | None = None) -> Planned:
    """Make the reminders that are due, and set aside those that are no longer needed.

    Due is what concerns our own licences that are in force or expired, not ended
    and with no renewal filed, on the day it is where the recipient is. An
    authority without a renewal policy is treated as one with the default policy.
    """
    now = now or timezone.now()
    planned, wish = Planned(), _Wish()
    the_managers = managers()
    for licence in _licences_to_watch(now):
        recipients = recipients_of(licence, the_managers)
        for person in recipients:
            _wish_for(wish, licence, person, clock_of(person, now).date())
        if not recipients:
            planned.nobody_for.append(str(licence))
    _carry_out(wish, now)
    planned.waiting = Reminder.objects.filter(state=State.WAITING).count()
    return planned


def _licences_to_watch(now: dt.datetime) -> Iterable[Licence]:
    somewhere_already = now.astimezone(dt.UTC).date() + dt.timedelta(days=1)
    return (
        Licence.objects.filter(
            holder__own=True,
            expires_on__isnull=False,
            in_force_from__lte=somewhere_already,
            renewal_filed_on__isnull=True,
            ended_on__isnull=True,
        )
        .select_related("authority__renewal_policy", "responsible")
        .order_by("pk")
    )


def _wish_for(wish: _Wish, licence: Licence, person: Person, today: dt.date) -> None:
    if licence.expires_on is None or licence.in_force_from is None or licence.in_force_from > today:
        return
    terms = terms_of(licence)
    matters, overtaken = step_that_matters(licence.expires_on, terms, today)
    to_file = terms.renewable and licence.let_expire_on is None
    if matters is None or (matters.kind is not StepKind.EXPIRED and not to_file):
        return
    row = _row(licence, licence.expires_on, person, matters)
    wish.waiting[_key(row)] = row
    for step in overtaken:
        old = _row(licence, licence.expires_on, person, step)
        wish.needless[_key(old)] = old


def _row(licence: Licence, expires_on: dt.date, person: Person, step: ReminderStep) -> Reminder:
    return Reminder(
        licence=licence,
        recipient=person,
        step=_STEPS[step.kind],
        days_before=step.days_before,
        expires_on=expires_on,
        due_on=step.due_on,
    )


_STEPS = {
    StepKind.WINDOW_OPENS: Reminder.Step.WINDOW_OPENS,
    StepKind.BEFORE_LAST_DAY: Reminder.Step.BEFORE_LAST_DAY,
    StepKind.EXPIRED: Reminder.Step.EXPIRED,
}


def _key(row: Reminder) -> Key:
    return (row.licence_id, row.recipient_id, str(row.step), row.days_before, row.expires_on)


def _carry_out(wish: _Wish, now: dt.datetime) -> None:
    """Make the rows as wished. Every change is conditional, so two runs at once do no harm."""
    licences = {row.licence_id for row in wish.waiting.values()}
    with transaction.atomic():
        stored = list(Reminder.objects.filter(Q(licence__in=licences) | Q(state__in=_OPEN)))
        known = {_key(row): row for row in stored}
        told = _told_until(stored)
        wanted = {key: row for key, row in wish.waiting.items() if told[_about(row)] < row.due_on}
        for row in wish.needless.values():
            row.state = State.OVERTAKEN
        new = [row for key, row in (wish.needless | wanted).items() if key not in known]
        Reminder.objects.bulk_create(new, batch_size=500, ignore_conflicts=True)
        again = [known[key].pk for key in wanted if key in known]
        Reminder.objects.filter(pk__in=again, state=State.OVERTAKEN).update(state=State.WAITING)
        gone = [row.pk for key, row in known.items() if row.state == State.WAITING and key not in wanted]
        Reminder.objects.filter(pk__in=gone, state=State.WAITING).update(state=State.OVERTAKEN)
        # What a dead sender left is sent again only while it is still the step that matters.
        left = [
            row.pk for key, row in known.items() if row.state == State.SENDING and key not in wish.waiting
        ]
        Reminder.objects.filter(pk__in=left, state=State.SENDING, claimed_until__lt=now).update(
            state=State.OVERTAKEN, claimed_until=None
        )


_OPEN = (State.WAITING, State.SENDING)


def _about(row: Reminder) -> tuple[int, int, dt.date]:
    return (row.licence_id, row.recipient_id, row.expires_on)


def _told_until(rows: Iterable[Reminder]) -> dict[tuple[int, int, dt.date], dt.date]:
    """Up to which due day each person has been told about each expiry, or is being told."""
    told: dict[tuple[int, int, dt.date], dt.date] = defaultdict(lambda: dt.date.min)
    for row in rows:
        if row.state in (State.SENT, State.SENDING):
            told[_about(row)] = max(told[_about(row)], row.due_on)
    return told
