"""Administration of channel plans, radios with their modes and masks, and the criteria of protection."""

from __future__ import annotations

from django.contrib import admin

from sites.admin.base import RecordedAdmin, RecordedInline
from sites.forms.base import RegisterForm
from spectrum.forms.equipment import ChannelPlanForm, RadioMaskForm, RadioModeForm, RadioTypeForm
from spectrum.models import ChannelPlan, ProtectionCriterion, RadioMask, RadioMode, RadioType


@admin.register(ChannelPlan)
class ChannelPlanAdmin(RecordedAdmin):
    form = ChannelPlanForm
    list_display = ("code", "name", "channel_count", "source")
    search_fields = ("code", "name")


class RadioModeInline(RecordedInline):
    model = RadioMode
    form = RadioModeForm


class RadioMaskInline(RecordedInline):
    model = RadioMask
    form = RadioMaskForm


@admin.register(RadioType)
class RadioTypeAdmin(RecordedAdmin):
    form = RadioTypeForm
    list_display = ("name", "tuning_min_mhz", "tuning_max_mhz", "power_min_dbm", "power_max_dbm")
    search_fields = ("name",)
    inlines = (RadioModeInline, RadioMaskInline)


class ModeOfAnyRadioForm(RadioModeForm):
    class Meta(RadioModeForm.Meta):
        fields = ["radio_type", *RadioModeForm.Meta.fields]


@admin.register(RadioMode)
class RadioModeAdmin(RecordedAdmin):
    form = ModeOfAnyRadioForm
    list_display = ("label", "radio_type", "emission_designator", "modulation", "bit_rate_kbps")
    list_select_related = ("radio_type",)
    list_filter = ("radio_type",)
    search_fields = ("label", "radio_type__name")


class MaskOfAnyRadioForm(RadioMaskForm):
    class Meta(RadioMaskForm.Meta):
        fields = ["radio_type", *RadioMaskForm.Meta.fields]


@admin.register(RadioMask)
class RadioMaskAdmin(RecordedAdmin):
    form = MaskOfAnyRadioForm
    list_display = ("radio_type", "kind", "channel_width_hz", "source")
    list_select_related = ("radio_type",)
    list_filter = ("kind",)


class ProtectionCriterionForm(RegisterForm):
    class Meta(RegisterForm.Meta):
        model = ProtectionCriterion
        fields = [
            "name",
            "authority",
            "frequency_min_mhz",
            "frequency_max_mhz",
            "i_over_n_limit_db",
            "long_term_time_percent",
            "aggregate_i_over_n_limit_db",
            "short_term_time_percent",
            "source",
        ]


@admin.register(ProtectionCriterion)
class ProtectionCriterionAdmin(RecordedAdmin):
    form = ProtectionCriterionForm
    list_display = (
        "name",
        "authority",
        "frequency_min_mhz",
        "frequency_max_mhz",
        "i_over_n_limit_db",
        "source",
    )
    list_select_related = ("authority",)
    search_fields = ("name", "source")
