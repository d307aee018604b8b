"""One run of all checks over a network, or over one link of it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from sites.terrain import TerrainStore

from .as_built import AsFound, as_built_findings
from .criteria import Criteria
from .drafts import Draft
from .gaps import gap_findings
from .interference import interference_findings
from .licence_checks import assignment_findings, station_licence_findings
from .link_checks import link_findings
from .neighbours import Tick
from .network import Network
from .site_checks import AtSites, site_findings
from .time_checks import licence_time_findings, reservation_findings


@dataclass(frozen=True)
class Outcome:
    """What a run found, each finding once, and the links whose receivers were looked at with all interferers."""

    drafts: list[Draft]
    victims: set[int]


def run_checks(
    network: Network,
    criteria: Criteria,
    *,
    link_id: int | None = None,
    also_victims: Collection[int] = (),
    terrain: TerrainStore | None = None,
    at_sites: AtSites | None = None,
    as_found: Mapping[int, AsFound] | None = None,
    tick: Tick | None = None,
) -> Outcome:
    """All findings; with ``link_id`` those in which that link has a part.

    ``at_sites`` are the sites to be judged with all stations near them; without it no site is judged.
    ``as_found`` is the latest commissioning record of each station that has one.
    ``also_victims`` are links whose aggregate is to be computed again in a run for one link.
    ``tick(done, total)`` is called as the interference search advances and may raise to stop the run.
    """
    interference = interference_findings(
        network, criteria, link_id=link_id, also_victims=also_victims, terrain=terrain, tick=tick
    )
    drafts = [
        *interference.drafts,
        *other_findings(
            network, criteria, link_id=link_id, at_sites=at_sites, as_found=as_found, terrain=terrain
        ),
    ]
    return Outcome(list({draft.identity: draft for draft in drafts}.values()), interference.victims)


def other_findings(
    network: Network,
    criteria: Criteria,
    *,
    link_id: int | None = None,
    at_sites: AtSites | None = None,
    as_found: Mapping[int, AsFound] | None = None,
    terrain: TerrainStore | None = None,
) -> list[Draft]:
    """All that is not interference: the links themselves, sites, licences, dates, and stations as found."""
    return [
        *link_by_link_findings(network, criteria, link_id=link_id, as_found=as_found, terrain=terrain),
        *(site_findings(at_sites, criteria) if at_sites is not None else ()),
        *licence_wide_findings(network, criteria, link_id=link_id),
    ]


def link_by_link_findings(
    network: Network,
    criteria: Criteria,
    *,
    link_id: int | None = None,
    as_found: Mapping[int, AsFound] | None = None,
    terrain: TerrainStore | None = None,
) -> list[Draft]:
    """What can be said of each link without any other: itself, its licensed channels, its dates, as found."""
    return [
        *link_findings(network, link_id=link_id),
        *gap_findings(network, link_id=link_id),
        *station_licence_findings(network, link_id=link_id),
        *as_built_findings(network, criteria, as_found or {}, terrain, link_id=link_id),
        *reservation_findings(network, criteria, link_id=link_id),
    ]


def licence_wide_findings(network: Network, criteria: Criteria, *, link_id: int | None = None) -> list[Draft]:
    """What takes all licences, and all stations that rely on one, to be seen."""
    return [
        *assignment_findings(network, criteria, link_id=link_id),
        *licence_time_findings(network, criteria, link_id=link_id),
    ]
