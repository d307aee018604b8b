"""Forms for what an authority grants, in the order in which a registrar reads it off the paper."""

from __future__ import annotations

import json
from typing import Any

from django import forms
from django.db.models import Q, QuerySet
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

from licences.applying import FIELDS
from licences.models import Authority, Holder, Licence, LicensedChannel, RenewalPolicy
from licences.models.authorities import STEP_FIELDS
from sites.forms.base import CodeField, RegisterForm
from sites.forms.figures import DaysField, KilohertzField, MegahertzField, PowerField, WordsField
from sites.models import Person, Site

from .filing_rules import FilingRulesField


def site_field(*, options: str = "sites", **kwargs: Any) -> CodeField:
    """A site, named by its code."""
    return CodeField(
        noun=_("site"),
        rows=Site.objects.all,
        find=lambda text: Site.objects.filter(code__iexact=text).first(),
        written=lambda site: str(site.code),
        options=options,
        help_text=_("By its code."),
        **kwargs,
    )


def channel_code(channel: LicensedChannel) -> str:
    """A licensed channel as people write it: authority, licence number, label."""
    return f"{channel.licence.authority.code} {channel.licence.number}/{channel.label}"


def channel_rows() -> QuerySet[LicensedChannel]:
    """Licensed channels with what their written form needs; our own first."""
    return LicensedChannel.objects.select_related("licence__authority").order_by(
        "-licence__holder__own", "pk"
    )


def find_channel(text: str) -> LicensedChannel | None:
    """The licensed channel written as ``AUTHORITY NUMBER/LABEL``, or None."""
    code, _, rest = text.partition(" ")
    wanted = Q(pk__in=[])
    # Numbers and labels may hold a slash themselves, so every slash is tried as the one between them.
    for place, sign in enumerate(rest):
        if sign == "/":
            wanted |= Q(licence__number__iexact=rest[:place].strip(), label__iexact=rest[place + 1 :].strip())
    return channel_rows().filter(wanted, licence__authority__code__iexact=code).first()


def channel_field(**kwargs: Any) -> CodeField:
    """A licensed channel, named by authority, licence number and label."""
    return CodeField(
        noun=_("licensed channel"),
        rows=channel_rows,
        find=find_channel,
        written=channel_code,
        options="licensed-channels",
        **kwargs,
    )


class AuthorityForm(RegisterForm):
    sections = (
        (_("Which authority"), ("code", "name", "country")),
        (_("What it asks in an application"), ("asked_fields",)),
    )

    asked_fields = forms.MultipleChoiceField(
        label=_("fields of the data sheet"),
        required=False,
        choices=[
            (field.key, format_lazy("{} ({})", _(field.title), _(field.notation)))
            for field in FIELDS.values()
        ],
        widget=forms.SelectMultiple(attrs={"size": 12}),
        help_text=_("Keep the control key pressed to choose several."),
        error_messages={
            "invalid_choice": _("“%(value)s” is no field of the data sheet; choose from the list.")
        },
    )

    class Meta(RegisterForm.Meta):
        model = Authority
        fields = ["code", "name", "country", "asked_fields"]


class RenewalPolicyForm(RegisterForm):
    reminder_steps_days = DaysField(
        label=_("days before the last filing day"), help_text=_("For example 90, 30, 14, 3.")
    )

    window_steps_days = DaysField(
        label=_("days before the window opens"), required=False, help_text=_("0: on the day it opens.")
    )
    expiry_steps_days = DaysField(label=_("days before the expiry"), required=False)
    after_expiry_steps_days = DaysField(
        label=_("days after the expiry"),
        required=False,
        help_text=_("1: on the first day without the licence."),
    )
    use_steps_days = DaysField(label=_("days before the bring-into-use date"), required=False)
    notice_steps_days = DaysField(label=_("days before the notice of use"), required=False)
    fee_steps_days = DaysField(label=_("days before a fee is due"), required=False)
    filing_rules = FilingRulesField(
        label=_("which change needs filing"),
        required=False,
        help_text=_(
            "One rule a row. An empty amount: any change. What exceeds a licence needs a new grant where no rule "
            "speaks of it. Save to get further empty rows."
        ),
    )
    sections = (
        (
            _("When is a licence renewed?"),
            (
                "window_opens_days", "last_filing_days", "renewable", "conditions", "continues_while_undecided",
                "longest_term_months", "bring_into_use_months", "use_notice_days", "fee_grace_days", "unused_after_days",
            ),
        ),
        (_("When are people reminded?"), (*STEP_FIELDS, "escalate_after_days")),
    )  # fmt: skip

    class Meta(RegisterForm.Meta):
        model = RenewalPolicy
        fields = [
            "window_opens_days",
            "last_filing_days",
            *STEP_FIELDS,
            "escalate_after_days",
            "renewable",
            "conditions",
            "continues_while_undecided",
            "longest_term_months",
            "bring_into_use_months",
            "use_notice_days",
            "fee_grace_days",
            "unused_after_days",
            "filing_rules",
            "source",
        ]


class HolderForm(RegisterForm):
    class Meta(RegisterForm.Meta):
        model = Holder
        fields = ["name", "own", "contact_email", "contact_phone", "notes"]


class LicenceForm(RegisterForm):
    sections = (
        (_("Which paper"), ("authority", "number", "holder", "service")),
        (
            _("From when to when"),
            (
                "applied_on",
                "granted_on",
                "in_force_from",
                "bring_into_use_by",
                "brought_into_use_on",
                "use_notice_by",
                "use_notified_on",
                "expires_on",
                "renewal_filed_on",
                "renewal",
                "renewal_conditions",
                "while_undecided",
            ),
        ),
        (_("Who looks after it"), ("responsible", "yearly_fee", "fee_currency", "fee_due_on")),
        (_("When it ended before its time"), ("ended_on", "ended_how", "ended_why")),
        (_("Besides"), ("source", "notes")),
    )

    class Meta(RegisterForm.Meta):
        model = Licence
        fields = [
            "authority",
            "number",
            "holder",
            "service",
            "applied_on",
            "granted_on",
            "in_force_from",
            "bring_into_use_by",
            "brought_into_use_on",
            "use_notice_by",
            "use_notified_on",
            "expires_on",
            "renewal_filed_on",
            "renewal",
            "renewal_conditions",
            "while_undecided",
            "responsible",
            "yearly_fee",
            "fee_currency",
            "fee_due_on",
            "ended_on",
            "ended_how",
            "ended_why",
            "source",
            "notes",
        ]
        help_texts = {"fee_currency": _("Three letters (ISO 4217), for example EUR.")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["responsible"].queryset = Person.objects.filter(is_active=True)  # type: ignore[attr-defined]


class AreaField(forms.JSONField):
    """A GeoJSON polygon, pasted as text."""

    widget = forms.Textarea(attrs={"rows": 4, "class": "code", "spellcheck": "false"})
    default_error_messages = {
        "invalid": _(
            "This is not GeoJSON; a polygon was expected, for example "
            '{"type": "Polygon", "coordinates": [[[24.1, 50.1], [24.2, 50.1], [24.2, 50.2], [24.1, 50.1]]]}.'
        )
    }

    def prepare_value(self, value: Any) -> Any:
        return json.dumps(value) if isinstance(value, dict) else value if isinstance(value, str) else ""


class LicensedChannelForm(RegisterForm):
    """One assignment: where, on which channel, what is sent, how strong, how the antenna stands."""

    stored_as = {
        "frequency_mhz": "frequency_hz",
        "channel_width_khz": "channel_width_hz",
        "occupied_bandwidth_khz": "occupied_bandwidth_hz",
    }
    sections = (
        (_("Where"), ("label", "site", "tolerance_m", "latitude_deg", "longitude_deg", "area")),
        (
            _("On which channel"),
            ("frequency_mhz", "channel_width_khz", "occupied_bandwidth_khz", "paired_with"),
        ),
        (_("What is sent"), ("emission_designators", "modulations")),
        (_("How strong"), ("power_limit_dbm", "power_kind")),
        (
            _("How the antenna stands"),
            ("antenna_height_max_m", "azimuth_deg", "azimuth_tolerance_deg", "polarisation"),
        ),
        (_("Dates of its own"), ("in_force_from", "expires_on", "ended_on", "ended_how")),
    )

    site = site_field(label=_("site"), required=False)
    area = AreaField(
        label=_("area (GeoJSON polygon)"),
        required=False,
        help_text=_("Instead of a site: where the assignment applies."),
    )
    frequency_mhz = MegahertzField(label=_("assigned transmit frequency (MHz)"))
    channel_width_khz = KilohertzField(label=_("channel width (kHz)"))
    occupied_bandwidth_khz = KilohertzField(label=_("occupied bandwidth limit (kHz)"), required=False)
    emission_designators = WordsField(
        label=_("emissions allowed"),
        required=False,
        help_text=_("Emission designators, for example 11K0F1D 8K50F2D."),
    )
    modulations = WordsField(
        label=_("modulations allowed"), required=False, help_text=_("Empty: not restricted.")
    )
    power_limit_dbm = PowerField(label=_("power limit"), required=False, help_text=_("40 dBm or 10 W."))
    paired_with = channel_field(
        label=_("return channel"), required=False, help_text=_("Authority, licence number/label.")
    )

    class Meta(RegisterForm.Meta):
        model = LicensedChannel
        fields = [
            "label",
            "site",
            "tolerance_m",
            "latitude_deg",
            "longitude_deg",
            "area",
            "emission_designators",
            "modulations",
            "power_limit_dbm",
            "power_kind",
            "antenna_height_max_m",
            "azimuth_deg",
            "azimuth_tolerance_deg",
            "polarisation",
            "paired_with",
            "in_force_from",
            "expires_on",
            "ended_on",
            "ended_how",
        ]
