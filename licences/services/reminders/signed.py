"""Signed links: what a person may do from a mail without signing in, and their calendar's address.

A link names its reminder and the day until which it holds; the signature covers both, and the salt
keeps each kind of link to its one purpose.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

from django.conf import settings
from django.core import signing
from django.urls import reverse
from django.utils.translation import gettext

from licences.models import Reminder, ReminderSettings
from sites.errors import RegisterError
from sites.models import Person
from sites.reading import written_day

VALID_DAYS = 60
_SALT = "licences.reminders."


class Purpose(StrEnum):
    """What a link from a mail is for."""

    ACKNOWLEDGE = "acknowledge"
    PUT_OFF = "put-off"


class LinkError(RegisterError):
    """A link that is not ours, or holds no more."""

    def __init__(self, message: str, *, status: int) -> None:
        super().__init__(message)
        self.status = status


@dataclass(frozen=True)
class Asked:
    """What a link asks for, and by whom."""

    reminder: Reminder
    person: Person


def address(path: str) -> str:
    """A path of the register with the address at which people reach it."""
    return str(settings.REGISTER_ADDRESS).rstrip("/") + path


def link(purpose: Purpose, reminder: Reminder, today: dt.date) -> str:
    """The address for one act on one reminder, valid for VALID_DAYS."""
    until = today + dt.timedelta(days=VALID_DAYS)
    what = [reminder.pk, reminder.recipient_id, reminder.rounds, until.isoformat()]
    token = _signer(purpose.value).sign_object(what)
    return address(reverse("reminder-by-mail", args=[purpose.value, token]))


def read(purpose: Purpose, token: str, today: dt.date) -> Asked:
    """What a link asks for. LinkError where it is not ours (404), or holds no more (410)."""
    try:
        number, person_id, rounds, until = _signer(purpose.value).unsign_object(token)
        last_day = dt.date.fromisoformat(until)
    except (signing.BadSignature, ValueError, TypeError) as error:
        raise LinkError(
            gettext(
                "This is not a whole link from a reminder. Copy all of it from the mail, or sign in and "
                "answer there."
            ),
            status=404,
        ) from error
    rows = Reminder.objects.select_related(
        "recipient", "acknowledged_by", "licence__holder", "licence__responsible",
        "licence__authority__renewal_policy",
    )  # fmt: skip
    reminder = rows.filter(pk=number, recipient=person_id, recipient__is_active=True).first()
    if reminder is None:
        raise LinkError(gettext("The reminder of this link is no longer in the register."), status=410)
    if today > last_day:
        raise LinkError(
            gettext("This link was valid until {day}. Sign in and answer there.").format(
                day=written_day(last_day)
            ),
            status=410,
        )
    if purpose is Purpose.PUT_OFF and reminder.rounds != rounds:
        raise LinkError(
            gettext("This link was used already. The next mail has a new one; or sign in and answer there."),
            status=410,
        )
    return Asked(reminder, reminder.recipient)


def calendar_address(wanted: ReminderSettings) -> str:
    """The secret address of a person's calendar; empty where none is given out."""
    if not wanted.calendar_number:
        return ""
    token = _signer("calendar").sign_object([wanted.person_id, wanted.calendar_number])
    return address(reverse("reminder-calendar", args=[token]))


def calendar_owner(token: str) -> Person | None:
    """Whose calendar an address is; None for one that is not ours or was renewed."""
    try:
        person_id, number = _signer("calendar").unsign_object(token)
    except (signing.BadSignature, ValueError, TypeError):
        return None
    row = ReminderSettings.objects.select_related("person").filter(
        person=person_id, calendar_number=number, calendar_number__gt=0, person__is_active=True
    )
    found = row.first()
    return found.person if found else None


def _signer(purpose: str) -> signing.Signer:
    return signing.Signer(salt=f"{_SALT}{purpose}", sep=".")
