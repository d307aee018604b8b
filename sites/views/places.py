"""Sites and antenna types: lists and forms. The page of one site is in spectrum, which knows its stations."""

from __future__ import annotations

from typing import Any

import django_filters as filters
from django import forms
from django.contrib import messages
from django.db import models
from django.db.models import Q, QuerySet
from django.http import HttpRequest

from sites.forms.base import RegisterForm
from sites.forms.places import AntennaTypeForm, SiteForm
from sites.models import AntennaType, Site
from sites.tables import Geometry, place

from .addresses import page_of
from .editing import ChangePage, EditPage, RemovePage
from .listing import Column, ListPage, also

OWN = [("yes", "our own"), ("no", "another party's")]


def own_filter(field: str = "own") -> filters.ChoiceFilter:
    """A filter on whose it is, in words instead of true and false."""

    def whose(rows: QuerySet[models.Model], _name: str, value: str) -> QuerySet[models.Model]:
        return rows.filter(**{field: value == "yes"})

    return filters.ChoiceFilter(label="whose", choices=OWN, method=whose, empty_label="all")


def search_filter(*fields: str) -> filters.CharFilter:
    """A filter that looks for its text in any of the fields."""

    def search(rows: QuerySet[models.Model], _name: str, value: str) -> QuerySet[models.Model]:
        wanted = Q()
        for field in fields:
            wanted |= Q(**{f"{field}__icontains": value})
        return rows.filter(wanted)

    return filters.CharFilter(
        label="search", method=search, max_length=200, widget=forms.TextInput(attrs={"type": "search"})
    )


def mhz_filter(label: str, method: str) -> filters.NumberFilter:
    """A filter on a frequency typed in MHz; ``method`` of the filter set applies it."""
    widget = forms.TextInput(attrs={"inputmode": "decimal", "class": "figure"})
    return filters.NumberFilter(label=label, method=method, min_value=0, max_value=3_000_000, widget=widget)


class SiteFilter(filters.FilterSet):
    q = search_filter("code", "name", "region")
    region = filters.CharFilter(label="region", lookup_expr="icontains")
    structure = filters.ChoiceFilter(label="structure", choices=Site.Structure.choices, empty_label="all")
    whose = own_filter()

    class Meta:
        model = Site
        fields: list[str] = []


class SiteList(ListPage):
    needs = "places.view_site"
    act = "reading the list of sites"
    heading = "Sites: where do we stand?"
    empty = "Sites belong here: the places with structures on which stations stand. Enter the first, or import a list."
    filterset_class = SiteFilter
    default_sort = "code"
    add_page, add_needs, add_label = "site-add", "places.add_site", "Enter a site"
    columns = (
        Column("code", lambda s: s.code, "code", "code", page_of),
        Column("name", lambda s: s.name, order="name"),
        Column("region", lambda s: s.region, order="region"),
        Column(
            "latitude",
            lambda s: f"{s.latitude_deg:.5f}",
            "figure",
            "latitude_deg",
            unit="°",
            plain=lambda s: s.latitude_deg,
        ),
        Column(
            "longitude",
            lambda s: f"{s.longitude_deg:.5f}",
            "figure",
            "longitude_deg",
            unit="°",
            plain=lambda s: s.longitude_deg,
        ),
        Column(
            "ground",
            lambda s: s.ground_height_m,
            "figure1",
            "ground_height_m",
            unit="m",
            name="ground_height_m",
        ),
        Column("structure", lambda s: s.get_structure_display(), order="structure"),
        Column(
            "height",
            lambda s: s.structure_height_m,
            "figure1",
            "structure_height_m",
            unit="m",
            name="structure_height_m",
        ),
        Column("whose", lambda s: "ours" if s.own else "another's"),
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
    noun = "site"

    def save(self, form: RegisterForm, request: HttpRequest) -> models.Model:
        saved = super().save(form, request)
        for notice in getattr(form, "notices", ()):
            messages.info(request, notice)
        return saved


class SiteAdd(SiteForms):
    needs = "places.add_site"
    act = "entering a site"

    def initial(self, request: HttpRequest) -> dict[str, Any]:
        """A place chosen on the map comes with the address."""
        position = str(request.GET.get("position", ""))[:120].replace("\x00", "")
        chosen = {"position_typed": position, "position_source": Site.PositionSource.MAP}
        return chosen if position else {}


class SiteChange(ChangePage, SiteForms):
    needs = "places.change_site"
    act = "changing a site"


class SiteRemove(RemovePage):
    needs = "places.delete_site"
    act = "removing a site"
    model, noun = Site, "site"


class AntennaTypeFilter(filters.FilterSet):
    q = search_filter("name", "notes")
    pattern = filters.ChoiceFilter(label="pattern", choices=AntennaType.Pattern.choices, empty_label="all")
    covers_mhz = mhz_filter("covers (MHz)", "covering")

    class Meta:
        model = AntennaType
        fields: list[str] = []

    def covering(self, rows: QuerySet[AntennaType], _name: str, value: float) -> QuerySet[AntennaType]:
        return rows.filter(frequency_min_mhz__lte=float(value), frequency_max_mhz__gte=float(value))


class AntennaTypeList(ListPage):
    needs = "places.view_antennatype"
    act = "reading the list of antenna types"
    heading = "Antenna types: what radiates how?"
    empty = "Antenna types belong here, with gain and pattern. Enter the ones in use from their data sheets."
    filterset_class = AntennaTypeFilter
    default_sort = "name"
    add_page, add_needs, add_label = "antenna-type-add", "places.add_antennatype", "Enter an antenna type"
    columns = (
        Column("name", lambda a: a.name, "code", "name", page_of),
        Column("gain", lambda a: a.gain_dbi, "figure1", "gain_dbi", unit="dBi"),
        Column(
            "from",
            lambda a: f"{a.frequency_min_mhz:.1f}",
            "figure",
            "frequency_min_mhz",
            unit="MHz",
            plain=lambda a: a.frequency_min_mhz,
        ),
        Column(
            "to",
            lambda a: f"{a.frequency_max_mhz:.1f}",
            "figure",
            "frequency_max_mhz",
            unit="MHz",
            plain=lambda a: a.frequency_max_mhz,
        ),
        Column("pattern", lambda a: a.get_pattern_display(), order="pattern"),
        Column(
            "cross-polar discrimination",
            lambda a: a.cross_polar_discrimination_db,
            "figure1",
            "cross_polar_discrimination_db",
            unit="dB",
        ),
    )


class AntennaTypeForms(EditPage):
    model = AntennaType
    form_class = AntennaTypeForm
    noun = "antenna type"


class AntennaTypeAdd(AntennaTypeForms):
    needs = "places.add_antennatype"
    act = "entering an antenna type"


class AntennaTypeChange(ChangePage, AntennaTypeForms):
    needs = "places.change_antennatype"
    act = "changing an antenna type"


class AntennaTypeRemove(RemovePage):
    needs = "places.delete_antennatype"
    act = "removing an antenna type"
    model, noun = AntennaType, "antenna type"
