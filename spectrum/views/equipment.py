"""Channel plans, radio types, modes and masks: lists, pages and forms."""

from __future__ import annotations

from typing import Any

import django_filters as filters
from django.core.paginator import Paginator
from django.db.models import Count, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils.translation import gettext_lazy as _

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
    act = _("reading the list of channel plans")
    heading = _("Channel plans: which pairs are there?")
    empty = _(
        "Channel plans belong here: rasters of pairs. Enter those of your bands from the authority's document."
    )
    filterset_class = ChannelPlanFilter
    default_sort = "code"
    add_page, add_needs, add_label = "channel-plan-add", "spectrum.add_channelplan", _("Enter a channel plan")
    columns = (
        Column(_("code"), lambda p: p.code, "code", "code", page_of),
        Column(_("name"), lambda p: p.name, order="name"),
        Column(_("first go"), lambda p: mhz(p.first_go_hz), "figure", "first_go_hz", unit="MHz"),
        Column(_("spacing"), lambda p: khz(p.spacing_hz), "figure", "spacing_hz", unit="kHz"),
        Column(_("width"), lambda p: khz(p.channel_width_hz), "figure", "channel_width_hz", unit="kHz"),
        Column(_("channels"), lambda p: p.channel_count, "figure", "channel_count"),
        Column(
            _("duplex spacing"), lambda p: mhz(p.duplex_spacing_hz), "figure", "duplex_spacing_hz", unit="MHz"
        ),
        Column(_("links"), lambda p: p.link_count, "figure", "link_count"),
    )

    def rows(self) -> QuerySet[ChannelPlan]:
        return selectors.all_channel_plans().annotate(link_count=Count("links"))


class ChannelPlanPage(ObjectPage):
    """The plan's channels, a page at a time, each with the links and licences that use it."""

    shows = ChannelPlan
    needs = "spectrum.view_channelplan"
    act = _("reading a channel plan")

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
    noun = _("channel plan")


class ChannelPlanAdd(ChannelPlanForms):
    needs = "spectrum.add_channelplan"
    act = _("entering a channel plan")


class ChannelPlanChange(ChangePage, ChannelPlanForms):
    needs = "spectrum.change_channelplan"
    act = _("changing a channel plan")


class ChannelPlanRemove(RemovePage):
    needs = "spectrum.delete_channelplan"
    act = _("removing a channel plan")
    model, noun = ChannelPlan, _("channel plan")


class RadioTypeFilter(filters.FilterSet):
    q = search_filter("name", "notes", "modes__emission_designator")
    tunes_to_mhz = mhz_filter(_("tunes to (MHz)"), "tuning")

    class Meta:
        model = RadioType
        fields: list[str] = []

    def tuning(self, rows: QuerySet[RadioType], _name: str, value: Any) -> QuerySet[RadioType]:
        return rows.filter(tuning_min_mhz__lte=float(value), tuning_max_mhz__gte=float(value))


class RadioTypeList(ListPage):
    needs = "spectrum.view_radiotype"
    act = _("reading the list of radio types")
    heading = _("Radio types: what can be set?")
    empty = _(
        "Radio types belong here, with their modes and masks from the data sheet. Enter the type first, then its modes."
    )
    filterset_class = RadioTypeFilter
    default_sort = "name"
    add_page, add_needs, add_label = "radio-type-add", "spectrum.add_radiotype", _("Enter a radio type")
    columns = (
        Column(_("name"), lambda r: r.name, "code", "name", page_of),
        Column(
            _("tunes from"),
            lambda r: one(r.tuning_min_mhz),
            "figure",
            "tuning_min_mhz",
            unit="MHz",
            plain=lambda r: r.tuning_min_mhz,
        ),
        Column(
            _("to"),
            lambda r: one(r.tuning_max_mhz),
            "figure",
            "tuning_max_mhz",
            unit="MHz",
            plain=lambda r: r.tuning_max_mhz,
        ),
        Column(_("lowest power"), lambda r: r.power_min_dbm, "power", "power_min_dbm", unit="dBm"),
        Column(_("highest power"), lambda r: r.power_max_dbm, "power", "power_max_dbm", unit="dBm"),
        Column(_("noise figure"), lambda r: r.noise_figure_db, "figure1", "noise_figure_db", unit="dB"),
        Column(_("modes"), lambda r: r.mode_count, "figure", "mode_count"),
    )

    def rows(self) -> QuerySet[RadioType]:
        return RadioType.objects.annotate(mode_count=Count("modes", distinct=True))


class RadioTypePage(ObjectPage):
    shows = RadioType
    needs = "spectrum.view_radiotype"
    act = _("reading a radio type")

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
    noun = _("radio type")


class RadioTypeAdd(RadioTypeForms):
    needs = "spectrum.add_radiotype"
    act = _("entering a radio type")


class RadioTypeChange(ChangePage, RadioTypeForms):
    needs = "spectrum.change_radiotype"
    act = _("changing a radio type")


class RadioTypeRemove(RemovePage):
    needs = "spectrum.delete_radiotype"
    act = _("removing a radio type")
    model, noun = RadioType, _("radio type")


class PartOfRadio(EditPage):
    """A mode or a mask: entered on, and read on, the page of its radio type."""

    def back(self, form: RegisterForm) -> str:
        return page_of(form.instance.radio_type)


class RadioModeForms(PartOfRadio):
    model = RadioMode
    form_class = RadioModeForm
    noun = _("mode")


class RadioModeAdd(RadioModeForms):
    needs = "spectrum.add_radiomode"
    act = _("entering a mode")

    def subject(self, **kwargs: Any) -> Registered:
        return RadioMode(radio_type=get_object_or_404(RadioType, pk=kwargs["radio_type_pk"]))


class RadioModeChange(ChangePage, RadioModeForms):
    needs = "spectrum.change_radiomode"
    act = _("changing a mode")


class RadioModeRemove(RemovePage):
    needs = "spectrum.delete_radiomode"
    act = _("removing a mode")
    model, noun = RadioMode, _("mode")


class RadioMaskForms(PartOfRadio):
    model = RadioMask
    form_class = RadioMaskForm
    noun = _("mask")


class RadioMaskAdd(RadioMaskForms):
    needs = "spectrum.add_radiomask"
    act = _("entering a mask")

    def subject(self, **kwargs: Any) -> Registered:
        return RadioMask(radio_type=get_object_or_404(RadioType, pk=kwargs["radio_type_pk"]))


class RadioMaskChange(ChangePage, RadioMaskForms):
    needs = "spectrum.change_radiomask"
    act = _("changing a mask")


class RadioMaskRemove(RemovePage):
    needs = "spectrum.delete_radiomask"
    act = _("removing a mask")
    model, noun = RadioMask, _("mask")
