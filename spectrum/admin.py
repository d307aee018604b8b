"""Administration of channel plans, radios, links with their stations; checks and findings to be read."""

from __future__ import annotations

import json
from typing import Any

from django.contrib import admin
from django.core.exceptions import ValidationError
from django.db.models import Model, Q, QuerySet
from django.http import HttpRequest
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.admin import NO_FINDINGS, shown_findings
from licences.forms.papers import channel_field, site_field
from sites.admin.base import ReadOnlyAdmin, RecordedAdmin, RecordedInline, sentence
from sites.errors import RegisterError
from sites.forms.base import RegisterForm
from sites.forms.figures import MegahertzField, PowerField
from sites.services.record import Author
from spectrum.forms.equipment import ChannelPlanForm, RadioMaskForm, RadioModeForm, RadioTypeForm
from spectrum.forms.stations import ModeField
from spectrum.models import (
    ApplicationLink,
    ChannelPlan,
    Check,
    CommissioningRecord,
    Difference,
    ExtractMapping,
    ExtractRun,
    FiledStation,
    Finding,
    InterferenceEntry,
    Link,
    PlannedChange,
    ProtectionCriterion,
    RadioMask,
    RadioMode,
    RadioType,
    RegulatorRecord,
    Station,
    Variant,
    VariantCheck,
    VariantFinding,
)
from spectrum.services import links

OTHERS = "spectrum.what_others_hold"


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


class ExtractMappingForm(RegisterForm):
    class Meta(RegisterForm.Meta):
        model = ExtractMapping
        fields = [
            "code",
            "title",
            "authority",
            "columns",
            "reading",
            "statuses",
            "key",
            "own_registrants",
            "stand_ins",
        ]


@admin.register(ExtractMapping)
class ExtractMappingAdmin(RecordedAdmin):
    form = ExtractMappingForm
    list_display = ("code", "title", "authority")
    list_select_related = ("authority",)
    search_fields = ("code", "title")


@admin.register(ExtractRun)
class ExtractRunAdmin(ReadOnlyAdmin):
    list_display = ("at", "file_name", "mapping", "by_name", "as_of", "row_count")
    list_select_related = ("mapping",)
    list_filter = ("mapping",)
    search_fields = ("file_name", "by_name")
    date_hierarchy = "at"


@admin.register(RegulatorRecord)
class RegulatorRecordAdmin(ReadOnlyAdmin):
    """What the extracts state; where it differs from the register stands on the page of differences."""

    list_display = ("label", "kind", "key", "own", "mapping", "row")
    list_select_related = ("mapping",)
    list_filter = ("kind", "own", "mapping")
    search_fields = ("label", "key")


@admin.register(Difference)
class DifferenceAdmin(ReadOnlyAdmin):
    """Differences are decided on their own page, with a reason; here they are read."""

    list_display = ("record", "what", "field", "state", "distance_m", "decided_by_name", "decided_at")
    list_select_related = ("record",)
    list_filter = ("state", "what")
    search_fields = ("record__label", "reason")


class StationOfLinkForm(RegisterForm):
    """A station as a part of its link; the radio type is that of the mode."""

    stored_as = {"tx_frequency_mhz": "tx_frequency_hz", "rx_frequency_mhz": "rx_frequency_hz"}

    site = site_field(label=_("site"))
    mode = ModeField(label=_("radio and mode"), queryset=RadioMode.objects.all(), empty_label=_("choose"))
    tx_frequency_mhz = MegahertzField(label=_("transmits (MHz)"), required=False)
    rx_frequency_mhz = MegahertzField(label=_("receives (MHz)"), required=False)
    tx_power_dbm = PowerField(label=_("transmitter output"), required=False, help_text=_("40 dBm or 10 W."))
    licensed_channel = channel_field(label=_("licensed channel"), required=False)

    class Meta(RegisterForm.Meta):
        model = Station
        fields = [
            "role",
            "label",
            "site",
            "antenna_type",
            "antenna_height_agl_m",
            "azimuth_deg",
            "tilt_deg",
            "polarisation",
            "feeder_loss_db",
            "duplexer_loss_db",
            "duplexer_isolation_db",
            "antenna_spacing_m",
            "antenna_spacing_vertical_m",
            "mode",
            "tx_power_dbm",
            "licensed_channel",
        ]

    def clean(self) -> dict[str, Any]:
        mode = self.cleaned_data.get("mode")
        if mode is not None:
            self.instance.radio_type = mode.radio_type
        return super().clean()


class StationInline(RecordedInline):
    model = Station
    form = StationOfLinkForm

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        return super().get_queryset(request).select_related("link", "site", "mode__radio_type")


class LinkForm(RegisterForm):
    class Meta(RegisterForm.Meta):
        model = Link
        fields = [
            "code",
            "name",
            "kind",
            "holder",
            "status",
            "responsible",
            "channel_plan",
            "starts_on",
            "ends_on",
            "reserved_until",
            "required_bit_rate_kbps",
            "required_round_trip_ms",
            "assumptions",
            "notes",
        ]


class _OwnOrPermitted(RecordedAdmin):
    """Other parties' links are changed by those who may record what others hold."""

    def holder_of(self, obj: Any) -> Any:
        raise TypeError(f"{type(self).__name__} does not say whose its objects are.")

    def _may_touch(self, request: HttpRequest, obj: Any) -> bool:
        return obj is None or self.holder_of(obj).own or request.user.has_perm(OTHERS)

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return super().has_change_permission(request, obj) and self._may_touch(request, obj)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return super().has_delete_permission(request, obj) and self._may_touch(request, obj)


@admin.register(Link)
class LinkAdmin(_OwnOrPermitted):
    """A link and its stations are saved as one thing, and checked afterwards."""

    form = LinkForm
    list_display = ("code", "name", "kind", "status", "holder", "starts_on", "ends_on", "reserved_until")
    list_select_related = ("holder",)
    list_filter = ("status", "kind", "holder__own")
    search_fields = ("code", "name", "holder__name")
    readonly_fields = ("current_findings",)
    inlines = (StationInline,)

    def holder_of(self, obj: Link) -> Any:
        return obj.holder

    def save_model(self, request: HttpRequest, obj: Any, form: Any, change: bool) -> None:
        """The link is saved with its stations, in save_related."""

    def save_related(self, request: HttpRequest, form: Any, formsets: Any, change: bool) -> None:
        [formset] = formsets
        formset.save(commit=False)
        kept = [each.instance for each in formset.initial_forms if each not in formset.deleted_forms]
        save_with_stations(
            form.instance, [*kept, *formset.new_objects], Author.of(request.user), form.expected_version
        )

    def remove(self, obj: Any, by: Author) -> None:
        links.remove_link(obj, by=by)

    @admin.display(description=_("current findings"))
    def current_findings(self, link: Model) -> SafeString | str:
        if link.pk is None:
            return NO_FINDINGS
        return shown_findings(Finding.objects.filter(Q(link=link) | Q(other_link=link), gone_at=None))


class StationOfAnyLinkForm(StationOfLinkForm):
    class Meta(StationOfLinkForm.Meta):
        fields = ["link", *StationOfLinkForm.Meta.fields]


@admin.register(Station)
class StationAdmin(_OwnOrPermitted):
    """One station; it is saved through its link, which is checked afterwards."""

    form = StationOfAnyLinkForm
    list_display = ("__str__", "site", "antenna_type", "radio_type", "tx_power_dbm", "polarisation")
    list_select_related = ("link", "site", "antenna_type", "radio_type")
    list_filter = ("role", "radio_type")
    search_fields = ("link__code", "site__code", "label")
    autocomplete_fields = ("link",)

    def holder_of(self, obj: Station) -> Any:
        return obj.link.holder

    def get_readonly_fields(self, request: HttpRequest, obj: Any = None) -> tuple[str, ...]:
        return () if obj is None else ("link",)

    def write(self, obj: Any, by: Author, seen: int | None) -> None:
        others = list(Station.objects.filter(link=obj.link).exclude(pk=obj.pk))
        if not obj._state.adding and seen is not None:
            obj.version = seen
        save_with_stations(obj.link, [*others, obj], by, obj.link.version)

    def remove(self, obj: Any, by: Author) -> None:
        link = Link.objects.get(pk=obj.link_id)
        save_with_stations(link, list(link.stations.exclude(pk=obj.pk)), by, link.version)


@admin.register(CommissioningRecord)
class CommissioningRecordAdmin(ReadOnlyAdmin):
    """What was found on site is entered from the commissioning sheet; here it is read."""

    list_display = ("__str__", "found_by", "tx_power_dbm", "received_level_dbm", "isolation_db")
    list_select_related = ("station__link",)
    search_fields = ("station__link__code", "found_by", "notes")
    date_hierarchy = "found_on"


@admin.register(Check)
class CheckAdmin(ReadOnlyAdmin):
    list_display = ("started_at", "scope", "link", "as_of", "ended_at", "asked_by", "model_version")
    list_select_related = ("link", "asked_by")
    list_filter = ("scope",)
    search_fields = ("link__code",)
    date_hierarchy = "started_at"


@admin.register(Finding)
class FindingAdmin(ReadOnlyAdmin):
    """Findings are accepted on their own page, with a reason; here they are read."""

    list_display = ("headline", "kind", "severity", "margin", "margin_unit", "link", "licence", "gone_at")
    list_select_related = ("link", "licence__authority")
    list_filter = ("severity", "kind", ("gone_at", admin.EmptyFieldListFilter))
    search_fields = ("headline", "link__code", "licence__number")
    readonly_fields = ("evidence_in_full",)

    @admin.display(description=_("evidence"))
    def evidence_in_full(self, finding: Finding) -> SafeString:
        return format_html("<pre>{}</pre>", json.dumps(finding.evidence, indent=1, ensure_ascii=False))


@admin.register(ApplicationLink)
class ApplicationLinkAdmin(ReadOnlyAdmin):
    list_display = ("application", "link")
    list_select_related = ("application", "link")
    search_fields = ("application__number", "link__code")


@admin.register(FiledStation)
class FiledStationAdmin(ReadOnlyAdmin):
    list_display = ("__str__", "label", "licensed_channel")
    list_select_related = (
        "application_link__application",
        "application_link__link",
        "licensed_channel__licence__authority",
    )
    search_fields = ("application_link__application__number", "application_link__link__code")


@admin.register(InterferenceEntry)
class InterferenceEntryAdmin(ReadOnlyAdmin):
    """Interference is entered on the page of its link; here it is read."""

    list_display = ("link", "began_on", "ended_on", "station", "level_dbm", "other_party", "closed_on")
    list_select_related = ("link", "station__link", "other_party")
    list_filter = (("closed_on", admin.EmptyFieldListFilter),)
    search_fields = ("link__code", "observed", "outcome")


@admin.register(Variant)
class VariantAdmin(ReadOnlyAdmin):
    """Variants are drawn up and decided on their own pages; here they are read."""

    list_display = ("name", "as_of", "status", "drawn_up_by", "decided_by", "decided_at")
    list_select_related = ("drawn_up_by", "decided_by")
    list_filter = ("status",)
    search_fields = ("name", "purpose")


@admin.register(PlannedChange)
class PlannedChangeAdmin(ReadOnlyAdmin):
    list_display = ("code", "kind", "variant", "last_day")
    list_select_related = ("variant",)
    list_filter = ("kind",)
    search_fields = ("code", "variant__name")


@admin.register(VariantCheck)
class VariantCheckAdmin(ReadOnlyAdmin):
    list_display = ("variant", "as_of", "started_at", "ended_at", "asked_by", "model_version")
    list_select_related = ("variant", "asked_by")
    search_fields = ("variant__name",)


@admin.register(VariantFinding)
class VariantFindingAdmin(ReadOnlyAdmin):
    list_display = ("headline", "standing", "kind", "severity", "margin", "margin_before", "margin_unit")
    list_filter = ("standing", "severity")
    search_fields = ("headline",)


def save_with_stations(link: Link, stations: list[Station], by: Author, seen: int | None) -> None:
    """Save a link with its stations; what is refused of a station says of which."""
    try:
        links.save_link(link, stations, by=by, expected_version=seen)
    except ValidationError as error:
        named = {key: found for key, found in getattr(error, "message_dict", {}).items() if "." in key}
        if not named:
            raise
        problems = [
            gettext("Station {name}: {sentence}").format(
                name=key.partition(".")[0], sentence=sentence(ValidationError({key.partition(".")[2]: found}))
            )
            for key, found in named.items()
        ]
        raise RegisterError(" ".join(problems)) from error
