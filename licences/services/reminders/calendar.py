"""A person's calendar (RFC 5545): the coming days of the licences of which they are reminded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from urllib.parse import urlsplit

from django.conf import settings
from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar, Event

from licences.life import ComingDay, coming_days, topic_of
from licences.models import Licence, ReminderSettings
from licences.selectors import all_licences, terms_of
from sites.models import Person
from sites.services import record
from sites.services.record import Author

from .recipients import People, settings_of
from .signed import address

PRODUCT = "-//Link register//Dates of licences//EN"


def calendar_of(person: Person) -> bytes:
    """The calendar as a file: one all-day event for each coming day of a licence.

    The same register gives the same bytes. An event keeps its UID when its day moves; its stamp is
    the licence's last change (RFC 5545, 3.8.7.2: without a method, the last revision of the event).
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", f"Licences of {person}")  # RFC 7986, 5.1
    calendar.add("refresh-interval", dt.timedelta(hours=12), parameters={"VALUE": "DURATION"})
    for licence, day in days_of(person):
        calendar.add_component(event_of(licence, day))
    return calendar.to_ical()


def days_of(person: Person) -> Iterator[tuple[Licence, ComingDay]]:
    """Each coming day of which the person would be reminded, with its licence."""
    people = People()
    today = timezone.now().date()
    licences = (
        all_licences()
        .select_related("authority__renewal_policy")
        .filter(holder__own=True)
        .exclude(ended_on__lte=today)
    )
    for licence in licences:
        for day in coming_days(licence.life, terms_of(licence)):
            if person in people.recipients_of(licence, topic_of(day)):
                yield licence, day


def event_of(licence: Licence, day: ComingDay) -> Event:
    """The all-day event of a coming day; it does not make the person busy."""
    host = urlsplit(settings.REGISTER_ADDRESS).hostname or "localhost"
    page = address(reverse("licence", args=[licence.pk]))
    event = Event()
    event.add("uid", f"licence-{licence.pk}.{day.kind}@{host}")
    event.add("dtstamp", licence.changed_at)
    event.add("last-modified", licence.changed_at)
    event.add("sequence", licence.version)
    event.add("summary", f"{licence}: {day.what}")
    event.add("description", f"Held by {licence.holder.name}. {page}")
    event.add("url", page)
    event.add("dtstart", day.on)
    if day.on < dt.date.max:
        event.add("dtend", day.on + dt.timedelta(days=1))
    event.add("transp", "TRANSPARENT")
    event.add("categories", [topic_of(day).words])
    return event


def renew_address(person: Person) -> ReminderSettings:
    """Give the calendar a new secret address; the old one stops to answer."""
    with transaction.atomic():
        Person.objects.select_for_update().get(pk=person.pk)  # two clicks at once
        mine = settings_of(person)
        mine.calendar_number += 1
        by = Author.of(person)
        return record.create(mine, by=by) if mine.pk is None else record.change(mine, by=by)
