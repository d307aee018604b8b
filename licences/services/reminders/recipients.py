"""Who is reminded of a licence, and what day it is where they are."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from licences.models import Licence
from sites.models import Person

MANAGERS = "manager"  # the group that is told when nobody is responsible


def managers() -> list[Person]:
    """Active managers who can be reached by mail."""
    return [p for p in Person.objects.filter(groups__name=MANAGERS).order_by("pk") if can_be_reached(p)]


def recipients_of(licence: Licence, the_managers: list[Person]) -> list[Person]:
    """The responsible person; all managers where there is none, or one who left or has no address."""
    responsible = licence.responsible
    return [responsible] if responsible is not None and can_be_reached(responsible) else the_managers


def can_be_reached(person: Person) -> bool:
    return person.is_active and bool(person.email)


def clock_of(person: Person, now: dt.datetime) -> dt.datetime:
    """The time ``now`` where the person is; UTC when the time zone is not one that is known."""
    try:
        return now.astimezone(ZoneInfo(person.time_zone))
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return now.astimezone(dt.UTC)
