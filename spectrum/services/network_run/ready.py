"""A run's network, ready to be searched, and how it is cut into ranges of about equal cost."""

from __future__ import annotations

import datetime as dt
import hashlib
import itertools
import json
from functools import cached_property
from typing import Any

import numpy as np

from sites.errors import RegisterError
from sites.sentences import sentence
from sites.words import gettext_noop as _
from spectrum.conflicts.columns import FloatArray
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.gather import criteria_in_force, terrain_in_force
from spectrum.conflicts.interference import Prepared
from spectrum.conflicts.neighbours import emissions_heard
from spectrum.conflicts.site_checks import AtSites, Place, places
from spectrum.conflicts.snapshot import Register
from spectrum.models import NetworkRun
from spectrum.services.register_columns import register_at

# About half a second of search on one core, counted in emissions that receivers hear.
COST_PER_SHARD = 2_000_000
COST_PER_RECEIVER = 50
# About a second on one core, in microseconds: a site takes some milliseconds, and the products at it grow with
# at least the square of the stations near.
SITE_COST_PER_SHARD = 1_000_000
COST_PER_SITE = 4_000
COST_PER_TWO_STATIONS = 60
# About a second of reading records and comparing them on one core.
STATIONS_PER_SHARD = 8_000

Range = tuple[int, int]


class MovedOnError(RegisterError):
    """The register has changed since the run was planned, and its revision is not at hand here."""


class Ready:
    """The network of a run, in the orders that the ranges of its shards count in."""

    def __init__(self, register: Register, as_of: dt.date, criteria: Criteria) -> None:
        self.prepared = Prepared(register.network(as_of), criteria, terrain_in_force())
        network, receivers = self.prepared.network, self.prepared.receivers
        #: Receivers by mode and frequency.
        self.receivers = receivers[np.lexsort((receivers, network.rx_hz[receivers], network.mode[receivers]))]
        self._site_id = register.live(as_of).site_ids()

    @cached_property
    def at_sites(self) -> AtSites:
        """The network for the checks at sites, still without anybody's equipment."""
        return AtSites(self.prepared.network, site_id=self._site_id)

    @cached_property
    def places(self) -> list[Place]:
        """Every site at which a station stands, by key."""
        return list(places(self.at_sites, self.prepared.criteria))

    def ranges_of_receivers(self, shards: int | None) -> list[Range]:
        """Ranges of :attr:`receivers`."""
        if not len(self.receivers):
            return []
        cost = emissions_heard(self.prepared.network, self.receivers) + COST_PER_RECEIVER
        return _cut(cost.astype(np.float64), COST_PER_SHARD, shards)

    def ranges_of_sites(self, shards: int | None) -> list[Range]:
        """Ranges of :attr:`places`."""
        near = np.array([len(place.near) for place in self.places], dtype=np.float64)
        return _cut(COST_PER_SITE + COST_PER_TWO_STATIONS * near**2, SITE_COST_PER_SHARD, shards)

    def ranges_of_links(self, shards: int | None) -> list[Range]:
        """Ranges of the keys of links, the last one not included."""
        links, stations = np.unique(self.prepared.network.link_id, return_counts=True)
        if not len(links):
            return []
        keys = [*links.tolist(), int(links[-1]) + 1]
        return [
            (keys[first], keys[last])
            for first, last in _cut(stations.astype(np.float64), STATIONS_PER_SHARD, shards)
        ]


def _cut(cost: FloatArray, cost_per_range: float, ranges: int | None) -> list[Range]:
    """Ranges of about equal cost, so many or as many as their cost asks for; none of nothing."""
    if not len(cost):
        return []
    total = np.cumsum(cost)
    wanted = ranges or int(-(-total[-1] // cost_per_range))
    cuts = np.searchsorted(total, total[-1] * np.arange(1, wanted) / wanted)
    return list(itertools.pairwise([0, *cuts.tolist(), len(cost)]))


def parameters_in_force() -> dict[str, Any]:
    """What a run depends on besides the register."""
    terrain = terrain_in_force()
    return {**criteria_in_force().as_json(), "terrain": terrain.fingerprint if terrain else ""}


def digest_of(parameters: dict[str, Any]) -> str:
    return hashlib.sha256(json.dumps(parameters, sort_keys=True).encode()).hexdigest()


_kept: dict[tuple[Any, ...], Ready] = {}


def ready_for(run: NetworkRun) -> Ready:
    """The run's network; kept for the next shard of the same run.

    Raises MovedOnError when its revision is neither the present one nor on file here, RegisterError when
    this worker has other settings than the one that planned the run.
    """
    key = (run.revision, run.as_of, run.parameters_digest)
    known = _kept.get(key)
    if known is not None:
        return known
    if digest_of(parameters_in_force()) != run.parameters_digest:
        raise RegisterError(
            sentence(
                _(
                    "The check was planned with other criteria, climate or terrain than are in force here; "
                    "give every worker the same settings and terrain folder, and start the check again."
                )
            )
        )
    register = register_at(run.revision)
    if register is None:
        raise MovedOnError(sentence(_("The register has changed since this check was planned.")))
    ready = Ready(register, run.as_of, criteria_in_force())
    _kept.clear()  # one network at a time
    _kept[key] = ready
    return ready
