"""One application of the invented utility in each state, entered as it would stand; nothing is checked or queued."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from licences.applying import State
from licences.models import Application
from sites.services import record
from sites.services.record import Author
from spectrum.filing.conflicts import link_report
from spectrum.filing.figures import figures_of_link
from spectrum.filing.notation import general_values
from spectrum.models import ApplicationLink, FiledStation, Link
from spectrum.roles import PLANNER

from .parties import KLSO, OWN, TMRB
from .world import Network, World

_CONTACT = (
    "Radio office of Orvask Valley Power, Mill Lane 3, Hethby; radio@orvask-power.example; +00 555 0147"
)
_ON_PAPER = "Coordinated on paper before this register was in use."
#: Held until it is decided, so without a last day.
FILED = "U41-240"


@dataclass(frozen=True)
class _Planted:
    """An application: its links, and its days counted from the day of building."""

    state: State
    authority: str
    links: tuple[str, ...]
    filed: int | None = None
    decided: int | None = None
    reference: str = ""
    values: dict[str, Any] = field(default_factory=dict)


_PLANTED = (
    _Planted(
        State.REFUSED, KLSO, ("U41-231",), filed=-400, decided=-310, reference="KLSO/F/2210",
        values={"decision_remarks": "The authority asked for a narrower channel."},
    ),
    _Planted(
        State.WITHDRAWN, TMRB, ("U41-204",), filed=-380, decided=-350,
        values={"decision_remarks": "The route was planned anew."},
    ),
    _Planted(State.GRANTED, KLSO, ("U41-222",), filed=-70, decided=-5, reference="KLSO/F/2304"),
    _Planted(State.FILED, KLSO, (FILED,), filed=-25, reference="KLSO/F/2317"),
    # Nobody entered yet whom the authority may ring up.
    _Planted(State.DRAFTING, KLSO, ("U41-204", "U41-231"), values={"contact": ""}),
)  # fmt: skip


def plant_applications(world: World, network: Network, by: Author) -> None:
    """Enter the applications; links, stations and licences are there already."""
    year = world.today.year
    for number, planted in enumerate(_PLANTED, start=1):
        drafted = [network.links[code] for code in planted.links]
        licensed = drafted[0].stations[0].licensed_channel
        authority = world.authorities[planted.authority]
        if planted.state is State.GRANTED and licensed is not None:
            authority = licensed.licence.authority
        application = Application(
            number=f"A-{year}-{number:03d}",
            authority=authority,
            holder=world.holders[OWN],
            drawn_up_by=world.people[PLANNER],
            state=planted.state.value,
            authority_reference=planted.reference,
            **{"contact": _CONTACT, **planted.values},
        )
        if planted.filed is not None:
            application.filed_on, application.filed_despite = world.day(planted.filed), _ON_PAPER
        if planted.decided is not None:
            application.decided_on = world.day(planted.decided)
        (application,) = record.create_many([application], by=by)
        links = [x.link for x in drafted]
        rows = record.create_many([ApplicationLink(application=application, link=x) for x in links], by=by)
        if planted.filed is not None:
            _file(world, application, rows, by)
        if planted.state is State.GRANTED and licensed is not None:
            licensed.licence.application = application
            record.change(licensed.licence, by=by)


def _file(world: World, application: Application, rows: list[ApplicationLink], by: Author) -> None:
    granted = application.state == State.GRANTED
    filed = [
        FiledStation(
            application_link=row,
            station=station,
            label=station.label,
            figures=figures.as_json(),
            licensed_channel=station.licensed_channel if granted else None,
        )
        for row in rows
        for station, figures in figures_of_link(Link.objects.get(pk=row.link_id), world.today)
    ]
    record.create_many(filed, by=by)
    application.filed_as = {
        "asked": list(application.authority.asked_fields),
        "general": {key: filled.value for key, filled in general_values(application).items()},
    }
    for row in rows:
        row.report = link_report(row.link).as_json()
        record.change(row, by=by)
    record.change(application, by=by)
