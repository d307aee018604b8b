"""Which features a box or a period selects. What has no place, or no time, is selected by every one of them."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from typing import Any

import shapely
from django.db.models import Max, Min, Q, QuerySet

from licences.models import LicensedChannel
from licences.places import place_of_channel
from sites.tables import Geometry
from sites.tables.geometry import Position
from spectrum.models import Finding, Link, Station
from spectrum.places import ROLE_ORDER, place_of_link, place_of_parties

from .parameters import Box, Period


def sites_in(box: Box, path: str = "") -> Q:
    """The condition on sites, or on what reaches a site by ``path`` ("site__")."""
    inside = Q()
    for west, south, east, north in box.parts:
        inside |= Q(
            **{f"{path}longitude_deg__range": (west, east), f"{path}latitude_deg__range": (south, north)}
        )
    return inside


def links_in(box: Box) -> Q:
    """The condition on links whose lines touch a box: with a station inside, or crossing it.

    Only links whose stations lie around the box without one inside are drawn to see.
    """
    inside = Station.objects.filter(sites_in(box, "site__")).values("link")
    envelopes = Link.objects.exclude(pk__in=inside).annotate(
        west=Min("stations__site__longitude_deg"),
        east=Max("stations__site__longitude_deg"),
        south=Min("stations__site__latitude_deg"),
        north=Max("stations__site__latitude_deg"),
    )
    _w, south, _e, north = box.parts[0]
    overlapping = Q()
    for west, _s, east, _n in box.parts:
        # A line over the antimeridian has its ends at the far sides of its envelope.
        overlapping |= Q(west__lte=east, east__gte=west) | Q(west__lt=0, east__gt=0)
    near = envelopes.filter(overlapping, south__lte=north, north__gte=south)
    shape = _shape(box)
    crossing = [
        link.pk
        for link in near.prefetch_related("stations__site").iterator(chunk_size=500)
        if _touches(place_of_link(link), shape)
    ]
    return Q(pk__in=inside) | Q(pk__in=crossing) | Q(stations=None)


def findings_in(box: Box, findings: QuerySet[Finding]) -> Q:
    """The condition on those of some findings whose line, point or area touches a box."""
    positions: dict[int, dict[str, Position]] = defaultdict(dict)
    orders: dict[int, list[tuple[int, int, str]]] = defaultdict(list)
    stations = Station.objects.values_list(
        "link_id", "label", "role", "site__longitude_deg", "site__latitude_deg"
    )
    for link, label, role, longitude, latitude in stations.iterator():
        positions[link][label] = (longitude, latitude)
        orders[link].append((ROLE_ORDER[Station.Role(role)], len(label), label))
    shape = _shape(box)
    found, by_channel = [], defaultdict(list)
    rows = findings.prefetch_related(None).order_by("pk").values_list(
        "pk", "link_id", "station_label", "other_link_id", "other_station_label",
        "site__longitude_deg", "site__latitude_deg", "licensed_channel_id",
    )  # fmt: skip
    for pk, link, label, other_link, other_label, longitude, latitude, channel in rows.iterator():
        site = None if longitude is None else (longitude, latitude)
        star = [positions[link][label] for _o, _l, label in sorted(orders[link])] if link else []
        where = place_of_parties(
            positions[link].get(label) if link else None,
            positions[other_link].get(other_label) if other_link else None,
            site,
            star,
        )
        if where is None and channel is not None:
            by_channel[channel].append(pk)
        elif _touches(where, shape):
            found.append(pk)
    for row in LicensedChannel.objects.select_related("site").filter(pk__in=list(by_channel)):
        if _touches(place_of_channel(row), shape):
            found += by_channel[row.pk]
    return Q(pk__in=found)


def on_air_in(period: Period) -> Q:
    """The condition on links whose days on the air meet a period."""
    when = Q()
    if period.end is not None:
        when &= Q(starts_on=None) | Q(starts_on__lte=period.end.date())
    if period.start is not None:
        when &= Q(ends_on=None) | Q(ends_on__gte=period.start.date())
    return when


def found_in(period: Period) -> Q:
    """The condition on current findings seen first before the end of a period: they stand since."""
    return Q(first_seen_at__lte=period.end) if period.end is not None else Q()


def as_moment(day: dt.date | None) -> dt.datetime | None:
    """The first moment of a day, UTC."""
    return None if day is None else dt.datetime.combine(day, dt.time.min, dt.UTC)


def _shape(box: Box) -> Any:
    corners = [shapely.MultiPoint([(west, south), (east, north)]) for west, south, east, north in box.parts]
    return shapely.union_all([shapely.envelope(each) for each in corners])


def _touches(where: Geometry | None, shape: Any) -> bool:
    return where is None or bool(shapely.intersects(shapely.geometry.shape(where.as_json()), shape))
