"""The three collections: what is in each, and the same columns as on the page and in the files of it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db.models import Max, Min, Q, QuerySet

from sites.models import Site
from sites.on_day import day_shown
from sites.tables import geojson
from sites.tables.cells import as_json
from sites.views.addresses import on_day, page_of
from sites.views.listing import ListPage
from sites.views.places import SiteList
from spectrum.models import Finding, Link
from spectrum.views.findings import FindingList
from spectrum.views.links import LinkList

from .parameters import Asked, Period
from .within import as_moment, findings_in, found_in, links_in, on_air_in, sites_in

CRS84 = "http://www.opengis.net/def/crs/OGC/1.3/CRS84"
WORLD = [-180.0, -90.0, 180.0, 90.0]


@dataclass(frozen=True)
class Collection:
    """One collection. ``page`` is the list whose rows and columns it has.

    All of it reads the register as it is being shown: as it stands, or inside ``register_on(day)``.
    """

    name: str
    title: str
    description: str
    page: type[ListPage]
    needs: str
    all_rows: Callable[[QuerySet[Any]], QuerySet[Any]]
    in_box: Callable[[Any, QuerySet[Any]], Q]
    in_period: Callable[[Period], Q]
    since: Callable[[], dt.datetime | None] | None = None

    def rows(self) -> QuerySet[Any]:
        """All features, in an order that stays the same from one part to the next."""
        page = self.page()
        return self.all_rows(page.placed(page.rows())).order_by("pk")

    def selected(self, asked: Asked) -> QuerySet[Any]:
        """The features that a request selects."""
        rows = self.rows()
        if asked.period is not None:
            rows = rows.filter(self.in_period(asked.period))
        if asked.box is not None:
            # One feature a row whatever the condition joins; counts of the list stay what they are.
            keys = rows.model._default_manager.filter(self.in_box(asked.box, rows)).values("pk")
            rows = rows.filter(pk__in=keys)
        return rows

    @property
    def kept_by_day(self) -> bool:
        """Whether the collection can be had as of a day."""
        return self.page().dated

    def feature(self, row: Any, address: Callable[[str], str]) -> dict[str, Any]:
        """One row as a feature; ``address`` makes a whole address of a path."""
        page, day = self.page(), day_shown()
        properties = {
            column.file_name: column.file_value(row)
            for column in (*page.columns, *page.also_exported)
            if column.exported and not (day and column.only_now)
        }
        if day:
            properties["as_of"] = as_json(day)
        properties["page"] = address(on_day(page_of(row), day))
        return geojson.feature(row.pk, page.place_of(row), properties)

    def extent(self) -> dict[str, Any]:
        """Where and when there is something (OGC 17-069r4 § 7.13.2). Everything stands at sites."""
        box = list(
            Site.objects.aggregate(
                west=Min("longitude_deg"),
                south=Min("latitude_deg"),
                east=Max("longitude_deg"),
                north=Max("latitude_deg"),
            ).values()
        )
        extent: dict[str, Any] = {"spatial": {"bbox": [WORLD if None in box else box], "crs": CRS84}}
        if self.since is not None:
            first = self.since()
            extent["temporal"] = {"interval": [[as_json(first), None]]}
        return extent


def _any_time(_period: Period) -> Q:
    return Q()


def _first_on_air() -> dt.datetime | None:
    return as_moment(Link.objects.aggregate(first=Min("starts_on"))["first"])


def _first_seen() -> dt.datetime | None:
    return Finding.objects.filter(gone_at=None).aggregate(first=Min("first_seen_at"))["first"]


COLLECTIONS = {
    each.name: each
    for each in (
        Collection(
            "sites",
            "Sites",
            "Places with structures. A site has no time: every period selects it; as_of gives those that stood in "
            "the register on a day.",
            SiteList,
            "places.view_site",
            lambda rows: rows,
            lambda box, _rows: sites_in(box),
            _any_time,
        ),
        Collection(
            "links",
            "Links",
            "Links as lines between their stations' sites; their time is from the first day on the air to the last, "
            "as the register has it, or with as_of as it had or will have it on that day.",
            LinkList,
            "spectrum.view_link",
            lambda rows: rows,
            lambda box, _rows: links_in(box),
            on_air_in,
            _first_on_air,
        ),
        Collection(
            "findings",
            "Findings",
            "What stands against the network as of the latest checks: from the station that disturbs to the one "
            "that is disturbed, or where the finding is. Its time begins when it was first seen. Findings are not "
            "kept by day: as_of is refused.",
            FindingList,
            "spectrum.view_finding",
            lambda rows: rows.filter(gone_at=None),
            findings_in,
            found_in,
            _first_seen,
        ),
    )
}
