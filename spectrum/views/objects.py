"""Pages where all apps meet: one site, one antenna type, one licence, one licensed channel, one holder."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences import selectors as licence_selectors
from licences.life.days import renewal_of
from licences.models import Holder, Licence, LicensedChannel
from licences.standing import channel_dates, continues, standing
from licences.views.life import life_context
from licences.views.parties import with_standings
from sites.models import AntennaType, Site
from sites.reading import day_here
from sites.views.documents import documents_context
from sites.views.on_day import ObjectPage
from spectrum import selectors
from spectrum.drawings import chart, time_strip
from spectrum.models import Finding
from spectrum.services.site_view import site_view

SHOWN = 100


def shared(request: HttpRequest) -> dict[str, Any]:
    """What the findings on a page need to know about the person."""
    return {"may_accept": request.user.has_perm("spectrum.accept_finding")}


class SitePage(ObjectPage):
    shows = Site
    needs = "places.view_site"
    act = _("reading a site")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        site = get_object_or_404(Site, pk=pk)
        stations = selectors.all_stations().select_related("link__holder").filter(site=site)
        channels = licence_selectors.all_licensed_channels().filter(site=site)
        findings = selectors.findings_at_site(site)
        today = day_here()
        whole, many = request.GET.get("isolation") == "all", request.GET.get("products") == "all"
        context = {
            "site": site,
            "view": site_view(site, today, whole_matrix=whole, many_products=many),
            "all_isolation": whole,
            "all_products": many,
            "licences": with_standings(licence_selectors.licences_covering(site, today)),
            "stations": stations[:SHOWN],
            "station_count": stations.count(),
            "channels": channels[:SHOWN],
            "channel_count": channels.count(),
            "findings": findings[:SHOWN],
            **shared(request),
            **documents_context(request, site),
        }
        return render(request, "site.html", context)


class AntennaTypePage(ObjectPage):
    shows = AntennaType
    needs = "places.view_antennatype"
    act = _("reading an antenna type")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        antenna = get_object_or_404(AntennaType, pk=pk)
        stations = selectors.all_stations().filter(antenna_type=antenna)
        points = [(float(angle), float(gain)) for angle, gain in antenna.pattern_points]
        context = {
            "antenna": antenna,
            "stations": stations[:SHOWN],
            "station_count": stations.count(),
            "pattern": chart([(gettext("measured pattern"), points)]) if points else None,
        }
        return render(request, "antenna_type.html", context)


class LicencePage(ObjectPage):
    """A licence: its standing, its days on a strip, its channels and who uses them, its findings."""

    shows = Licence
    needs = "licences.view_licence"
    act = _("reading a licence")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        licence = get_object_or_404(
            licence_selectors.all_licences().select_related("authority__renewal_policy"), pk=pk
        )
        today = day_here()
        life = life_context(licence, today)
        goes_on = continues(licence.life, renewal_of(licence.life, licence_selectors.terms_of(licence)))
        ends = (None if goes_on else licence.expires_on, licence.ended_on)
        end = min((day for day in ends if day), default=None)
        channels = licence_selectors.channels_of(licence).prefetch_related("stations__link")
        context = {
            "licence": licence,
            "standing": licence_selectors.standing_on(licence, today),
            "today": today,
            "days_left": (licence.expires_on - today).days if licence.expires_on else None,
            "strip": time_strip(life.pop("days"), licence.in_force_from or today, end, today),
            "channels": channels[:SHOWN],
            "channel_count": channels.count(),
            "findings": selectors.current_findings().filter(licence=licence)[:SHOWN],
            **life,
            **shared(request),
            **documents_context(request, licence),
        }
        return render(request, "licence.html", context)


class LicensedChannelPage(ObjectPage):
    shows = LicensedChannel
    needs = "licences.view_licensedchannel"
    act = _("reading a licensed channel")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        rows = licence_selectors.all_licensed_channels().select_related(
            "licence__authority__renewal_policy", "paired_with__licence__authority"
        )
        channel: LicensedChannel = get_object_or_404(rows, pk=pk)
        licence: Licence = channel.licence
        dates = channel_dates(
            licence,
            in_force_from=channel.in_force_from,
            expires_on=channel.expires_on,
            ended_on=channel.ended_on,
            ended_how=channel.ended_how,
        )
        context = {
            "channel": channel,
            "dates": dates,
            "standing": standing(dates, licence_selectors.terms_of(licence), day_here()),
            "stations": selectors.all_stations().filter(licensed_channel=channel)[:SHOWN],
            "findings": selectors.current_findings().filter(licensed_channel=channel)[:SHOWN],
            **shared(request),
        }
        return render(request, "licensed_channel.html", context)


class HolderPage(ObjectPage):
    shows = Holder
    needs = "licences.view_holder"
    act = _("reading a holder")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        holder = get_object_or_404(Holder, pk=pk)
        of_holder = licence_selectors.all_licences().filter(holder=holder)
        licences = of_holder.order_by(*licence_selectors.EXPIRING_FIRST)
        links = selectors.links_with_counts().filter(holder=holder)
        context = {
            "holder": holder,
            "licences": with_standings(licences),
            "licence_count": licences.count(),
            "links": links[:SHOWN],
            "link_count": holder.links.count(),
            "open_count": Finding.objects.filter(
                link__holder=holder, gone_at__isnull=True, accepted_at__isnull=True
            ).count(),
        }
        return render(request, "holder.html", context)
