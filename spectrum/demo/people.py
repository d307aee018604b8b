"""The people of the demo: one sign-in per role, with a password that everybody may know."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib.auth.hashers import make_password
from django.contrib.auth.models import Group

from sites.models import Person
from sites.services import record
from sites.services.record import Author
from spectrum.roles import (
    ADMINISTRATOR,
    FIELD_ENGINEER,
    MANAGER,
    PLANNER,
    REGISTRAR,
    VIEWER,
    give_permissions,
)

PASSWORD = "orvask-valley-demo"  # noqa: S105 - printed by the command; the command refuses outside the demo


@dataclass(frozen=True)
class SignIn:
    """A person of the demo and the role."""

    username: str
    first_name: str
    last_name: str
    role: str


SIGN_INS = (
    SignIn("vera", "Vera", "Lindqvar", VIEWER),
    SignIn("falk", "Falk", "Ostrevik", FIELD_ENGINEER),
    SignIn("petra", "Petra", "Nordhask", PLANNER),
    SignIn("remi", "Remi", "Kastorell", REGISTRAR),
    SignIn("mona", "Mona", "Velgrath", MANAGER),
    SignIn("anselm", "Anselm", "Dracenow", ADMINISTRATOR),
)


def create(by: Author) -> dict[str, Person]:
    """Make them, and return them by role."""
    give_permissions()
    hashed = make_password(PASSWORD)
    made = {}
    for sign_in in SIGN_INS:
        person = Person(
            username=sign_in.username,
            first_name=sign_in.first_name,
            last_name=sign_in.last_name,
            email=f"{sign_in.username}@orvask-power.example",
            password=hashed,
            is_staff=sign_in.role == ADMINISTRATOR,
        )
        made[sign_in.role] = record.create(person, by=by)
        person.groups.set([Group.objects.get(name=sign_in.role)])
        record.note(person, {"roles": ["", sign_in.role]}, by=by)
    return made
