"""Which reminders there have to be: rows are made before any mail is sent.

For every person, licence and topic only the latest step that is due matters. A step
has one row for ever, so it is sent once, whatever is restarted or run twice; only
what a person put off is sent again, on the day they named.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from licences.life import due_on_day, reminder_steps
from licences.models import Licence, Reminder
from licences.selectors import terms_of

from .escalating import add_escalations
from .recipients import People, clock_of
from .wishes import Round, State, Wish, acknowledged_until, key_of, round_of, to_whom, told_until


@dataclass
class Planned:
    """How many reminders now wait to be sent, and the licences of which nobody can be told."""

    waiting: int = 0
    nobody_for: list[str] = field(default_factory=list)


def plan(now: dt.datetime | None = None) -> Planned:
    """Make the reminders that are due, and set aside those that are no longer needed.

    Due is what concerns our own granted licences that are not ended, on the day it is where the
    recipient is. An authority without a renewal policy is treated as one with the default policy.
    """
    now = now or timezone.now()
    planned, wish, people = Planned(), Wish(), People()
    for licence in _licences_to_watch(now):
        if not _wish_for(wish, licence, people, now):
            planned.nobody_for.append(str(licence))
    _carry_out(wish, people, now)
    planned.waiting = Reminder.objects.filter(state=State.WAITING).count()
    return planned


def _licences_to_watch(now: dt.datetime) -> Iterable[Licence]:
    today = now.astimezone(dt.UTC).date()
    return (
        Licence.objects.filter(
            Q(ended_on=None) | Q(ended_on__gt=today),
            holder__own=True,
            granted_on__lte=today + dt.timedelta(days=1),
        )
        .select_related("authority__renewal_policy", "responsible", "holder")
        .order_by("pk")
    )


def _wish_for(wish: Wish, licence: Licence, people: People, now: dt.datetime) -> bool:
    """Wish for what is due of a licence; False when there is something to tell and nobody to be told."""
    life, terms = licence.life, terms_of(licence)
    recipients = {
        topic: people.recipients_of(licence, topic)
        for topic in {step.topic for step in reminder_steps(life, terms)}
    }
    for day in {clock_of(person, now).date() for them in recipients.values() for person in them}:
        for due in due_on_day(life, terms, day):
            wish.open_rounds[licence.pk, due.matters.topic.value, due.matters.about_on] = licence
            for person in recipients[due.matters.topic]:
                if clock_of(person, now).date() == day:
                    wish.add(licence, person, due)
    return all(recipients.values())


def _carry_out(wish: Wish, people: People, now: dt.datetime) -> None:
    """Make the rows as wished. Every change is conditional, so two runs at once do no harm."""
    with transaction.atomic():
        licences = {licence for licence, _, _ in wish.open_rounds}
        stored = list(
            Reminder.objects.filter(Q(licence__in=licences) | Q(state__in=_OPEN))
            .select_related("licence__authority", "recipient")
            .order_by("pk")
        )
        add_escalations(wish, stored, people, now)
        known = {key_of(row): row for row in stored}
        told, acknowledged = told_until(stored), acknowledged_until(stored)
        wanted = {}
        for key, row in wish.waiting.items():
            since = max(told[to_whom(row)], acknowledged[round_of(row)])
            if since < row.due_on:
                wanted[key] = row
                untold = [day for day in wish.due_days.get(key, ()) if day > since]
                row.ready_on = min([row.ready_on, *untold])
        for row in wish.needless.values():
            row.state = State.OVERTAKEN
        new = [row for key, row in (wish.needless | wanted).items() if key not in known]
        Reminder.objects.bulk_create(new, batch_size=500, ignore_conflicts=True)
        _change([known[key] for key in wanted if key in known], State.OVERTAKEN, State.WAITING)
        _wake(stored, wish, acknowledged, now)
        gone = [row for key, row in known.items() if key not in wanted]
        _change(gone, State.WAITING, State.OVERTAKEN)
        _change([row for row in gone if key_of(row) not in wish.waiting], State.SNOOZED, State.OVERTAKEN)
        # What a dead sender left is sent again only while it is still the step that matters.
        left = [row.pk for key, row in known.items() if key not in wish.waiting]
        Reminder.objects.filter(pk__in=left, state=State.SENDING, claimed_until__lt=now).update(
            state=State.OVERTAKEN, claimed_until=None
        )


_OPEN = (State.WAITING, State.SENDING, State.SNOOZED)


def _change(rows: Sequence[Reminder], before: str, after: str) -> None:
    """Move those of some rows that are in one state into another."""
    chosen = [row.pk for row in rows if row.state == before]
    if chosen:
        Reminder.objects.filter(pk__in=chosen, state=before).update(state=after)


def _wake(
    stored: Sequence[Reminder], wish: Wish, acknowledged: dict[Round, dt.date], now: dt.datetime
) -> None:
    """Let what was put off wait again on its day, while it is the step that matters and nobody acknowledged it."""
    for row in stored:
        if row.state != State.SNOOZED or row.snoozed_until is None or key_of(row) not in wish.waiting:
            continue
        come = row.snoozed_until <= clock_of(row.recipient, now).date()
        if come and acknowledged[round_of(row)] < row.due_on:
            this = Reminder.objects.filter(pk=row.pk, state=State.SNOOZED)
            this.update(state=State.WAITING, ready_on=row.snoozed_until)
