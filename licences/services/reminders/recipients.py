"""Who is reminded of a licence and how they want it, and what day it is where they are."""

from __future__ import annotations

import datetime as dt

from licences.life import Topic
from licences.models import Licence, ReminderSettings
from sites.models import Person
from sites.reading import zone_of

MANAGERS = "manager"  # the group that is told when nobody is responsible, and when nobody acknowledges


class People:
    """The managers, and how everybody wants reminders: read once for a run."""

    def __init__(self) -> None:
        self._settings = {row.person_id: row for row in ReminderSettings.objects.all()}
        rows = Person.objects.filter(groups__name=MANAGERS).order_by("pk")
        self.managers = [person for person in rows if can_be_reached(person)]

    def wants(self, person: Person, topic: Topic) -> bool:
        stored = self._settings.get(person.pk)
        return stored is None or topic.value in stored.topics

    def recipients_of(self, licence: Licence, topic: Topic) -> list[Person]:
        """The responsible person; all managers where there is none, or one who cannot be reached or wants no such mail."""
        responsible = licence.responsible
        if responsible is not None and can_be_reached(responsible) and self.wants(responsible, topic):
            return [responsible]
        return [person for person in self.managers if self.wants(person, topic)]


def settings_of(person: Person) -> ReminderSettings:
    """How a person wants reminders; what is usual where they have not said."""
    return ReminderSettings.objects.filter(person=person).first() or ReminderSettings(person=person)


def can_be_reached(person: Person) -> bool:
    return person.is_active and bool(person.email)


def clock_of(person: Person, now: dt.datetime) -> dt.datetime:
    """The time ``now`` where the person is; UTC when the time zone is not one that is known."""
    return now.astimezone(zone_of(person))
