"""How a person reads the register, as they set it themselves. Accounts and roles are entered by an administrator."""

from __future__ import annotations

from typing import Final

from django.db import transaction
from django.utils.translation import gettext

from sites.errors import StaleWriteError
from sites.models import Person

from . import record
from .record import Author

READING: Final = ("language", "formats", "power_unit", "time_zone")


def as_seen(person: Person) -> str:
    """What a person has chosen, as one text: a form carries it, so that an older one does not undo a newer."""
    return "|".join(getattr(person, name) for name in READING)


def change_reading(person: Person, wanted: dict[str, str], *, by: Author, seen: str = "") -> Person:
    """Store what a person chose of :data:`READING`; the rest stays as it is.

    ``seen`` is what the person saw (:func:`as_seen`); StaleWriteError when something else is stored by now.
    ValidationError names the field of what is not offered.
    """
    with transaction.atomic():
        stored = Person.objects.select_for_update().get(pk=person.pk)
        if seen and seen != as_seen(stored):
            raise StaleWriteError(
                gettext(
                    "This was changed in the meantime, in another window or by an administrator. What is stored "
                    "now stands beside each field; save again to put yours in its place."
                )
            )
        for name, value in wanted.items():
            setattr(stored, name, value)
        return record.change(stored, by=by)
