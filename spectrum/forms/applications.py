"""The forms of an application: drawing it up, filing it, what came of it, and the grant with what differs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from licences.models import Application, Authority, Holder, LicensedChannel
from licences.models.channels import POLARISATIONS
from sites.errors import RegisterError
from sites.forms.base import RegisterForm, Section, ShownSection, plain_messages, say_empty
from sites.forms.figures import (
    AmountField,
    FigureField,
    KilohertzField,
    MegahertzField,
    PowerField,
    WordsField,
)
from sites.models import Person
from spectrum.models import FiledStation
from spectrum.services.applications import Grant, GrantedChannel

DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
MOST_CHARACTERS = 2000


class ApplicationForm(RegisterForm):
    """What an application says of itself; when it is drawn up, the links too."""

    sections = (
        (_("Which application"), ("number", "authority", "holder")),
        (_("For which links"), ("links",)),
        (_("What the sheet says besides"), ("contact", "remarks")),
    )

    links = WordsField(
        label=_("links"),
        help_text=_("Their codes, for example U41-204 U41-213. More can be added afterwards."),
        widget=forms.Textarea(attrs={"rows": 2, "class": "code", "spellcheck": "false"}),
        max_length=10_000,
    )

    class Meta(RegisterForm.Meta):
        model = Application
        fields = ["number", "authority", "holder", "contact", "remarks"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        holders: Any = self.fields["holder"]
        holders.queryset = Holder.objects.filter(own=True).order_by("name")
        authorities: Any = self.fields["authority"]
        authorities.queryset = Authority.objects.order_by("code")
        if self.instance.pk is not None:
            del self.fields["links"]


class _ActForm(forms.Form):
    """A form of something done with an application, which carries the version that the person saw."""

    sections: ClassVar[tuple[Section, ...]] = ()
    now_in_register: ClassVar[dict[str, Any]] = {}

    version = forms.IntegerField(required=False, widget=forms.HiddenInput, min_value=1, max_value=2**31 - 1)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)
        for name, field in self.fields.items():
            plain_messages(name, field)
            say_empty(field, gettext("choose") if field.required else gettext("none"))
        self.needed = {name for name, field in self.fields.items() if field.required}

    def shown_sections(self) -> list[ShownSection]:
        return [ShownSection(title, [self[name] for name in names]) for title, names in self.sections]

    @property
    def expected_version(self) -> int | None:
        return self.cleaned_data.get("version")

    def take_error(self, error: ValidationError | RegisterError) -> None:
        """Put what the service refused beside the field that it is about."""
        if isinstance(error, RegisterError):
            self.add_error(error.field if error.field in self.fields else None, error.message)
            return
        by_field = error.message_dict if hasattr(error, "error_dict") else {"": error.messages}
        for name, said in by_field.items():
            for message in said:
                self.add_error(name if name in self.fields else None, message)


class FileForm(_ActForm):
    """When it was filed, under which reference, and why in spite of what stands against it."""

    filed_on = forms.DateField(label=_("filed on"), widget=DAY)
    reference = forms.CharField(label=_("the authority's reference"), required=False, max_length=80)
    despite = forms.CharField(
        label=_("filed in spite of findings, because"),
        required=False,
        max_length=MOST_CHARACTERS,
        widget=forms.Textarea(attrs={"rows": 2}),
    )


class EndForm(_ActForm):
    """When the authority refused or we withdrew, and why."""

    decided_on = forms.DateField(label=_("on"), widget=DAY)
    remarks = forms.CharField(
        label=_("why"), required=False, max_length=MOST_CHARACTERS, widget=forms.Textarea(attrs={"rows": 2})
    )


class GrantForm(_ActForm):
    """The licence of a grant: number, dates, fee."""

    sections = (
        (_("Which paper"), ("number", "reference", "service")),
        (_("From when to when"), ("granted_on", "in_force_from", "bring_into_use_by", "expires_on")),
        (_("Fee, and who looks after it"), ("yearly_fee", "fee_currency", "responsible")),
        (_("Besides"), ("tolerance_m", "remarks")),
    )

    number = forms.CharField(label=_("licence number"), max_length=60)
    reference = forms.CharField(label=_("the authority's reference"), required=False, max_length=80)
    service = forms.CharField(label=_("service or licence class"), required=False, max_length=120)
    granted_on = forms.DateField(label=_("granted"), widget=DAY)
    in_force_from = forms.DateField(label=_("in force from"), widget=DAY)
    bring_into_use_by = forms.DateField(label=_("bring into use by"), required=False, widget=DAY)
    expires_on = forms.DateField(
        label=_("expires (last day of validity)"),
        required=False,
        widget=DAY,
        help_text=_("Empty: no fixed end."),
    )
    yearly_fee = AmountField(
        label=_("yearly fee"),
        required=False,
        max_digits=12,
        decimal_places=2,
        help_text=_("Of each licence."),
    )
    fee_currency = forms.CharField(
        label=_("currency"),
        required=False,
        max_length=3,
        help_text=_("Three letters (ISO 4217), for example EUR."),
    )
    responsible = forms.ModelChoiceField(
        label=_("responsible"),
        required=False,
        queryset=Person.objects.none(),
        help_text=_("Gets the reminders."),
    )
    tolerance_m = FigureField(
        label=_("position tolerance (m)"),
        required=False,
        min_value=0,
        help_text=_("Empty: none stated; the position cannot be judged then."),
    )
    remarks = forms.CharField(
        label=_("remarks on the decision"),
        required=False,
        max_length=MOST_CHARACTERS,
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people: Any = self.fields["responsible"]
        people.queryset = Person.objects.filter(is_active=True)


class GrantedChannelForm(_ActForm):
    """What was granted for one station; it begins with what was asked."""

    frequency_mhz = MegahertzField(label=_("transmit frequency (MHz)"))
    channel_width_khz = KilohertzField(label=_("channel width (kHz)"))
    emission_designators = WordsField(label=_("emissions allowed"), required=False, max_length=400)
    power_limit_dbm = PowerField(label=_("power limit"), required=False, help_text=_("40 dBm or 10 W."))
    power_kind = forms.ChoiceField(label=_("kind of power"), choices=LicensedChannel.PowerKind.choices)
    antenna_height_max_m = FigureField(label=_("antenna height limit (m)"), required=False)
    polarisation = forms.ChoiceField(
        label=_("polarisation"), required=False, choices=[("", _("not limited")), *POLARISATIONS]
    )
    azimuth_deg = FigureField(label=_("azimuth (degrees)"), required=False)
    azimuth_tolerance_deg = FigureField(label=_("azimuth tolerance (degrees)"), required=False)
    licence_number = forms.CharField(
        label=_("licence number of its own"),
        required=False,
        max_length=60,
        help_text=_("Empty: the number above."),
    )

    shown = (
        "frequency_mhz", "channel_width_khz", "power_limit_dbm", "power_kind", "emission_designators",
        "antenna_height_max_m", "polarisation", "azimuth_deg", "azimuth_tolerance_deg", "licence_number",
    )  # fmt: skip

    def shown_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.shown]

    def granted(self) -> GrantedChannel:
        """What was read, once the form is valid."""
        values = dict(self.cleaned_data)
        values.pop("version")
        return GrantedChannel(
            frequency_hz=values.pop("frequency_mhz"),
            channel_width_hz=values.pop("channel_width_khz"),
            **values,
        )


def as_initial(channel: GrantedChannel) -> dict[str, Any]:
    """The first values of a station's form."""
    return {
        "frequency_mhz": channel.frequency_hz,
        "channel_width_khz": channel.channel_width_hz,
        "emission_designators": list(channel.emission_designators),
        "power_limit_dbm": channel.power_limit_dbm,
        "power_kind": channel.power_kind,
        "antenna_height_max_m": channel.antenna_height_max_m,
        "polarisation": channel.polarisation,
    }


def terms_of(form: GrantForm, channels: Sequence[tuple[FiledStation, GrantedChannelForm]]) -> Grant:
    """The grant that valid forms describe."""
    values = dict(form.cleaned_data)
    values.pop("version")
    return Grant(channels={kept.pk: each.granted() for kept, each in channels}, **values)
