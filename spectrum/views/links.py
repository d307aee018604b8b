"""Links: the list, the page of one link, and what can be done with it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

import django_filters as filters
from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Page as PaginatorPage
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.html import format_html
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.errors import RegisterError
from sites.geodesy import inverse
from sites.reading import day_here
from sites.services.record import Author
from sites.tables import Geometry
from sites.tables.cells import exact
from sites.templatetags.figures import mhz
from sites.views.access import Page, may
from sites.views.addresses import page_of
from sites.views.changes import in_words
from sites.views.documents import documents_context
from sites.views.editing import RemovePage
from sites.views.listing import Column, ListPage, also
from sites.views.on_day import ObjectPage
from sites.views.places import mhz_filter, own_filter, search_filter
from spectrum import selectors
from spectrum.answers import answer, question
from spectrum.comparison import eirp_dbm, limit_rows
from spectrum.conflicts.gather import one_link
from spectrum.conflicts.network import Network
from spectrum.drawings import frequency_strip
from spectrum.models import ChannelPlan, Link, Station
from spectrum.places import place_of_link, stations_in_order
from spectrum.profile_drawing import profile_picture
from spectrum.services import applications, checks, links
from spectrum.services.path_report import report_between
from spectrum.views.interference import interference_context
from spectrum.wording import unjudged_of

SHOWN_FINDINGS, SHOWN_CHANGES = 60, 20
MAY_CHECK = ("spectrum.change_link", "spectrum.check_network", "spectrum.add_commissioningrecord")


def places_of(link: Link) -> str:
    codes = [station.site.code for station in stations_in_order(link)]
    shown = " – ".join(codes[:2])
    if len(codes) <= 2:
        return shown
    return gettext("{names} and {count} more").format(names=shown, count=len(codes) - 2)


def first_station(link: Link) -> Station | None:
    """End A, or the hub."""
    return next(iter(stations_in_order(link)), None)


def sends_mhz(link: Link) -> Any:
    station = first_station(link)
    return exact(station.tx_frequency_hz, 1_000_000) if station else None


def hears_mhz(link: Link) -> Any:
    station = first_station(link)
    return exact(station.rx_frequency_hz, 1_000_000) if station else None


def pair_of(link: Link) -> str:
    stations = stations_in_order(link)
    return f"{mhz(stations[0].tx_frequency_hz)} / {mhz(stations[0].rx_frequency_hz)}" if stations else ""


class LinkFilter(filters.FilterSet):
    q = search_filter("code", "name", "holder__name")
    status = filters.ChoiceFilter(label=_("status"), choices=Link.Status.choices, empty_label=_("all"))
    kind = filters.ChoiceFilter(label=_("kind"), choices=Link.Kind.choices, empty_label=_("all"))
    whose = own_filter("holder__own")
    channel_plan = filters.ModelChoiceFilter(
        label=_("channel plan"), queryset=ChannelPlan.objects.order_by("code"), empty_label=_("all")
    )
    site = filters.CharFilter(label=_("site code"), method="at_site", max_length=40)
    near_mhz = mhz_filter(_("on (MHz)"), "on_frequency")
    findings = filters.ChoiceFilter(
        label=_("findings"),
        method="with_findings",
        choices=[("must_fix", _("to be fixed")), ("decide", _("to be decided")), ("none", _("none open"))],
        empty_label=_("all"),
    )
    mine = filters.BooleanFilter(label=_("mine"), method="of_mine", widget=forms.CheckboxInput)

    class Meta:
        model = Link
        fields: list[str] = []

    def at_site(self, rows: QuerySet[Link], _name: str, value: str) -> QuerySet[Link]:
        return rows.filter(pk__in=Station.objects.filter(site__code__iexact=value).values("link"))

    def on_frequency(self, rows: QuerySet[Link], _name: str, value: Any) -> QuerySet[Link]:
        return rows.filter(pk__in=selectors.stations_on(int(value * 1_000_000)).values("link"))

    def with_findings(self, rows: QuerySet[Link], _name: str, value: str) -> QuerySet[Link]:
        if value == "none":
            return rows.exclude(pk__in=selectors.links_with_open_findings(0, 1))
        return rows.filter(pk__in=selectors.links_with_open_findings(0 if value == "must_fix" else 1))

    def of_mine(self, rows: QuerySet[Link], _name: str, value: bool) -> QuerySet[Link]:
        return rows.filter(responsible=self.request.user) if value else rows


def tick_of(link: Link) -> str:
    """A box to tick on a link that can be filed; the list's form sends what is ticked."""
    if not link.holder.own or link.status not in applications.FILEABLE:
        return ""
    return format_html(
        '<input type="checkbox" form="apply" name="link" value="{}" aria-label="{}">',
        link.pk,
        gettext("{link} for an application").format(link=link.code),
    )


TICKED = Column(_("apply"), tick_of, exported=False, only_now=True)


class LinkList(ListPage):
    needs = "spectrum.view_link"
    act = _("reading the list of links")
    heading = _("Links: what is on the air and planned?")
    empty = _(
        "Links belong here. Enter the sites of both ends, an antenna type and a radio type with a mode; then the link."
    )
    filterset_class = LinkFilter
    default_sort = "code"
    template_name = "link_list.html"
    filters_of_now = ("findings",)
    add_page, add_needs, add_label = "link-add", "spectrum.add_link", _("Enter a link")
    columns: ClassVar[Sequence[Column]] = (
        Column(_("code"), lambda x: x.code, "code", "code", page_of),
        Column(_("name"), lambda x: x.name, order="name"),
        Column(_("sites"), places_of, "code"),
        Column(_("kind"), lambda x: x.get_kind_display(), order="kind"),
        Column(_("status"), lambda x: x.get_status_display(), order="status"),
        Column(_("A or hub sends / hears"), pair_of, "figure", unit="MHz", exported=False),
        Column(
            _("must fix"),
            lambda x: x.must_fix or "",
            "figure",
            "must_fix",
            plain=lambda x: x.must_fix,
            only_now=True,
        ),
        Column(
            _("decide"),
            lambda x: x.to_decide or "",
            "figure",
            "to_decide",
            plain=lambda x: x.to_decide,
            only_now=True,
        ),
        Column(_("reserved until"), lambda x: x.reserved_until or "", "date", "reserved_until"),
        Column(_("holder"), lambda x: x.holder.name, order="holder__name"),
    )
    also_exported = (
        also("a_or_hub_sends_mhz", sends_mhz),
        also("a_or_hub_hears_mhz", hears_mhz),
        also("channel_plan", lambda x: x.channel_plan.code if x.channel_plan else ""),
        also("on_the_air_from", lambda x: x.starts_on),
        also("last_day_on_the_air", lambda x: x.ends_on),
        also("responsible", lambda x: x.responsible or ""),
    )
    located = True

    def place_of(self, row: Link) -> Geometry | None:
        return place_of_link(row)

    def rows(self) -> QuerySet[Link]:
        return selectors.links_with_counts()

    def shown_columns(self, filterset: filters.FilterSet) -> Sequence[Column]:
        """Whoever may draw up an application ticks the links that are filed together."""
        return (TICKED, *self.columns) if self._may_apply() else self.columns

    def more_context(self, request: HttpRequest, page: PaginatorPage[Any]) -> dict[str, Any]:
        return {"may_apply": self._may_apply()}

    def _may_apply(self) -> bool:
        return self.day is None and self.request.user.has_perm("licences.add_application")


class LinkPage(ObjectPage):
    """One link: the answer, the picture, the licence comparison, the findings down to the arithmetic."""

    shows = Link
    needs = "spectrum.view_link"
    act = _("reading a link")

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        link = get_object_or_404(selectors.all_links(), pk=pk)
        if getattr(request, "htmx", False):
            return render(request, "_link_checked.html", answer_context(request, link))
        network = one_link(link, day_here())
        stations = stations_in_order(link)
        context = {
            **answer_context(request, link),
            **comparison_context(stations, network),
            **path_context(request, stations, network),
            "stations": stations,
            "strip": frequency_strip(
                (s.label, s.tx_frequency_hz, s.rx_frequency_hz, s.mode.channel_width_hz) for s in stations
            ),
            "paths": paths_of(stations),
            **applied_context(request, link, stations),
            **documents_context(request, link),
            **interference_context(request, link),
            "statuses": [choice for choice in Link.Status.choices if choice[0] != link.status],
        }
        if request.user.has_perm("places.view_changerecord"):
            context["changes"] = in_words(selectors.changes_of_link(link)[:SHOWN_CHANGES])
        return render(request, "link.html", context)


def applied_context(request: HttpRequest, link: Link, stations: list[Station]) -> dict[str, Any]:
    """The applications that the link is or was in, and whether one can be drawn up for it now."""
    found = list(applications.applications_of(link))
    lacking = any(s.tx_frequency_hz is not None and s.licensed_channel_id is None for s in stations)
    may_apply = (
        request.user.has_perm("licences.add_application")
        and link.holder.own
        and link.status in applications.FILEABLE
        and lacking
        and not any(application.state in applications.OPEN for application in found)
    )
    return {"link_applications": found, "may_apply": may_apply}


def answer_context(request: HttpRequest, link: Link) -> dict[str, Any]:
    """The part of the page that a check changes: the answer and the findings."""
    findings = list(selectors.findings_of_link(link))
    last_check = selectors.last_check_of(link)
    return {
        "link": link,
        "question": question(link),
        "answer": answer(link, findings, last_check),
        "findings": findings[:SHOWN_FINDINGS],
        "findings_more": max(0, len(findings) - SHOWN_FINDINGS),
        "not_judged": sorted({sentence for f in findings for sentence in unjudged_of(f)}),
        "last_check": last_check,
        "under_way": selectors.check_under_way(link),
        "may_check": may(request.user, MAY_CHECK),
        "may_accept": request.user.has_perm("spectrum.accept_finding"),
    }


def comparison_context(stations: list[Station], network: Network) -> dict[str, Any]:
    """Each station's settings in effect, and each limit of its licensed channel beside them."""
    records = {record.id: record for record in network.stations}
    rows = []
    for station in stations:
        record = records[station.pk]
        compared = (
            limit_rows(record, record.channel)
            if record.channel is not None and record.tx_frequency_hz is not None
            else []
        )
        rows.append(
            {"station": station, "limits": compared, "outside": [r for r in compared if r.within is False]}
        )
    effective = {
        record.id: {
            "azimuth_deg": record.azimuth_deg,
            "azimuth_entered": record.azimuth_entered,
            "eirp_dbm": eirp_dbm(record),
        }
        for record in records.values()
    }
    for station in stations:
        station.effective = effective[station.pk]  # type: ignore[attr-defined]
    return {
        "compared": rows,
        "silent": [s for s in stations if s.tx_frequency_hz is None],
        "unlicensed": [
            s for s in stations if s.tx_frequency_hz is not None and s.licensed_channel_id is None
        ],
    }


def paths_of(stations: list[Station]) -> list[dict[str, Any]]:
    """Length and azimuths of each path: A to B, or the hub to each remote."""
    if len(stations) < 2:
        return []
    first, others = stations[0].site, [station.site for station in stations[1:]]
    distance_m, azimuth_ab, azimuth_ba = inverse(
        first.latitude_deg,
        first.longitude_deg,
        [site.latitude_deg for site in others],
        [site.longitude_deg for site in others],
    )
    return [
        {
            "from": stations[0],
            "to": station,
            "length_km": float(distance_m[n]) / 1e3,
            "azimuth_deg": None if azimuth_ab[n] != azimuth_ab[n] else float(azimuth_ab[n]),
            "back_azimuth_deg": None if azimuth_ba[n] != azimuth_ba[n] else float(azimuth_ba[n]),
        }
        for n, station in enumerate(stations[1:])
    ]


def path_context(request: HttpRequest, stations: list[Station], network: Network) -> dict[str, Any]:
    """The profile and the figures of one path: A to B, or the hub to the remote that is asked for."""
    if len(stations) < 2:
        return {}
    one, others = stations[0], stations[1:]
    asked = str(request.GET.get("remote", ""))
    other = next((station for station in others if station.label == asked), others[0])
    report = report_between(network, one, other)
    picture = None
    if report.profile is not None:
        picture = profile_picture(report.profile, one.antenna_height_agl_m, other.antenna_height_agl_m)
    return {"path": report, "profile": picture, "path_from": one, "path_to": other}


class LinkCheck(Page):
    """Checks the link now and shows what came of it."""

    needs = MAY_CHECK
    act = _("checking a link")

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        link = get_object_or_404(selectors.all_links(), pk=pk)
        checks.check_link(link.pk, by=Author.of(request.user))
        if getattr(request, "htmx", False):
            return render(request, "_link_checked.html", answer_context(request, link))
        messages.success(request, gettext("{link} was checked.").format(link=link.code))
        return redirect(page_of(link))


class LinkStatus(Page):
    """Moves a link to another status."""

    needs = "spectrum.change_link"
    act = _("changing a link's status")

    def post(self, request: HttpRequest, pk: int) -> HttpResponse:
        link = get_object_or_404(Link, pk=pk)
        typed = str(request.POST.get("version", ""))
        version = int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 10 else link.version
        try:
            links.set_status(
                link,
                str(request.POST.get("status", "")),
                by=Author.of(request.user),
                expected_version=version,
            )
        except RegisterError as error:
            messages.error(request, error.message)
        except ValidationError as error:
            messages.error(request, " ".join(error.messages))
        else:
            messages.success(
                request,
                gettext("{link} is now {status}.").format(link=link.code, status=link.get_status_display()),
            )
        return redirect(page_of(link))


class LinkRemove(RemovePage):
    needs = "spectrum.delete_link"
    act = _("removing a link")
    model, noun = Link, _("link")
