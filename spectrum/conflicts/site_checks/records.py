"""What the checks at a site need besides the network, and who stands near whom."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from sites.band_exceptions import BandException
from sites.geodesy import ecef
from spectrum.conflicts.columns import IntArray
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.network import Network


@dataclass(frozen=True)
class Equipment:
    """What is entered about a station's isolation, and the site figures of its radio type; None: not known."""

    duplexer_isolation_db: float | None = None
    spacing_m: float | None = None
    spacing_vertical_m: float | None = None
    blocking_level_dbm: float | None = None
    transmitter_noise_dbc_per_hz: float | None = None
    third_order_intercept_dbm: float | None = None

    @property
    def isolation_entered(self) -> bool:
        """Whether anything says what stands between its transmitter and its receiver."""
        return self.duplexer_isolation_db is not None or bool(self.spacing_m or self.spacing_vertical_m)


NOTHING_ENTERED = Equipment()


@dataclass(frozen=True)
class AtSites:
    """A network with the equipment of its stations (by station) and the exceptions of its sites (by site).

    ``sites`` are those to be judged; all where it is None. The network must hold every station within the
    near-site distance of them. ``site_id`` is the site of every station, where it is at hand as a column.
    """

    network: Network
    equipment: Mapping[int, Equipment] = field(default_factory=dict)
    exceptions: Mapping[int, tuple[BandException, ...]] = field(default_factory=dict)
    sites: frozenset[int] | None = None
    site_id: IntArray | None = None

    def of_stations(self, numbers: Sequence[int] | IntArray) -> list[Equipment]:
        """The equipment of stations, by their number in the network."""
        return [self.equipment.get(key, NOTHING_ENTERED) for key in self.network.station_id[numbers].tolist()]

    def site_ids(self) -> IntArray:
        """The site of every station."""
        if self.site_id is not None:
            return self.site_id
        return np.array([station.site_id for station in self.network.stations], dtype=np.int64)


@dataclass(frozen=True)
class Place:
    """A site with the stations that stand at it, and all stations near it, those at it included.

    Numbers count in the network; ``apart_m`` is the distance of each near station's site.
    """

    site_id: int
    here: IntArray
    near: IntArray
    apart_m: np.ndarray


def places(at: AtSites, criteria: Criteria) -> Iterator[Place]:
    """Every site to be judged at which a station stands, by number."""
    site_id = at.site_ids()
    ids, first, which = np.unique(site_id, return_index=True, return_inverse=True)
    if not len(ids):
        return
    position = ecef(at.network.latitude_deg[first], at.network.longitude_deg[first])
    by_site = np.split(np.argsort(which, kind="stable"), np.cumsum(np.bincount(which))[:-1])
    # Cells as wide as the near-site distance: what is near stands in the same cell or in one beside it.
    width = max(criteria.near_site_within_m, criteria.same_site_within_m)
    cells: dict[tuple[int, int, int], list[int]] = {}
    index = np.floor(position / width).astype(np.int64)
    for number, (x, y, z) in enumerate(index.tolist()):
        cells.setdefault((x, y, z), []).append(number)
    for number, (x, y, z) in enumerate(index.tolist()):
        if at.sites is not None and int(ids[number]) not in at.sites:
            continue
        beside = (cells.get((x + i, y + j, z + k), []) for i, j, k in itertools.product((-1, 0, 1), repeat=3))
        others = np.array(sorted(itertools.chain.from_iterable(beside)), dtype=np.int64)
        apart = np.linalg.norm(position[others] - position[number], axis=-1)
        others, apart = others[apart <= width], apart[apart <= width]
        yield Place(
            site_id=int(ids[number]),
            here=by_site[number],
            near=np.concatenate([by_site[other] for other in others]),
            apart_m=np.repeat(apart, [len(by_site[other]) for other in others]),
        )


def together(network: Network, one: IntArray, other: IntArray) -> np.ndarray:
    """Whether the links of two stations are ever live on the same day; broadcasts."""
    both: np.ndarray = (network.starts[one] <= network.ends[other]) & (
        network.starts[other] <= network.ends[one]
    )
    return both
