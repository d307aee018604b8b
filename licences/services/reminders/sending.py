"""Sending what is due: one mail per person and day, each reminder in one of them.

The reminders of a mail are claimed together (waiting → sending) before it goes
out and marked after. A mail server that refuses puts them back to wait for the
next run. A sender that dies in between leaves its claim to run out; the next
run then sends the same mail with the same Message-ID.
"""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Callable
from dataclasses import dataclass, field
from smtplib import SMTPDataError, SMTPRecipientsRefused

from django.db import transaction
from django.db.models import F, Q, QuerySet
from django.utils import timezone

from licences.models import Reminder
from sites.models import Person

from .letter import letter
from .planning import plan
from .recipients import can_be_reached, clock_of

CLAIM = dt.timedelta(minutes=10)  # far longer than a mail server may take to answer
FROM_HOUR = 6  # in the recipient's time zone
State = Reminder.State
logger = logging.getLogger(__name__)


@dataclass
class Outcome:
    """What a run did: mails and reminders sent, those that could not be, licences of which nobody is told."""

    mails: int = 0
    reminders: int = 0
    failed: dict[str, str] = field(default_factory=dict)
    nobody_for: list[str] = field(default_factory=list)


def remind(now: dt.datetime | None = None, step: Callable[[int, int], None] | None = None) -> Outcome:
    """Plan the reminders and send what is due: the whole of one run."""
    planned = plan(now)
    outcome = send_due(now, step)
    outcome.nobody_for = planned.nobody_for
    return outcome


def send_due(now: dt.datetime | None = None, step: Callable[[int, int], None] | None = None) -> Outcome:
    """Send every person what waits for them, from FROM_HOUR of their day on and once a day.

    ``step(done, total)`` is called after each person. When the mail server
    cannot be reached the run ends, and everything waits for the next one.
    """
    now = now or timezone.now()
    outcome = Outcome()
    people = list(Person.objects.filter(reminders__in=_open(now)).distinct().order_by("pk"))
    for done, person in enumerate(people, start=1):
        batch = _claim(person, now)
        if batch and not _send(batch, now, outcome):
            break
        if step is not None:
            step(done, len(people))
    return outcome


def _open(now: dt.datetime) -> QuerySet[Reminder]:
    """What waits, and what a dead sender left."""
    return Reminder.objects.filter(Q(state=State.WAITING) | Q(state=State.SENDING, claimed_until__lt=now))


def _claim(person: Person, now: dt.datetime) -> list[Reminder]:
    """Take the reminders of one mail for this run; none when another run has them or it is too early."""
    with transaction.atomic():
        Person.objects.select_for_update().get(pk=person.pk)  # one run at a time for this person
        theirs = Reminder.objects.filter(recipient=person)
        sending = theirs.filter(state=State.SENDING).order_by("claimed_until")
        left = sending.filter(claimed_until__lt=now).first()
        if left is not None:
            chosen = sending.filter(claimed_until=left.claimed_until)
        elif sending.exists() or not can_be_reached(person) or not _time_for_mail(person, now):
            return []
        else:
            chosen = theirs.filter(state=State.WAITING)
        # Locked, so that a slow sender cannot mark them between here and the claim.
        chosen = chosen.select_for_update(of=("self",))
        batch = list(
            chosen.select_related("recipient", "licence__holder", "licence__authority__renewal_policy")
        )
        until = now + CLAIM
        Reminder.objects.filter(pk__in=[each.pk for each in batch]).update(
            state=State.SENDING, claimed_until=until, attempts=F("attempts") + 1
        )
    for each in batch:
        each.claimed_until = until
    return batch


def _time_for_mail(person: Person, now: dt.datetime) -> bool:
    """Whether it is day where the person is, and they had no mail yet on that day."""
    here = clock_of(person, now)
    midnight = here.replace(hour=0, minute=0, second=0, microsecond=0)
    had_one = Reminder.objects.filter(recipient=person, sent_at__gte=midnight).exists()
    return here.hour >= FROM_HOUR and not had_one


def _send(batch: list[Reminder], now: dt.datetime, outcome: Outcome) -> bool:
    """Send one mail and mark its reminders; False when the mail server cannot be reached at all."""
    person = batch[0].recipient
    claimed = Reminder.objects.filter(
        pk__in=[each.pk for each in batch], state=State.SENDING, claimed_until=batch[0].claimed_until
    )
    try:
        letter(batch, now).send()
    except Exception as error:
        logger.exception("the reminders for %s could not be sent", person)
        why = f"{type(error).__name__}: {error}"
        outcome.failed[str(person)] = why
        claimed.update(state=State.WAITING, claimed_until=None, last_error=why)
        # A server that refuses one address or one text may take the next; one that is away will not.
        return not isinstance(error, OSError) or isinstance(error, SMTPRecipientsRefused | SMTPDataError)
    claimed.update(state=State.SENT, claimed_until=None, sent_at=now, last_error="")
    outcome.mails += 1
    outcome.reminders += len(batch)
    return True
