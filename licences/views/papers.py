"""Lists and forms of licences and licensed channels. Their pages are in spectrum, which knows who uses them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal
from typing import Any, cast

import django_filters as filters
from django import forms
from django.db.models import Count, QuerySet
from django.shortcuts import get_object_or_404
from django.utils.text import format_lazy
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences import selectors
from licences.forms.papers import LicenceForm, LicensedChannelForm, channel_code
from licences.models import Authority, Licence, LicensedChannel
from licences.places import place_of_channel
from licences.standing import Standing
from sites.forms.base import RegisterForm
from sites.lazily import lazily, lazy_words
from sites.models import Registered, Site
from sites.on_day import day_or_today
from sites.reading import written_day
from sites.tables import Geometry
from sites.templatetags.figures import khz, mhz
from sites.views.addresses import page_of
from sites.views.editing import ChangePage, EditPage, RemovePage
from sites.views.listing import Column, ListPage, also
from sites.views.places import mhz_filter, own_filter, search_filter

STANDINGS = [(standing.value, lazy_words(standing)) for standing in Standing]
DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
OPTIONS = 1000  # codes offered while typing; any code can be typed
FIRST_DAY, LAST_DAY = dt.date(1900, 1, 1), dt.date(2200, 12, 31)


def today() -> dt.date:
    """Today, or the day on which the register is being shown."""
    return day_or_today()


def day_of(filterset: filters.FilterSet) -> dt.date:
    """The day on which a list looks at the licences: the one asked for, or today."""
    asked = getattr(filterset.form, "cleaned_data", {}).get("on")
    return asked if asked and FIRST_DAY <= asked <= LAST_DAY else today()


class LicenceFilter(filters.FilterSet):
    q = search_filter("number", "holder__name", "service", "authority__code")
    standing = filters.ChoiceFilter(
        label=_("standing"), choices=STANDINGS, method="as_it_stands", empty_label=_("all")
    )
    on = filters.DateFilter(label=_("on the day"), method="nothing_more", widget=DAY)
    authority = filters.ModelChoiceFilter(
        label=_("authority"), queryset=Authority.objects.order_by("code"), empty_label=_("all")
    )
    holder = filters.CharFilter(label=_("holder"), field_name="holder__name", lookup_expr="icontains")
    whose = own_filter("holder__own")
    expires_before = filters.DateFilter(
        label=_("expires before"), field_name="expires_on", lookup_expr="lt", widget=DAY
    )

    class Meta:
        model = Licence
        fields: list[str] = []

    def as_it_stands(self, rows: QuerySet[Licence], _name: str, value: str) -> QuerySet[Licence]:
        return rows.filter(selectors.has_standing(Standing(value), day_of(self)))

    def nothing_more(self, rows: QuerySet[Licence], _name: str, _value: dt.date) -> QuerySet[Licence]:
        """The day is used by the filter on standing and by the column of that name."""
        return rows


class LicenceList(ListPage):
    needs = "licences.view_licence"
    act = _("reading the list of licences")
    heading = _("Licences: what is allowed, until when?")
    empty = _(
        "Licences belong here, one for each paper of an authority. "
        "Enter the authority and the holder first, then the licence and its channels."
    )
    filterset_class = LicenceFilter
    default_sort = "expires_on"
    add_page, add_needs, add_label = "licence-add", "licences.add_licence", _("Enter a licence")

    columns = (
        Column(_("licence"), str, "code", "number", page_of),
        Column(_("standing"), lambda licence: selectors.standing_on(licence, today()).words),
        Column(_("holder"), lambda licence: licence.holder.name, order="holder__name"),
        Column(_("service"), lambda licence: licence.service, order="service"),
        Column(_("channels"), lambda licence: licence.channel_count, "figure", "channel_count"),
        Column(_("in force from"), lambda licence: licence.in_force_from, "date", "in_force_from"),
        Column(
            _("expires"), lambda licence: licence.expires_on or gettext("no fixed end"), "date", "expires_on"
        ),
        Column(_("responsible"), lambda licence: licence.responsible or "", order="responsible__username"),
    )
    also_exported = (
        also("bring_into_use_by", lambda licence: licence.bring_into_use_by),
        also("brought_into_use_on", lambda licence: licence.brought_into_use_on),
        also("renewal_filed_on", lambda licence: licence.renewal_filed_on),
        also("ended_on", lambda licence: licence.ended_on),
        also("yearly_fee", lambda licence: licence.yearly_fee),
        also("fee_currency", lambda licence: licence.fee_currency),
    )

    def rows(self) -> QuerySet[Licence]:
        rows = selectors.all_licences().select_related("authority__renewal_policy")
        return rows.annotate(channel_count=Count("channels"))

    def shown_columns(self, filterset: filters.FilterSet) -> Sequence[Column]:
        day = day_of(filterset)
        as_of = Column(
            format_lazy(_("standing on {day}"), day=lazily(written_day, day)),
            lambda licence: selectors.standing_on(licence, day).words,
            "standing",
        )
        return (self.columns[0], as_of, *self.columns[2:])


class LicenceForms(EditPage):
    model = Licence
    form_class = LicenceForm
    noun = _("licence")


class LicenceAdd(LicenceForms):
    needs = "licences.add_licence"
    act = _("entering a licence")


class LicenceChange(ChangePage, LicenceForms):
    needs = "licences.change_licence"
    act = _("changing a licence")


class LicenceRemove(RemovePage):
    needs = "licences.delete_licence"
    act = _("removing a licence")
    model, noun = Licence, _("licence")


class LicensedChannelFilter(filters.FilterSet):
    q = search_filter("label", "licence__number", "licence__holder__name", "site__code", "site__name")
    authority = filters.ModelChoiceFilter(
        label=_("authority"),
        field_name="licence__authority",
        queryset=Authority.objects.order_by("code"),
        empty_label=_("all"),
    )
    site = filters.CharFilter(label=_("site code"), field_name="site__code", lookup_expr="iexact")
    from_mhz = mhz_filter(_("from (MHz)"), "above")
    to_mhz = mhz_filter(_("to (MHz)"), "below")
    whose = own_filter("licence__holder__own")

    class Meta:
        model = LicensedChannel
        fields: list[str] = []

    def above(self, rows: QuerySet[LicensedChannel], _name: str, value: Decimal) -> QuerySet[LicensedChannel]:
        return rows.filter(frequency_hz__gte=int(value * 1_000_000))

    def below(self, rows: QuerySet[LicensedChannel], _name: str, value: Decimal) -> QuerySet[LicensedChannel]:
        return rows.filter(frequency_hz__lte=int(value * 1_000_000))


class LicensedChannelList(ListPage):
    needs = "licences.view_licensedchannel"
    act = _("reading the list of licensed channels")
    heading = _("Licensed channels: what may be sent where?")
    empty = _(
        "Licensed channels are entered on the page of their licence: open the licence and add its channels there."
    )
    filterset_class = LicensedChannelFilter
    default_sort = "frequency_hz"
    columns = (
        Column(_("licence/label"), channel_code, "code", "licence__number", page_of),
        Column(_("frequency"), lambda c: mhz(c.frequency_hz), "figure", "frequency_hz", unit="MHz"),
        Column(_("width"), lambda c: khz(c.channel_width_hz), "figure", "channel_width_hz", unit="kHz"),
        Column(
            _("where"),
            lambda c: c.site.code if c.site else gettext("area"),
            "code",
            "site__code",
            lambda c: page_of(c.site),
        ),
        Column(_("limit"), lambda c: c.power_limit_dbm, "power", "power_limit_dbm", unit="dBm"),
        Column(_("of"), lambda c: c.get_power_kind_display(), order="power_kind"),
        Column(_("holder"), lambda c: c.licence.holder.name, order="licence__holder__name"),
        Column(
            _("expires"), lambda c: c.expires_on or c.licence.expires_on or gettext("no fixed end"), "date"
        ),
    )
    also_exported = (
        also("emission_designators", lambda c: "; ".join(c.emission_designators)),
        also("modulations", lambda c: "; ".join(c.modulations)),
        also("antenna_height_max_m", lambda c: c.antenna_height_max_m),
        also("azimuth_deg", lambda c: c.azimuth_deg),
        also("polarisation", lambda c: c.polarisation),
    )
    located = True

    def place_of(self, row: LicensedChannel) -> Geometry | None:
        return place_of_channel(row)

    def rows(self) -> QuerySet[LicensedChannel]:
        return selectors.all_licensed_channels()


class LicensedChannelForms(EditPage):
    model = LicensedChannel
    form_class = LicensedChannelForm
    noun = _("licensed channel")
    template_name = "licensed_channel_form.html"

    def more_context(self, form: RegisterForm) -> dict[str, Any]:
        return {
            "site_options": Site.objects.filter(own=True).values_list("code", "name")[:OPTIONS],
            "channel_options": [
                channel_code(c) for c in selectors.channels_of(form.instance.licence)[:OPTIONS]
            ],
        }


class LicensedChannelAdd(LicensedChannelForms):
    needs = "licences.add_licensedchannel"
    act = _("entering a licensed channel")

    def subject(self, **kwargs: Any) -> Registered:
        return LicensedChannel(licence=get_object_or_404(selectors.all_licences(), pk=kwargs["licence_pk"]))

    def back(self, form: RegisterForm) -> str:
        return page_of(form.instance.licence)


class LicensedChannelChange(ChangePage, LicensedChannelForms):
    needs = "licences.change_licensedchannel"
    act = _("changing a licensed channel")


class LicensedChannelRemove(RemovePage):
    needs = "licences.delete_licensedchannel"
    act = _("removing a licensed channel")
    model, noun = LicensedChannel, _("licensed channel")

    def after(self, obj: Registered) -> str:
        return page_of(cast(LicensedChannel, obj).licence)
