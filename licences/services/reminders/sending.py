"""Sending what is due: one mail per person by the rhythm they chose, each reminder in one of them.

The reminders of a mail are claimed together (waiting → sending) before it goes
out and marked after. A mail server that refuses puts them back to wait for the
next run. A sender that dies in between leaves its claim to run out; the next
run then sends the same mail with the same Message-ID.

How far "once" goes: a reminder is handed to the mail server once, unless the
process dies between the server's "accepted" and the mark, or the server's answer
is lost. No sender can know then what the server did, so the mail goes out again:
late and twice is better than never. The same Message-ID (RFC 5322, 3.6.4) lets
the mailbox recognise the second one.
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
from .recipients import can_be_reached, settings_of
from .rhythm import chosen_now

CLAIM = dt.timedelta(minutes=10)  # far longer than a mail server may take to answer
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
    """Send every person what waits for them, when it is time for their mail.

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
        elif sending.exists() or not can_be_reached(person):
            return []
        else:
            waiting = list(theirs.filter(state=State.WAITING))
            going = chosen_now(person, waiting, settings_of(person), now)
            chosen = theirs.filter(pk__in=[each.pk for each in going], state=State.WAITING)
        # Locked, so that a slow sender cannot mark them between here and the claim.
        chosen = chosen.select_for_update(of=("self",))
        batch = list(
            chosen.select_related(
                "recipient", "licence__holder", "licence__responsible", "licence__authority__renewal_policy"
            )
        )
        until = now + CLAIM
        Reminder.objects.filter(pk__in=[each.pk for each in batch]).update(
            state=State.SENDING, claimed_until=until, attempts=F("attempts") + 1
        )
    for each in batch:
        each.claimed_until = until
    return batch


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
