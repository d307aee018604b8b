"""Channel plans, radio types, modes and masks: lists, pages and forms."""

from __future__ import annotations

from typing import Any

import django_filters as filters
from django.core.paginator import Paginator
from django.db.models import Count, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from sites.forms.base import RegisterForm
from sites.models import Registered
from sites.templatetags.figures import khz, mhz, one
from sites.views.addresses import page_of
from sites.views.editing import ChangePage, EditPage, RemovePage
from sites.views.listing import Column, ListPage
from sites.views.on_day import ObjectPage
from sites.views.places import mhz_filter, search_filter
from spectrum import selectors
from spectrum.drawings import mask_drawing
from spectrum.forms.equipment import ChannelPlanForm, RadioMaskForm, RadioModeForm, RadioTypeForm
from spectrum.models import ChannelPlan, RadioMask, RadioMode, RadioType

CHANNELS_A_PAGE = 100


class ChannelPlanFilter(filters.FilterSet):
    q = search_filter("code", "name", "source")

    class Meta:
        model = ChannelPlan
        fields: list[str] = []


class ChannelPlanList(ListPage):
    needs = "spectrum.view_channelplan"
    act = "reading the list of channel plans"
    heading = "Channel plans: which pairs are there?"
    empty = "Channel plans belong here: rasters of pairs. Enter those of your bands from the authority's document."
    filterset_class = ChannelPlanFilter
    default_sort = "code"
    add_page, add_needs, add_label = "channel-plan-add", "spectrum.add_channelplan", "Enter a channel plan"
    columns = (
        Column("code", lambda p: p.code, "code", "code", page_of),
        Column("name", lambda p: p.name, order="name"),
        Column("first go", lambda p: mhz(p.first_go_hz), "figure", "first_go_hz", unit="MHz"),
        Column("spacing", lambda p: khz(p.spacing_hz), "figure", "spacing_hz", unit="kHz"),
        Column("width", lambda p: khz(p.channel_width_hz), "figure", "channel_width_hz", unit="kHz"),
        Column("channels", lambda p: p.channel_count, "figure", "channel_count"),
        Column(
            "duplex spacing", lambda p: mhz(p.duplex_spacing_hz), "figure", "duplex_spacing_hz", unit="MHz"
        ),
        Column("links", lambda p: p.link_count, "figure", "link_count"),
    )

    def rows(self) -> QuerySet[ChannelPlan]:
        return selectors.all_channel_plans().annotate(link_count=Count("links"))


class ChannelPlanPage(ObjectPage):
    """The plan's channels, a page at a time, each with the links and licences that use it."""

    shows = ChannelPlan
    needs = "spectrum.view_channelplan"
    act = "reading a channel plan"

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        plan = get_object_or_404(ChannelPlan, pk=pk)
        used_only = "used" in request.GET
        used = selectors.use_of_channel_plan(plan)
        numbers = sorted(used) if used_only else range(1, plan.channel_count + 1)
        page = Paginator(numbers, CHANNELS_A_PAGE).get_page(request.GET.get("page"))
        rows = [(number, *plan.pair_hz(number), used.get(number)) for number in page.object_list]
        context = {"plan": plan, "page": page, "rows": rows, "used_only": used_only, "used_count": len(used)}
        return render(request, "channel_plan.html", context)


class ChannelPlanForms(EditPage):
    model = ChannelPlan
    form_class = ChannelPlanForm
    noun = "channel plan"


class ChannelPlanAdd(ChannelPlanForms):
    needs = "spectrum.add_channelplan"
    act = "entering a channel plan"


class ChannelPlanChange(ChangePage, ChannelPlanForms):
    needs = "spectrum.change_channelplan"
    act = "changing a channel plan"


class ChannelPlanRemove(RemovePage):
    needs = "spectrum.delete_channelplan"
    act = "removing a channel plan"
    model, noun = ChannelPlan, "channel plan"


class RadioTypeFilter(filters.FilterSet):
    q = search_filter("name", "notes", "modes__emission_designator")
    tunes_to_mhz = mhz_filter("tunes to (MHz)", "tuning")

    class Meta:
        model = RadioType
        fields: list[str] = []

    def tuning(self, rows: QuerySet[RadioType], _name: str, value: Any) -> QuerySet[RadioType]:
        return rows.filter(tuning_min_mhz__lte=float(value), tuning_max_mhz__gte=float(value))


class RadioTypeList(ListPage):
    needs = "spectrum.view_radiotype"
    act = "reading the list of radio types"
    heading = "Radio types: what can be set?"
    empty = "Radio types belong here, with their modes and masks from the data sheet. Enter the type first, then its modes."
    filterset_class = RadioTypeFilter
    default_sort = "name"
    add_page, add_needs, add_label = "radio-type-add", "spectrum.add_radiotype", "Enter a radio type"
    columns = (
        Column("name", lambda r: r.name, "code", "name", page_of),
        Column(
            "tunes from",
            lambda r: one(r.tuning_min_mhz),
            "figure",
            "tuning_min_mhz",
            unit="MHz",
            plain=lambda r: r.tuning_min_mhz,
        ),
        Column(
            "to",
            lambda r: one(r.tuning_max_mhz),
            "figure",
            "tuning_max_mhz",
            unit="MHz",
            plain=lambda r: r.tuning_max_mhz,
        ),
        Column("lowest power", lambda r: r.power_min_dbm, "power", "power_min_dbm", unit="dBm"),
        Column("highest power", lambda r: r.power_max_dbm, "power", "power_max_dbm", unit="dBm"),
        Column("noise figure", lambda r: r.noise_figure_db, "figure1", "noise_figure_db", unit="dB"),
        Column("modes", lambda r: r.mode_count, "figure", "mode_count"),
    )

    def rows(self) -> QuerySet[RadioType]:
        return RadioType.objects.annotate(mode_count=Count("modes", distinct=True))


class RadioTypePage(ObjectPage):
    shows = RadioType
    needs = "spectrum.view_radiotype"
    act = "reading a radio type"

    def get(self, request: HttpRequest, pk: int) -> HttpResponse:
        radio = get_object_or_404(selectors.all_radio_types(), pk=pk)
        by_width: dict[int, list[RadioMask]] = {}
        for mask in radio.masks.all():
            by_width.setdefault(mask.channel_width_hz, []).append(mask)
        context = {
            "radio": radio,
            "masks": [(width, masks, mask_drawing(masks)) for width, masks in sorted(by_width.items())],
            "station_count": radio.stations.count(),
        }
        return render(request, "radio_type.html", context)


class RadioTypeForms(EditPage):
    model = RadioType
    form_class = RadioTypeForm
    noun = "radio type"


class RadioTypeAdd(RadioTypeForms):
    needs = "spectrum.add_radiotype"
    act = "entering a radio type"


class RadioTypeChange(ChangePage, RadioTypeForms):
    needs = "spectrum.change_radiotype"
    act = "changing a radio type"


class RadioTypeRemove(RemovePage):
    needs = "spectrum.delete_radiotype"
    act = "removing a radio type"
    model, noun = RadioType, "radio type"


class PartOfRadio(EditPage):
    """A mode or a mask: entered on, and read on, the page of its radio type."""

    def back(self, form: RegisterForm) -> str:
        return page_of(form.instance.radio_type)


class RadioModeForms(PartOfRadio):
    model = RadioMode
    form_class = RadioModeForm
    noun = "mode"


class RadioModeAdd(RadioModeForms):
    needs = "spectrum.add_radiomode"
    act = "entering a mode"

    def subject(self, **kwargs: Any) -> Registered:
        return RadioMode(radio_type=get_object_or_404(RadioType, pk=kwargs["radio_type_pk"]))


class RadioModeChange(ChangePage, RadioModeForms):
    needs = "spectrum.change_radiomode"
    act = "changing a mode"


class RadioModeRemove(RemovePage):
    needs = "spectrum.delete_radiomode"
    act = "removing a mode"
    model, noun = RadioMode, "mode"


class RadioMaskForms(PartOfRadio):
    model = RadioMask
    form_class = RadioMaskForm
    noun = "mask"


class RadioMaskAdd(RadioMaskForms):
    needs = "spectrum.add_radiomask"
    act = "entering a mask"

    def subject(self, **kwargs: Any) -> Registered:
        return RadioMask(radio_type=get_object_or_404(RadioType, pk=kwargs["radio_type_pk"]))


class RadioMaskChange(ChangePage, RadioMaskForms):
    needs = "spectrum.change_radiomask"
    act = "changing a mask"


class RadioMaskRemove(RemovePage):
    needs = "spectrum.delete_radiomask"
    act = "removing a mask"
    model, noun = RadioMask, "mask"
