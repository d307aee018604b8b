"""The words of a reminder mail: plain text, one mail for all that is due."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlsplit

from django.conf import settings
from django.core.mail import EmailMessage
from django.urls import reverse

from licences.models import Reminder
from licences.selectors import policy_of
from licences.standing import renewal_dates

from .recipients import clock_of


@dataclass(frozen=True)
class Line:
    """One licence in a mail. ``by`` is the day that counts: to file by, or on which it expired."""

    licence: str
    holder: str
    expired: bool
    by: dt.date
    what: str
    address: str


def letter(reminders: Sequence[Reminder], now: dt.datetime) -> EmailMessage:
    """The mail to the recipient of these reminders, who is the same for all.

    Its Message-ID is made of the reminders: the same ones give the same mail, so
    one that is repeated after a crash is recognised as such.
    """
    person = reminders[0].recipient
    today = clock_of(person, now).date()
    lines = sorted((line_of(each, today) for each in reminders), key=lambda line: (line.by, line.licence))
    return EmailMessage(
        subject=subject(lines),
        body=body(lines, str(person), person.time_zone),
        to=[person.email],
        headers={"Message-ID": message_id(reminders), "Auto-Submitted": "auto-generated"},  # RFC 3834
    )


def message_id(reminders: Sequence[Reminder]) -> str:
    """An RFC 5322 message identifier that is the same for the same reminders."""
    ids = ",".join(str(pk) for pk in sorted(each.pk for each in reminders))
    digest = hashlib.sha256(f"{reminders[0].recipient_id}:{ids}".encode()).hexdigest()[:32]
    return f"<reminder.{digest}@{urlsplit(settings.REGISTER_ADDRESS).hostname or 'localhost'}>"


def line_of(reminder: Reminder, today: dt.date) -> Line:
    """What a reminder says on a day; the words follow the dates, not how late the mail is."""
    licence = reminder.licence
    dates = renewal_dates(reminder.expires_on, policy_of(licence.authority))
    expired = today > dates.expires_on
    by = dates.last_filing_on
    if expired:
        by = dates.expires_on
        what = (
            f"It expired on {by}. Nothing may be transmitted under it. If it was renewed, enter the new "
            "expiry; if it was given up, enter that; else file anew."
        )
    elif today > by:
        what = (
            f"The last filing day was {by} and no filing is entered; it expires on {dates.expires_on}. "
            "Ask the authority what can still be done."
        )
    elif today < dates.window_opens_on:
        what = f"The renewal may be filed from {dates.window_opens_on} to {by}; it expires on {dates.expires_on}."
    else:
        what = f"File the renewal by {by} ({days_left(by, today)}); it expires on {dates.expires_on}."
    return Line(
        licence=str(licence),
        holder=licence.holder.name,
        expired=expired,
        by=by,
        what=what,
        address=settings.REGISTER_ADDRESS.rstrip("/") + reverse("licence", args=[licence.pk]),
    )


def days_left(by: dt.date, today: dt.date) -> str:
    days = (by - today).days
    return {0: "today", 1: "tomorrow"}.get(days, f"in {days} days")


def subject(lines: Sequence[Line]) -> str:
    """How many licences, and the nearest date."""
    to_file = [line for line in lines if not line.expired]
    expired = len(lines) - len(to_file)
    parts = []
    if expired:
        last = max(line.by for line in lines if line.expired)
        parts.append(
            f"{expired} expired"
            + ("" if to_file else f", the latest on {last}" if expired > 1 else f" on {last}")
        )
    if to_file:
        parts.append(f"the nearest filing day is {min(line.by for line in to_file)}")
    licences = "1 licence needs" if len(lines) == 1 else f"{len(lines)} licences need"
    return f"{licences} attention: {'; '.join(parts)}"


def body(lines: Sequence[Line], name: str, time_zone: str) -> str:
    """The text: per licence what is to be done by when, and where its page is."""
    blocks = [f"{line.licence}, held by {line.holder}\n{line.what}\n{line.address}" for line in lines]
    return "\n\n".join(
        [
            f"For {name}:",
            *blocks,
            "You get this mail because you are responsible for these licences, or because nobody else who "
            "can be reached is. The reminders for a licence stop when its filing day or its new expiry is entered in "
            f"the register. Days are counted in the time zone {time_zone}.",
        ]
    )
