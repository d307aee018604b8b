"""Reading who holds and who uses a band at some places on a day: a fixed number of queries, bounded rows."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils.translation import gettext, ngettext

from licences.areas import AreaError, covers
from licences.models import Licence, LicensedChannel
from licences.selectors import in_force_on
from licences.standing import channel_dates
from sites.errors import RegisterError
from sites.geodesy import inverse
from sites.models import Site
from sites.templatetags.figures import brief
from spectrum.models import Link, Station
from spectrum.occupancy import (
    Band,
    HeldChannel,
    Holding,
    Raster,
    State,
    UsingStation,
    free_channels,
    holdings,
)

#: More stations or channels than this are not put into one picture: the places or the band are to be narrowed.
MOST_ROWS: Final = 10_000
MOST_SITES: Final = 1_000
KM_PER_DEGREE: Final = 110.5  # the least length of a degree of latitude on WGS 84, rounded down


class TooManyError(RegisterError):
    """More than one picture and one table can hold."""


@dataclass(frozen=True)
class Places:
    """Where one looks: a region, sites around a point, or everywhere."""

    region: str = ""
    around: tuple[float, float] | None = None  # latitude and longitude, degrees
    within_km: float = 0.0

    @property
    def narrowed(self) -> bool:
        return bool(self.region) or self.around is not None


@dataclass(frozen=True)
class Occupancy:
    """What was found. ``free`` is empty where no raster says what a channel is."""

    day: dt.date
    bands: Sequence[Band]
    held: Sequence[Holding]
    free: Sequence[Holding] = field(default_factory=list)

    def of(self, state: State) -> list[Holding]:
        return [holding for holding in self.held if holding.state is state]


def occupancy(bands: Sequence[Band], places: Places, day: dt.date, raster: Raster | None = None) -> Occupancy:
    """Who holds and who uses the bands at the places on a day, by the dates of the register as it is being shown.

    Inside ``register_on(day)`` that is as it stood or will stand on the day, otherwise as it stands now.

    Raises TooManyError with a sentence that says what to narrow.
    """
    sites = _sites(places)
    channels = [
        *_channels_at_sites(bands, places, sites, day),
        *_channels_in_areas(bands, sites, places, day),
    ]
    found = holdings(channels, _stations(bands, places, sites, day), raster)
    free = list(free_channels(raster, found, places.region)) if raster is not None else []
    return Occupancy(day, bands, found, free)


def _sites(places: Places) -> dict[int, tuple[float, float]] | None:
    """The sites of the places with their positions; None where no place was named."""
    if not places.narrowed:
        return None
    rows = Site.objects.order_by()
    if places.region:
        rows = rows.filter(region=places.region)
    if places.around is not None:
        latitude, longitude = places.around
        up = places.within_km / KM_PER_DEGREE
        rows = rows.filter(latitude_deg__range=(latitude - up, latitude + up))
        # Near a pole or across the date line every longitude is looked at.
        across = up / max(np.cos(np.radians(min(abs(latitude) + up, 89.9))), 1e-3)
        if abs(longitude) + across < 180:
            rows = rows.filter(longitude_deg__range=(longitude - across, longitude + across))
    limit = 20 * MOST_SITES
    found = list(rows.values_list("id", "latitude_deg", "longitude_deg")[: limit + 1])
    if len(found) > limit:
        raise TooManyError(
            gettext("More than {limit} sites lie there. Choose a smaller distance.").format(limit=limit),
            field="within",
        )
    if places.around is not None and found:
        there = np.array([row[1:] for row in found])
        apart, _, _ = inverse(*places.around, there[:, 0], there[:, 1])
        found = [row for row, m in zip(found, apart, strict=True) if m <= places.within_km * 1e3]
        if len(found) > MOST_SITES:
            raise TooManyError(
                ngettext(
                    "{count} site lies within {within_km} km, more than {most}. Choose a smaller distance.",
                    "{count} sites lie within {within_km} km, more than {most}. Choose a smaller distance.",
                    len(found),
                ).format(count=len(found), within_km=brief(places.within_km), most=MOST_SITES),
                field="within",
            )
    return {pk: (latitude, longitude) for pk, latitude, longitude in found}


def _at(places: Places, sites: dict[int, Any] | None) -> Q:
    if sites is None:
        return Q()
    return Q(site__region=places.region) if places.around is None else Q(site__in=list(sites))


def _in(bands: Sequence[Band], *names: str) -> Q:
    wanted = Q(pk__in=[])
    for band in bands:
        for name in names:
            wanted |= Q(**{f"{name}__range": (band.low_hz, band.high_hz)})
    return wanted


def _bounded(rows: QuerySet[Any, Any], what: str) -> list[Any]:
    # Counted first by their keys alone: a database stops at the limit only where nothing is to be sorted.
    if len(rows.order_by().values_list("pk", flat=True)[: MOST_ROWS + 1]) > MOST_ROWS:
        raise TooManyError(
            gettext(
                "More than {most} {what} are in this band, too many for one picture. Choose a district, "
                "sites near a place, or a narrower band."
            ).format(most=MOST_ROWS, what=what),
        )
    return list(rows)


def _on_the_air(day: dt.date, prefix: str = "link__") -> Q:
    """Stations of links that are, were or will by their dates be on the air on a day."""
    runs = Q(**{f"{prefix}starts_on": None}) | Q(**{f"{prefix}starts_on__lte": day})
    goes_on = Q(**{f"{prefix}ends_on": None}) | Q(**{f"{prefix}ends_on__gte": day})
    now = Q(**{f"{prefix}status": Link.Status.ON_AIR}) & goes_on
    then = Q(**{f"{prefix}status": Link.Status.RETIRED, f"{prefix}ends_on__gte": day})
    return runs & (now | then)


def _planned(day: dt.date) -> Q:
    """Stations of links that hold their frequencies on a day without being on the air."""
    goes_on = Q(link__ends_on=None) | Q(link__ends_on__gte=day)
    reserved = Q(link__reserved_until=None) | Q(link__reserved_until__gte=day)
    waits = Q(link__status=Link.Status.GRANTED) | Q(link__status=Link.Status.ON_AIR, link__starts_on__gt=day)
    return goes_on & (waits | (Q(link__status__in=Link.RESERVING) & reserved))


def _in_force(day: dt.date) -> QuerySet[LicensedChannel]:
    """Licensed channels whose licence and whose own dates allow transmission on a day.

    A last day of its own that is not before its licence's ends no channel before its licence.
    """
    return LicensedChannel.objects.filter(
        Q(in_force_from=None) | Q(in_force_from__lte=day),
        Q(expires_on=None) | Q(expires_on__gte=day) | Q(expires_on__gte=F("licence__expires_on")),
        Q(ended_on=None) | Q(ended_on__gt=day),
        licence__in=in_force_on(Licence.objects.all(), day),
    ).order_by("id")


def _with_use(channels: QuerySet[LicensedChannel], day: dt.date) -> QuerySet[LicensedChannel]:
    half = OuterRef("channel_width_hz") / 2
    users = Station.objects.filter(
        _on_the_air(day),
        licensed_channel=OuterRef("pk"),
        tx_frequency_hz__gte=OuterRef("frequency_hz") - half,
        tx_frequency_hz__lte=OuterRef("frequency_hz") + half,
    )
    related = ("licence__authority", "licence__holder", "site", "paired_with")
    return channels.select_related(*related).annotate(is_used=Exists(users.order_by()))


def _channels_at_sites(
    bands: Sequence[Band], places: Places, sites: dict[int, Any] | None, day: dt.date
) -> list[HeldChannel]:
    rows = _in_force(day).filter(_in(bands, "frequency_hz", "paired_with__frequency_hz"), area__isnull=True)
    rows = _with_use(rows.filter(_at(places, sites)), day).defer("area", "paired_with__area")
    return [_held(row, day) for row in _bounded(rows, gettext("licensed channels"))]


def _channels_in_areas(
    bands: Sequence[Band], sites: dict[int, tuple[float, float]] | None, places: Places, day: dt.date
) -> list[HeldChannel]:
    """Channels licensed for an area that holds any of the sites, or the point in the middle; all where none is named."""
    rows = _in_force(day).filter(_in(bands, "frequency_hz", "paired_with__frequency_hz"), area__isnull=False)
    found = _bounded(
        _with_use(rows, day).defer("paired_with__area"), gettext("channels licensed for an area")
    )
    if sites is None:
        return [_held(row, day) for row in found]
    points = [*sites.values(), *([places.around] if places.around is not None else [])]
    return [_held(row, day) for row in found if any(_covers(row.area, point) for point in points)]


def _covers(area: Any, point: tuple[float, float]) -> bool:
    try:
        return covers(area, *point)
    except AreaError:
        return False


def _held(row: Any, day: dt.date) -> HeldChannel:
    """A channel that is in force on a day; one that continues beyond its expiry has no last day yet."""
    licence, site = row.licence, row.site
    dates = channel_dates(
        licence, in_force_from=row.in_force_from, expires_on=row.expires_on, ended_on=row.ended_on
    )
    ends = dates.expires_on if dates.expires_on is None or dates.expires_on >= day else None
    if dates.ended_on is not None:  # the first day without it
        last = dates.ended_on - dt.timedelta(days=1)
        ends = last if ends is None else min(ends, last)
    return HeldChannel(
        id=row.pk,
        label=f"{licence}/{row.label}",
        site_id=row.site_id,
        place=site.code if site else gettext("an area"),
        region=site.region if site else "",
        frequency_hz=row.frequency_hz,
        width_hz=row.channel_width_hz,
        receive_hz=row.paired_with.frequency_hz if row.paired_with else None,
        holder=licence.holder.name,
        own=licence.holder.own,
        until=ends,
        fee=licence.yearly_fee,
        currency=licence.fee_currency,
        licence_id=licence.pk,
        used=row.is_used,
        position=(site.longitude_deg, site.latitude_deg) if site else None,
    )


_STATION = (
    "id", "label", "link_id", "link__code", "site_id", "site__code", "site__region", "site__longitude_deg",
    "site__latitude_deg", "tx_frequency_hz", "rx_frequency_hz", "mode__channel_width_hz", "link__holder__name",
    "link__holder__own", "link__ends_on", "link__reserved_until", "link__status", "licensed_channel_id", "is_on_air",
)  # fmt: skip


def _stations(
    bands: Sequence[Band], places: Places, sites: dict[int, Any] | None, day: dt.date
) -> list[UsingStation]:
    on_air = Exists(Link.objects.filter(_on_the_air(day, ""), pk=OuterRef("link_id")).order_by())
    rows = (
        Station.objects.filter(_in(bands, "tx_frequency_hz", "rx_frequency_hz"), _at(places, sites))
        .filter(_on_the_air(day) | _planned(day))
        .annotate(is_on_air=on_air)
        .order_by("id")
        .values(*_STATION)
    )
    return [_station(row) for row in _bounded(rows, gettext("stations"))]


def _station(row: dict[str, Any]) -> UsingStation:
    reserves = row["link__status"] in Link.RESERVING
    return UsingStation(
        id=row["id"],
        name=f"{row['link__code']}/{row['label']}",
        link_id=row["link_id"],
        link=row["link__code"],
        site_id=row["site_id"],
        place=row["site__code"],
        region=row["site__region"],
        transmit_hz=row["tx_frequency_hz"],
        receive_hz=row["rx_frequency_hz"],
        width_hz=row["mode__channel_width_hz"],
        holder=row["link__holder__name"],
        own=row["link__holder__own"],
        planned=not row["is_on_air"],
        until=row["link__reserved_until"] if reserves else row["link__ends_on"],
        channel_id=row["licensed_channel_id"],
        position=(row["site__longitude_deg"], row["site__latitude_deg"]),
    )
