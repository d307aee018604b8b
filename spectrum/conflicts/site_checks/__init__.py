"""At a site: duplex isolation, transmitter noise, blocking, band halves, intermodulation, harmonics.

Every receiver at a site is judged with all transmitters up to the near-site distance of the criteria,
whoever's they are; only what concerns one of our stations is reported. A finding names the site of its
receiver, so that a run for some sites knows which findings it has renewed.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from spectrum.conflicts.budget import noise_of
from spectrum.conflicts.criteria import Criteria, limits_of
from spectrum.conflicts.drafts import Draft

from .band_halves import band_half_drafts
from .carriers import blocking_drafts, noise_drafts
from .coupling import coupling_at
from .duplex import duplex_drafts
from .harmonics import harmonic_drafts
from .products import product_drafts
from .records import AtSites, Equipment, Place, places
from .surroundings import Surroundings

__all__ = ["AtSites", "Equipment", "Place", "Surroundings", "places", "site_findings", "surroundings_of"]


def surroundings_of(
    at: AtSites, criteria: Criteria, among: Iterable[Place] | None = None
) -> Iterator[Surroundings]:
    """Every site to be judged at which a station stands, with all transmitters near it at its receivers.

    ``among`` are the places, where they are at hand.
    """
    network = at.network
    if not len(network):
        return
    noise = noise_of(network)
    limits = limits_of(network.rx_hz / 1e6, network.authority, criteria)
    for place in places(at, criteria) if among is None else among:
        yield Surroundings(at, place, coupling_at(at, place, criteria), noise, limits, criteria)


def site_findings(at: AtSites, criteria: Criteria, among: Iterable[Place] | None = None) -> list[Draft]:
    """All findings at the sites to be judged, or at the places ``among`` them."""
    own = at.network.own
    drafts: list[Draft] = []
    for around in surroundings_of(at, criteria, among):
        # Where nothing is ours there is nothing to find: other parties are not judged among themselves.
        if not (own[around.coupling.tx].any() or own[around.coupling.rx].any()):
            continue
        drafts += duplex_drafts(around)
        drafts += noise_drafts(around)
        drafts += blocking_drafts(around)
        drafts += band_half_drafts(around)
        drafts += product_drafts(around)
        drafts += harmonic_drafts(around)
    return drafts
