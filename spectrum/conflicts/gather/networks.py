"""Networks of records: the whole register, a part of it, or links that are not in it yet."""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Collection, Iterable, Sequence

import numpy as np
from django.db.models import Q, QuerySet

from licences.models import Licence, LicensedChannel
from spectrum.conflicts.network import ChannelRecord, Network, StationRecord
from spectrum.models import Link, Station

from .fetching import links_of_stations
from .records import Gatherer


def whole_network(as_of: dt.date) -> Network:
    """All live links, all licences and licensed channels, as they stand on a date."""
    gatherer = Gatherer(as_of)
    stations = gatherer.stations(_live(as_of))
    licences = [
        gatherer.licence(row) for row in Licence.objects.select_related("authority__renewal_policy", "holder")
    ]
    channels = [gatherer.channel(row) for row in _channels()]
    return Network(as_of=as_of, stations=stations, licences=licences, channels=channels)


def around_link(link: Link, as_of: dt.date, also_victims: Collection[int] = ()) -> Network:
    """One link, every live station whose masks could share a frequency with it, and their interferers.

    The frequency window is the widest mask in the register on either side, so it leaves out nothing
    that could matter; it is opened twice, because the sum at a victim needs the victim's other
    interferers too. ``also_victims`` are links whose receivers are wanted with all their interferers.
    """
    gatherer = Gatherer(as_of)
    ends = list(link.stations.all())
    window = 2 * gatherer.widest_span_hz()
    extra = Station.objects.filter(link_id__in=also_victims, rx_frequency_hz__isnull=False)
    heard = {e.rx_frequency_hz for e in ends if e.rx_frequency_hz is not None}
    heard |= {hertz for hertz in extra.values_list("rx_frequency_hz", flat=True) if hertz is not None}
    near = Q(link=link) | Q(link_id__in=also_victims)
    for hertz in heard:
        near |= Q(tx_frequency_hz__range=(hertz - window, hertz + window))
    for hertz in {e.tx_frequency_hz for e in ends if e.tx_frequency_hz is not None}:
        near |= Q(rx_frequency_hz__range=(hertz - window, hertz + window))
        near |= Q(tx_frequency_hz__range=(hertz - 2 * window, hertz + 2 * window))
    near |= Q(licensed_channel__in=[e.licensed_channel_id for e in ends if e.licensed_channel_id is not None])
    # The other ends of neighbours give them their pointing; links are therefore taken whole.
    links = set(_live(as_of).filter(near).values_list("link_id", flat=True)) | {link.pk}
    stations = gatherer.stations(_live(as_of).filter(link_id__in=links))
    channels = {s.channel.id: s.channel for s in stations if s.channel is not None and s.link.id == link.pk}
    licences = {c.licence.id: c.licence for c in channels.values()}
    return Network(
        as_of=as_of, stations=stations, licences=list(licences.values()), channels=list(channels.values())
    )


def with_same_channels(link: Link, as_of: dt.date) -> Network:
    """One link, and the links that rely on the same licensed channels, with the papers of the first."""
    gatherer = Gatherer(as_of)
    licensed = link.stations.filter(licensed_channel__isnull=False).values("licensed_channel_id")
    same = _live(as_of).filter(licensed_channel__in=licensed).order_by().values_list("link_id", flat=True)
    stations = gatherer.stations(_live(as_of).filter(link_id__in={link.pk, *same}))
    channels = {s.channel.id: s.channel for s in stations if s.channel is not None and s.link.id == link.pk}
    licences = {c.licence.id: c.licence for c in channels.values()}
    return Network(
        as_of=as_of, stations=stations, licences=list(licences.values()), channels=list(channels.values())
    )


def links_near(
    ranges_hz: Collection[tuple[int, int]],
    modes: Collection[int],
    positions: Collection[tuple[float, float]],
) -> list[int]:
    """Links that could share a frequency with one of ``modes`` (keys) in a range, or stand near a position.

    Not all of them need be live.
    """
    gatherer = Gatherer(dt.date.min)
    own_hz = max(gatherer.span_hz(mode) for mode in modes)
    # One question for each way a link can be near: joined by "or" a database walks all stations for the places.
    near = []
    for span_hz, others in gatherer.modes_by_span().items():
        for low, high in ranges_hz:
            window = (low - own_hz - span_hz, high + own_hz + span_hz)
            near += [Q(mode__in=others, tx_frequency_hz__range=window)]
            near += [Q(mode__in=others, rx_frequency_hz__range=window)]
    for latitude_deg, longitude_deg in positions:
        # A window for the index; who stands within the site distance is decided by the distance.
        wide = min(0.01 / max(np.cos(np.radians(latitude_deg)), 1e-6), 180.0)
        near.append(
            Q(
                site__latitude_deg__range=(latitude_deg - 0.01, latitude_deg + 0.01),
                site__longitude_deg__range=(longitude_deg - wide, longitude_deg + wide),
            )
        )
    return sorted(set().union(*(links_of_stations(condition) for condition in near)))


def unused_channels(ranges_hz: Collection[tuple[int, int]], as_of: dt.date) -> list[ChannelRecord]:
    """Our own licensed channels in the ranges that no live link uses and whose last day is not past."""
    gatherer = Gatherer(as_of)
    licensed = Q(pk__in=[])
    for low, high in ranges_hz:
        licensed |= Q(frequency_hz__range=(low, high))
    used = _live(as_of).filter(licensed_channel__isnull=False).order_by().values("licensed_channel_id")
    rows = _channels().filter(licensed, licence__holder__own=True).exclude(pk__in=used)
    channels = [gatherer.channel(row) for row in rows]
    return [c for c in channels if c.last_day >= as_of]


def drafted_network(links: Iterable[tuple[Link, Sequence[Station]]], as_of: dt.date) -> Network:
    """Links that are not in the register yet, to try frequencies before anything is written.

    What the stations name (sites, antenna and radio types, plans, holders) must be stored. Links and
    stations are numbered from 1 in the order given, for the time of this call only.
    """
    rows: list[Station] = []
    for number, (link, stations) in enumerate(links, start=1):
        link.pk = number
        for station in stations:
            station.link = link
            station.pk = len(rows) + 1
            rows.append(station)
    try:
        return Network(as_of=as_of, stations=Gatherer(as_of).stations(rows))
    finally:
        for station in rows:
            station.pk = station.link.pk = None
            station.link_id = None  # type: ignore[assignment]  # as before it was numbered


def as_drafted(stations: Sequence[Station], as_of: dt.date) -> list[StationRecord]:
    """The stations of one link as they are entered, stored or not; the rows themselves are left alone."""
    rows = [copy.copy(station) for station in stations]
    for number, row in enumerate(rows, start=1):
        row.pk = number
    return Gatherer(as_of).stations(rows)


def links_whole(links: Collection[int], as_of: dt.date) -> Network:
    """The live ones among some links, each with all its stations."""
    return Network(as_of=as_of, stations=Gatherer(as_of).stations(_live(as_of).filter(link_id__in=links)))


def links_between(first: int, last: int, as_of: dt.date) -> Network:
    """The live links whose keys go from ``first`` to below ``last``, each with all its stations."""
    rows = _live(as_of).filter(link_id__gte=first, link_id__lt=last)
    return Network(as_of=as_of, stations=Gatherer(as_of).stations(rows))


def all_licences(as_of: dt.date) -> Network:
    """All licences and licensed channels, with the live stations that name one."""
    gatherer = Gatherer(as_of)
    stations = gatherer.stations(_live(as_of).filter(licensed_channel__isnull=False))
    licences = [
        gatherer.licence(row) for row in Licence.objects.select_related("authority__renewal_policy", "holder")
    ]
    channels = [gatherer.channel(row) for row in _channels()]
    return Network(as_of=as_of, stations=stations, licences=licences, channels=channels)


def one_link(link: Link, as_of: dt.date) -> Network:
    """A link alone, for its own geometry and its licence comparison."""
    return Network(as_of=as_of, stations=Gatherer(as_of).stations(_all_stations().filter(link=link)))


def _all_stations() -> QuerySet[Station]:
    return Station.objects.select_related(
        "link__holder",
        "link__channel_plan",
        "site",
        "antenna_type",
        "licensed_channel__licence__authority__renewal_policy",
        "licensed_channel__licence__holder",
        "licensed_channel__site",
    ).order_by("link_id", "label")


def _live(as_of: dt.date) -> QuerySet[Station]:
    """Stations of links that are or will be live on or after a date."""
    return _all_stations().filter(
        Q(link__status__in=Link.LIVE) & (Q(link__ends_on__isnull=True) | Q(link__ends_on__gte=as_of))
    )


def _channels() -> QuerySet[LicensedChannel]:
    return LicensedChannel.objects.select_related(
        "licence__authority__renewal_policy", "licence__holder", "site"
    )
