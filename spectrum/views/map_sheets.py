"""What is said beside the map of what was chosen on it: a site, a link, or a place with neither."""

from __future__ import annotations

import math
from typing import Any

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.errors import RegisterError
from sites.models import Site
from sites.on_day import PARAMETER as DAY
from sites.views.access import Page
from sites.views.dated import DatedPage
from spectrum import selectors
from spectrum.conflicts.gather import terrain_in_force
from spectrum.models import Finding, Link
from spectrum.places import stations_in_order
from spectrum.views.links import paths_of
from spectrum.views.map import number_asked_for

SHOWN_FINDINGS, SHOWN_LINKS = 3, 12


class MapSheet(DatedPage):
    """What is said of one thing, as it stands or as of the day that the map shows."""

    def without_a_day(self, request: HttpRequest, why: str, *args: Any, **kwargs: Any) -> HttpResponseBase:
        return render(request, "_map_place.html", {"problem": why}, status=400)

    def kept(self, findings: QuerySet[Finding]) -> QuerySet[Finding]:
        """Findings are not kept by day: of another day there are none."""
        return findings.none() if self.day else findings


class MapSite(MapSheet):
    """What stands at a site that was chosen on the map."""

    needs = "places.view_site"
    act = _("reading a site")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        site = get_object_or_404(Site, pk=pk)
        links = selectors.all_links().filter(
            pk__in=site.stations.filter(link__status__in=Link.LIVE).values("link")
        )
        findings = self.kept(selectors.findings_at_site(site).filter(accepted_at=None))
        context = {
            "site": site,
            "links": links[:SHOWN_LINKS],
            "link_count": links.count(),
            "findings": findings[:SHOWN_FINDINGS],
            "finding_count": findings.count(),
            "day": self.day,
            "may_add_link": not self.day and request.user.has_perm("spectrum.add_link"),
        }
        return render(request, "_map_site.html", context)


class MapLink(MapSheet):
    """What is known of a link that was chosen on the map."""

    needs = "spectrum.view_link"
    act = _("reading a link")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        link = get_object_or_404(selectors.all_links(), pk=pk)
        stations = stations_in_order(link)
        findings = self.kept(selectors.findings_of_link(link).filter(accepted_at=None))
        context = {
            "link": link,
            "stations": stations[:SHOWN_LINKS],
            "station_count": len(stations),
            "paths": paths_of(stations)[:SHOWN_LINKS],
            "findings": findings[:SHOWN_FINDINGS],
            "finding_count": findings.count(),
            "day": self.day,
        }
        return render(request, "_map_link.html", context)


class MapPlace(Page):
    """What is known of a place without a site, and the way to enter one there."""

    needs = "places.view_site"
    act = _("reading a place on the map")

    @property
    def dated(self) -> bool:
        """The ground is the same on every day; a site is entered on none but today."""
        return True

    def get(self, request: HttpRequest) -> HttpResponse:
        try:
            latitude, longitude = (
                number_asked_for(request, "latitude"),
                number_asked_for(request, "longitude"),
            )
            if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
                raise RegisterError(
                    gettext("The place is not on the earth: latitude -90 to 90, longitude -180 to 180.")
                )
        except RegisterError as error:
            return render(request, "_map_place.html", {"problem": error.message}, status=error.status)
        store = terrain_in_force()
        ground = float(store.sample(latitude, longitude).values[0]) if store is not None else math.nan
        context = {
            "latitude_deg": latitude,
            "longitude_deg": longitude,
            "position": f"{latitude:.5f}, {longitude:.5f}",
            "ground_height_m": None if math.isnan(ground) else ground,
            "may_add_site": not request.GET.get(DAY) and request.user.has_perm("places.add_site"),
        }
        return render(request, "_map_place.html", context)
