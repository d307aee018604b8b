"""Sites and antenna types: lists and forms. The page of one site is in spectrum, which knows its stations."""

from __future__ import annotations

from typing import Any

import django_filters as filters
from django import forms
from django.contrib import messages
from django.db import models
from django.db.models import Q, QuerySet
from django.http import HttpRequest
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from sites.forms.base import RegisterForm
from sites.forms.places import AntennaTypeForm, SiteForm
from sites.lazily import Words
from sites.models import AntennaType, Site
from sites.tables import Geometry, place
from sites.templatetags.figures import five, one

from .addresses import page_of
from .editing import ChangePage, EditPage, RemovePage
from .listing import Column, ListPage, also

OWN = [("yes", _("our own")), ("no", _("another party's"))]


def own_filter(field: str = "own") -> filters.ChoiceFilter:
    """A filter on whose it is, in words instead of true and false."""

    def whose(rows: QuerySet[models.Model], _name: str, value: str) -> QuerySet[models.Model]:
        return rows.filter(**{field: value == "yes"})

    return filters.ChoiceFilter(label=_("whose"), choices=OWN, method=whose, empty_label=_("all"))


def search_filter(*fields: str) -> filters.CharFilter:
    """A filter that looks for its text in any of the fields."""

    def search(rows: QuerySet[models.Model], _name: str, value: str) -> QuerySet[models.Model]:
        wanted = Q()
        for field in fields:
            wanted |= Q(**{f"{field}__icontains": value})
        return rows.filter(wanted)

    return filters.CharFilter(
        label=_("search"),
        method=search,
        max_length=200,
        widget=forms.TextInput(attrs={"type": "search"}),
    )


def mhz_filter(label: Words, method: str) -> filters.NumberFilter:
    """A filter on a frequency typed in MHz; ``method`` of the filter set applies it."""
    widget = forms.TextInput(attrs={"inputmode": "decimal", "class": "figure"})
    return filters.NumberFilter(label=label, method=method, min_value=0, max_value=3_000_000, widget=widget)


class SiteFilter(filters.FilterSet):
    q = search_filter("code", "name", "region")
    region = filters.CharFilter(label=_("region"), lookup_expr="icontains")
    structure = filters.ChoiceFilter(
        label=_("structure"), choices=Site.Structure.choices, empty_label=_("all")
    )
    whose = own_filter()

    class Meta:
        model = Site
        fields: list[str] = []


class SiteList(ListPage):
    needs = "places.view_site"
    act = _("reading the list of sites")
    heading = _("Sites: where do we stand?")
    empty = _(
        "Sites belong here: the places with structures on which stations stand. Enter the first, or import a list."
    )
    filterset_class = SiteFilter
    default_sort = "code"
    add_page, add_needs, add_label = "site-add", "places.add_site", _("Enter a site")
    columns = (
        Column(_("code"), lambda s: s.code, "code", "code", page_of),
        Column(_("name"), lambda s: s.name, order="name"),
        Column(_("region"), lambda s: s.region, order="region"),
        Column(
            _("latitude"),
            lambda s: five(s.latitude_deg),
            "figure",
            "latitude_deg",
            unit="°",
            plain=lambda s: s.latitude_deg,
        ),
        Column(
            _("longitude"),
            lambda s: five(s.longitude_deg),
            "figure",
            "longitude_deg",
            unit="°",
            plain=lambda s: s.longitude_deg,
        ),
        Column(
            _("ground"),
            lambda s: s.ground_height_m,
            "figure1",
            "ground_height_m",
            unit="m",
            name="ground_height_m",
        ),
        Column(_("structure"), lambda s: s.get_structure_display(), order="structure"),
        Column(
            _("height"),
            lambda s: s.structure_height_m,
            "figure1",
            "structure_height_m",
            unit="m",
            name="structure_height_m",
        ),
        Column(_("whose"), lambda s: gettext("ours") if s.own else gettext("another's")),
    )
    also_exported = (
        also("position_source", lambda s: s.get_position_source_display()),
        also("position_accuracy_m", lambda s: s.position_accuracy_m),
    )
    located = True

    def place_of(self, row: Site) -> Geometry:
        return place(row.longitude_deg, row.latitude_deg)


class SiteForms(EditPage):
    model = Site
    form_class = SiteForm
    noun = _("site")

    def save(self, form: RegisterForm, request: HttpRequest) -> models.Model:
        saved = super().save(form, request)
        for notice in getattr(form, "notices", ()):
            messages.info(request, notice)
        return saved


class SiteAdd(SiteForms):
    needs = "places.add_site"
    act = _("entering a site")

    def initial(self, request: HttpRequest) -> dict[str, Any]:
        """A place chosen on the map comes with the address."""
        position = str(request.GET.get("position", ""))[:120].replace("\x00", "")
        chosen = {"position_typed": position, "position_source": Site.PositionSource.MAP}
        return chosen if position else {}


class SiteChange(ChangePage, SiteForms):
    needs = "places.change_site"
    act = _("changing a site")


class SiteRemove(RemovePage):
    needs = "places.delete_site"
    act = _("removing a site")
    model, noun = Site, _("site")


class AntennaTypeFilter(filters.FilterSet):
    q = search_filter("name", "notes")
    pattern = filters.ChoiceFilter(
        label=_("pattern"), choices=AntennaType.Pattern.choices, empty_label=_("all")
    )
    covers_mhz = mhz_filter(_("covers (MHz)"), "covering")

    class Meta:
        model = AntennaType
        fields: list[str] = []

    def covering(self, rows: QuerySet[AntennaType], _name: str, value: float) -> QuerySet[AntennaType]:
        return rows.filter(frequency_min_mhz__lte=float(value), frequency_max_mhz__gte=float(value))


class AntennaTypeList(ListPage):
    needs = "places.view_antennatype"
    act = _("reading the list of antenna types")
    heading = _("Antenna types: what radiates how?")
    empty = _(
        "Antenna types belong here, with gain and pattern. Enter the ones in use from their data sheets."
    )
    filterset_class = AntennaTypeFilter
    default_sort = "name"
    add_page, add_needs, add_label = "antenna-type-add", "places.add_antennatype", _("Enter an antenna type")
    columns = (
        Column(_("name"), lambda a: a.name, "code", "name", page_of),
        Column(_("gain"), lambda a: a.gain_dbi, "figure1", "gain_dbi", unit="dBi"),
        Column(
            _("from"),
            lambda a: one(a.frequency_min_mhz),
            "figure",
            "frequency_min_mhz",
            unit="MHz",
            plain=lambda a: a.frequency_min_mhz,
        ),
        Column(
            _("to"),
            lambda a: one(a.frequency_max_mhz),
            "figure",
            "frequency_max_mhz",
            unit="MHz",
            plain=lambda a: a.frequency_max_mhz,
        ),
        Column(_("pattern"), lambda a: a.get_pattern_display(), order="pattern"),
        Column(
            _("cross-polar discrimination"),
            lambda a: a.cross_polar_discrimination_db,
            "figure1",
            "cross_polar_discrimination_db",
            unit="dB",
        ),
    )


class AntennaTypeForms(EditPage):
    model = AntennaType
    form_class = AntennaTypeForm
    noun = _("antenna type")


class AntennaTypeAdd(AntennaTypeForms):
    needs = "places.add_antennatype"
    act = _("entering an antenna type")


class AntennaTypeChange(ChangePage, AntennaTypeForms):
    needs = "places.change_antennatype"
    act = _("changing an antenna type")


class AntennaTypeRemove(RemovePage):
    needs = "places.delete_antennatype"
    act = _("removing an antenna type")
    model, noun = AntennaType, _("antenna type")
