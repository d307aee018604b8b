"""A reminder mail: one mail for all that is due, as plain text and as simple HTML with the same words."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence
from urllib.parse import urlsplit

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from licences.life import Topic
from licences.models import Reminder
from sites.models import Person
from sites.reading import as_read_by, written_day

from .recipients import clock_of
from .signed import VALID_DAYS, address
from .wording import Line, line_of


def letter(reminders: Sequence[Reminder], now: dt.datetime) -> EmailMultiAlternatives:
    """The mail to the recipient of these reminders, who is the same for all, written as they read.

    Its Message-ID is made of the reminders: the same ones give the same mail, so
    one that is repeated after a crash is recognised as such.
    """
    person = reminders[0].recipient
    with as_read_by(person):
        return _written(reminders, person, now)


def _written(reminders: Sequence[Reminder], person: Person, now: dt.datetime) -> EmailMultiAlternatives:
    today = clock_of(person, now).date()
    lines = sorted((line_of(each, today) for each in reminders), key=lambda line: (line.by, line.licence))
    title = subject(lines)
    about = {
        "name": str(person),
        "lines": lines,
        "subject": title,
        "time_zone": person.time_zone,
        "valid_days": VALID_DAYS,
        "list": address(reverse("reminder-list")),
        "settings": address(reverse("reminder-settings")),
    }
    message = EmailMultiAlternatives(
        subject=title,
        body=render_to_string("mail/reminders.txt", about),
        to=[person.email],
        headers={"Message-ID": message_id(reminders), "Auto-Submitted": "auto-generated"},  # RFC 3834
    )
    message.attach_alternative(render_to_string("mail/reminders.html", about), "text/html")
    return message


def message_id(reminders: Sequence[Reminder]) -> str:
    """An RFC 5322 message identifier that is the same for the same reminders; one put off is another."""
    ids = ",".join(sorted(f"{each.pk}.{each.rounds}" for each in reminders))
    digest = hashlib.sha256(f"{reminders[0].recipient_id}:{ids}".encode()).hexdigest()[:32]
    return f"<reminder.{digest}@{urlsplit(settings.REGISTER_ADDRESS).hostname or 'localhost'}>"


_LABELS = {
    Topic.USE: _("to be brought into use by {day}"),
    Topic.NOTICE: _("the notice of use is due by {day}"),
    Topic.FEE: _("a fee is due on {day}"),
}


def subject(lines: Sequence[Line]) -> str:
    """How many licences, and the nearest date."""
    renewals = [line for line in lines if line.topic is Topic.RENEWAL]
    to_file = [line for line in renewals if not line.expired and not line.undecided]
    others = [line for line in lines if line.topic is not Topic.RENEWAL]
    parts = []
    if expired := [line.by for line in renewals if line.expired]:
        parts.append(_expired(expired, alone=len(renewals) == len(expired) and not others))
    if undecided := len([line for line in renewals if line.undecided]):
        pattern = ngettext("{count} renewal is not decided", "{count} renewals are not decided", undecided)
        parts.append(pattern.format(count=undecided))
    if to_file:
        nearest = min(line.by for line in to_file)
        parts.append(gettext("the nearest filing day is {day}").format(day=written_day(nearest)))
    if len(others) == 1:
        parts.append(str(_LABELS[others[0].topic]).format(day=written_day(others[0].by)))
    elif others:
        pattern = ngettext(
            "{count} other date, the nearest {day}", "{count} other dates, the nearest {day}", len(others)
        )
        nearest = min(line.by for line in others)
        parts.append(pattern.format(count=len(others), day=written_day(nearest)))
    count = len({line.licence for line in lines})
    needs = ngettext(
        "{count} licence needs attention: {parts}", "{count} licences need attention: {parts}", count
    )
    return needs.format(count=count, parts="; ".join(parts))


def _expired(days: Sequence[dt.date], *, alone: bool) -> str:
    """How many expired; with the day of the latest where nothing else is said."""
    count = len(days)
    if alone:
        pattern = ngettext("{count} expired on {day}", "{count} expired, the latest on {day}", count)
    else:
        pattern = ngettext("{count} expired", "{count} expired", count)
    return pattern.format(count=count, day=written_day(max(days)))
