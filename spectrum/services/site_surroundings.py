"""What the checks at a site need from the register: everybody near, their equipment, the documented exceptions."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

import numpy as np
from django.db.models import Q

from sites.band_exceptions import BandException, band_exceptions
from sites.geodesy import ecef
from sites.models import ChangeRecord, Site
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.gather import links_whole
from spectrum.conflicts.network import Network, StationRecord
from spectrum.conflicts.site_checks import AtSites, Equipment, Place
from spectrum.models import Check, Link, Station

# A degree of latitude is at least 110.57 km on WGS 84; one of longitude as much times the cosine, at least.
_LEAST_METRES_PER_DEGREE = 110_500.0
_BATCH = 500
_ABOUT_EQUIPMENT = (
    "id",
    "duplexer_isolation_db",
    "antenna_spacing_m",
    "antenna_spacing_vertical_m",
    "radio_type__blocking_level_dbm",
    "radio_type__transmitter_noise_dbc_per_hz",
    "radio_type__third_order_intercept_dbm",
)


def equipment_of(station: Station) -> Equipment:
    """What the checks at a site want to know of a station that need not be in the register."""
    radio = station.radio_type
    return Equipment(
        duplexer_isolation_db=station.duplexer_isolation_db,
        spacing_m=station.antenna_spacing_m,
        spacing_vertical_m=station.antenna_spacing_vertical_m,
        blocking_level_dbm=radio.blocking_level_dbm,
        transmitter_noise_dbc_per_hz=radio.transmitter_noise_dbc_per_hz,
        third_order_intercept_dbm=radio.third_order_intercept_dbm,
    )


def all_sites(network: Network) -> AtSites:
    """A network with the equipment of all its stations; every site is judged."""
    return _with_equipment(network, Q(link__status__in=Link.LIVE), None)


def equipped(at: AtSites, places: Sequence[Place]) -> AtSites:
    """With the equipment of the stations near some places, and the exceptions documented at their sites."""
    if not places:
        return at
    near = np.unique(np.concatenate([place.near for place in places]))
    sites = set(at.site_ids()[near].tolist())
    equipment: dict[int, Equipment] = {}
    keys = at.network.station_id[near].tolist()
    for start in range(0, len(keys), _BATCH):
        rows = Station.objects.filter(pk__in=keys[start : start + _BATCH]).values_list(*_ABOUT_EQUIPMENT)
        equipment.update((number, Equipment(*figures)) for number, *figures in rows)
    return replace(
        at,
        equipment=equipment,
        exceptions={site: found for site, found in documented_exceptions().items() if site in sites},
    )


def sites_around(link: Link, as_of: dt.date, criteria: Criteria) -> AtSites:
    """The sites that a link's stations stand at or stood at, and the sites near those, with all they depend on."""
    judged = _near(sites_of(link), _reach_m(criteria))
    return _with_neighbours(judged, as_of, criteria)


def one_site(site: Site, as_of: dt.date, criteria: Criteria) -> AtSites:
    """One site to be judged, with everybody near it."""
    return _with_neighbours({site.pk}, as_of, criteria)


def _reach_m(criteria: Criteria) -> float:
    return max(criteria.near_site_within_m, criteria.same_site_within_m)


def _with_neighbours(judged: Collection[int], as_of: dt.date, criteria: Criteria) -> AtSites:
    near = _near(judged, _reach_m(criteria))
    stand_near = Station.objects.filter(site__in=near, link__status__in=Link.LIVE)
    links = set(stand_near.values_list("link_id", flat=True))
    return _with_equipment(links_whole(links, as_of), Q(link__in=links), frozenset(judged))


def sites_around_draft(
    drafted: Sequence[StationRecord],
    equipment: Mapping[int, Equipment],
    as_of: dt.date,
    criteria: Criteria,
    *,
    replaces: int | None,
    but: Collection[int] = (),
) -> AtSites:
    """The sites that stations stand at which are not in the register, with all they depend on.

    ``equipment`` is theirs, by station; ``replaces`` is the link of the register that they stand for. Sites
    near theirs are taken into account and not judged anew; the sites ``but`` are left out.
    """
    reach_m = max(criteria.near_site_within_m, criteria.same_site_within_m)
    judged = {station.site_id for station in drafted} - set(but)
    stand_near = Station.objects.filter(site__in=_near(judged, reach_m), link__status__in=Link.LIVE)
    links = set(stand_near.values_list("link_id", flat=True)) - {replaces}
    network = Network(as_of=as_of, stations=[*links_whole(links, as_of).stations, *drafted])
    around = _with_equipment(network, Q(link__in=links), frozenset(judged))
    return replace(around, equipment={**around.equipment, **equipment})


def crowded_sites(sites: Collection[int], criteria: Criteria, *, more_than: int) -> set[int]:
    """Those of the sites at or near which more live stations stand than said."""
    reach_m = max(criteria.near_site_within_m, criteria.same_site_within_m)
    live = Station.objects.filter(link__status__in=Link.LIVE)
    return {one for one in sites if live.filter(site__in=_near({one}, reach_m)).count() > more_than}


def sites_of(link: Link) -> set[int]:
    """Sites of a link's stations, and those that they stood at when the last check looked.

    The change record names them. What was changed earlier than that check was seen by it; an hour more
    covers a change that was being written while it ran.
    """
    stations = link.stations.values_list("id", "site_id")
    found = {site for _, site in stations}
    looked = Check.objects.filter(Q(link=link) | Q(scope=Check.Scope.NETWORK), ended_at__isnull=False)
    last = looked.order_by("-started_at").values_list("started_at", flat=True).first()
    if last is None:
        return found
    changes = ChangeRecord.objects.filter(
        Q(object_id__in=[number for number, _ in stations]) | Q(object_label__startswith=f"{link.code}/"),
        object_type="spectrum.station",
        at__gte=last - dt.timedelta(hours=1),
    )
    for change in changes.values_list("changes", flat=True):
        found |= {site for site in change.get("site_id", ()) if isinstance(site, int)}
    return found


def _near(sites: Collection[int], reach_m: float) -> set[int]:
    """All sites within a distance of any of the sites named, those included."""
    centres = list(Site.objects.filter(pk__in=sites).values_list("latitude_deg", "longitude_deg"))
    if not centres:
        return set()
    boxes = Q()
    for latitude, longitude in centres:
        up = reach_m / _LEAST_METRES_PER_DEGREE
        box = Q(latitude_deg__range=(latitude - up, latitude + up))
        across = up / max(math.cos(math.radians(min(abs(latitude) + up, 90.0))), 1e-6)
        # Across the date line, and around a pole, a box of longitudes would cut off neighbours.
        if abs(longitude) + across < 180.0:
            box &= Q(longitude_deg__range=(longitude - across, longitude + across))
        boxes |= box
    rows = np.array(list(Site.objects.filter(boxes).values_list("id", "latitude_deg", "longitude_deg")))
    centre = ecef(*np.array(centres).T)
    away = np.linalg.norm(ecef(rows[:, 1], rows[:, 2])[:, None, :] - centre[None, :, :], axis=-1)
    return {int(number) for number in rows[(away <= reach_m).any(axis=1), 0]}


def _with_equipment(network: Network, which: Q, sites: frozenset[int] | None) -> AtSites:
    rows = Station.objects.filter(which).values_list(*_ABOUT_EQUIPMENT)
    return AtSites(
        network=network,
        equipment={number: Equipment(*figures) for number, *figures in rows},
        exceptions=documented_exceptions(),
        sites=sites,
    )


def documented_exceptions() -> dict[int, tuple[BandException, ...]]:
    """The exceptions from the band-half rule, by the site they are documented with; few sites have any."""
    documented = Site.objects.exclude(band_half_exceptions="").values_list("id", "band_half_exceptions")
    return {site: band_exceptions(text) for site, text in documented}
