"""Applications for tests: a register with one or more planned links, drawn up and filed through the services."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import Any

from licences.models import Application
from spectrum.models import FiledStation, Link
from spectrum.services import applications
from spectrum.services.applications import Grant, GrantedChannel
from tests.made import DAY, TESTS, TODAY, Register, site

FILED_ON = TODAY - 30 * DAY
GRANTED_ON = TODAY - 2 * DAY
WHY = "The conflict is agreed with the other party."


@dataclass
class Desk:
    """A register with one link L-1 from S1 to S2, and what is done with applications in it."""

    register: Register
    link: Link

    def draft(self, *links: Link, number: str = "A-2026-001", **changes: Any) -> Application:
        values = {"contact": "Radio office, Mill Lane 3, radio@example.org, +99 1 234", **changes}
        application = Application(
            number=number, authority=self.register.authority, holder=self.register.own, **values
        )
        return applications.draw_up(application, links or (self.link,), by=TESTS, today=TODAY)

    def filed(self, *links: Link, **changes: Any) -> Application:
        drafted = self.draft(*links, **changes)
        return applications.file(drafted, by=TESTS, filed_on=FILED_ON, today=TODAY, despite=WHY)


def desk(**changes: Any) -> Desk:
    register = Register()
    values = {"reserved_until": TODAY + 20 * DAY, "starts_on": TODAY + 90 * DAY, **changes}
    return Desk(register, register.link("L-1", site("S1"), site("S2", 47.2), **values))


def terms(application: Application, *, number: str = "LIC-7", **changes: Any) -> Grant:
    """A grant of what was asked; ``changes`` are put into every channel, ``grant_`` ones into the grant."""
    filed = FiledStation.objects.filter(application_link__application=application).order_by("id")
    of_grant = {
        name.removeprefix("grant_"): changes.pop(name) for name in list(changes) if name.startswith("grant_")
    }
    channels: dict[int, GrantedChannel] = {
        kept.pk: replace(applications.as_asked(kept, application.asked), **changes) for kept in filed
    }
    values: dict[str, Any] = {
        "granted_on": GRANTED_ON,
        "in_force_from": GRANTED_ON,
        "expires_on": dt.date(2036, 5, 31),
        "tolerance_m": 100.0,
        **of_grant,
    }
    return Grant(number=number, channels=channels, **values)
