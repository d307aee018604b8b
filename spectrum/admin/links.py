"""Administration of links with their stations."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.core.exceptions import ValidationError
from django.db.models import Model, Q, QuerySet
from django.http import HttpRequest
from django.utils.safestring import SafeString
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.admin import NO_FINDINGS, shown_findings
from licences.forms.papers import channel_field, site_field
from sites.admin.base import RecordedAdmin, RecordedInline, sentence
from sites.errors import RegisterError
from sites.forms.base import RegisterForm
from sites.forms.figures import MegahertzField, PowerField
from sites.services.record import Author
from spectrum.forms.stations import ModeField
from spectrum.models import Finding, Link, RadioMode, Station
from spectrum.services import links

OTHERS = "spectrum.what_others_hold"


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
