"""Keeping how a person wants reminders, with the time zone in which their days and hours are counted."""

from __future__ import annotations

from django.db import transaction
from django.utils.translation import gettext

from licences.models import ReminderSettings
from sites.errors import StaleWriteError
from sites.models import Person
from sites.services import record
from sites.services.people import change_reading
from sites.services.record import Author

NOT_KEPT = 0  # the version of settings that are as usual and were never kept


def version_of(settings: ReminderSettings) -> int:
    return NOT_KEPT if settings._state.adding else settings.version


def keep(
    settings: ReminderSettings, time_zone: str, *, expected_version: int | None = None
) -> ReminderSettings:
    """Keep a person's own settings, both or neither. Raises ValidationError, StaleWriteError.

    ``expected_version`` is the version that the person saw, :data:`NOT_KEPT` where there was none.
    """
    by = Author.of(settings.person)
    with transaction.atomic():
        person = Person.objects.select_for_update().get(pk=settings.person_id)  # two first keepings at once
        if settings._state.adding and ReminderSettings.objects.filter(person=person).exists():
            raise StaleWriteError(
                gettext(
                    "You kept your settings in another window in the meantime. Load them again and compare."
                )
            )
        change_reading(person, {"time_zone": time_zone}, by=by)
        if settings._state.adding:
            return record.create(settings, by=by)
        return record.change(settings, by=by, expected_version=expected_version)
