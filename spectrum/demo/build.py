"""Builds the demo network: parts, links with clear channels, licences, and the troubles planted in them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from django.db import models, transaction

from licences.models import Holder
from sites.services import record
from sites.services.record import Author

from . import equipment, parties, people, places
from .applications import FILED, plant_applications
from .assignment import assign
from .extract import import_extracts
from .licences import Papers, license_all
from .links import regular
from .lives import live, plant_lives
from .papers import plant_papers_and_log
from .planted import found_on_site, plant_links, plant_papers
from .world import Network, World

AUTHOR = Author.system("demo network")
M = TypeVar("M", bound=models.Model)


@dataclass(frozen=True)
class Built:
    """How much there is of what."""

    sites: int
    links: int
    stations: int
    licences: int
    licensed_channels: int


def is_built() -> bool:
    """Whether the demo stands in this register: its own holder is the mark."""
    return Holder.objects.filter(name=parties.OWN).exists()


def build(today: dt.date) -> Built:
    """Write the whole demo, all or nothing. Every date in it is counted from ``today``."""
    with transaction.atomic():
        world = _world(today)
        network = regular(world)
        plant_links(world, network)
        assign(world, network)
        papers = license_all(world, network)
        plant_papers(world, network, papers)
        plant_lives(world, network, papers)
        network.links[FILED].link.reserved_until = None
        built = _write(network, papers, today)
        plant_applications(world, network, AUTHOR)
        live(world, network, papers)
        import_extracts(world, AUTHOR)
        plant_papers_and_log(world)
        return built


def _world(today: dt.date) -> World:
    who = people.create(AUTHOR)
    authorities = {a.code: a for a in _save(parties.authorities())}
    _save(parties.policies(authorities))
    types, modes, masks = equipment.radios()
    _save(types)
    _save(masks)
    return World(
        today=today,
        people=who,
        authorities=authorities,
        holders={h.name: h for h in _save(parties.holders())},
        sites={s.code: s for s in _save(places.sites())},
        antennas={a.name: a for a in _save(equipment.antennas())},
        modes={(m.radio_type.name, m.label): m for m in _save(modes)},
        plans={p.code: p for p in _save(equipment.plans())},
    )


def _write(network: Network, papers: Papers, today: dt.date) -> Built:
    drafted = list(network.links.values())
    licences = _save(list(papers.licences.values()))
    # A pair names its return channel, which therefore goes first.
    alone = [c for c in papers.channels if c.paired_with is None]
    paired = [c for c in papers.channels if c.paired_with is not None]
    channels = [*_save(alone), *_save(paired)]
    _save([x.link for x in drafted])
    stations = []
    for link in drafted:
        for station in link.stations:
            station.link = link.link
            stations.append(station)
    _save(stations)
    _save(found_on_site(network, today))
    return Built(
        sites=len({s.site.pk for s in stations}),
        links=len(drafted),
        stations=len(stations),
        licences=len(licences),
        licensed_channels=len(channels),
    )


def _save(rows: Sequence[M]) -> list[M]:
    """Save new rows; what they name has been saved in the meantime and has its number now."""
    for row in rows:
        for field in row._meta.concrete_fields:
            if isinstance(field, models.ForeignKey) and field.is_cached(row):
                setattr(row, field.name, getattr(row, field.name))
    return record.create_many(rows, by=AUTHOR, reason="the demo network")
