"""How authorities, holders, licences and licensed channels are read and written through the API."""

from __future__ import annotations

from rest_framework import serializers

from licences.applying import FIELDS
from licences.models import Authority, Holder, Licence, LicensedChannel, RenewalPolicy
from licences.models.authorities import STEP_FIELDS
from sites.api.fields import (
    KilohertzField,
    MegahertzField,
    ReferenceField,
    StructureField,
    TextField,
    WholeNumberField,
)
from sites.api.serializers import STAMPS, RegisterSerializer
from sites.models import Person


class AuthoritySerializer(RegisterSerializer[Authority]):
    """A body that grants licences."""

    asked_fields = serializers.ListField(
        child=TextField(max_length=40),
        required=False,
        max_length=100,
        help_text=f"Which fields of the data sheet it asks in an application: {', '.join(FIELDS)}.",
    )

    class Meta:
        model = Authority
        fields = ("id", "code", "name", "country", "asked_fields", *STAMPS)


def _days() -> serializers.ListField:
    """A list of whole days: when people are reminded."""
    return serializers.ListField(child=WholeNumberField(max_value=3650), required=False, max_length=50)


class RenewalPolicySerializer(RegisterSerializer[RenewalPolicy]):
    """When licences of an authority may be renewed, and when people are reminded."""

    authority_code = serializers.CharField(source="authority.code", read_only=True)
    window_steps_days = _days()
    reminder_steps_days = _days()
    expiry_steps_days = _days()
    after_expiry_steps_days = _days()
    use_steps_days = _days()
    notice_steps_days = _days()
    fee_steps_days = _days()
    filing_rules = serializers.ListField(
        child=StructureField(),
        required=False,
        max_length=50,
        help_text="Which change needs filing: objects of quantity, more_than, needs (notice, new_grant), source.",
    )

    class Meta:
        model = RenewalPolicy
        fields = (
            "id",
            "authority",
            "authority_code",
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
            *STAMPS,
        )
        extra_kwargs = {
            name: {"max_value": 36_500}
            for name in (
                "window_opens_days",
                "last_filing_days",
                "longest_term_months",
                "bring_into_use_months",
                "use_notice_days",
                "fee_grace_days",
                "unused_after_days",
                "escalate_after_days",
            )
        } | {"last_filing_days": {"min_value": -36_500, "max_value": 36_500}}


class HolderSerializer(RegisterSerializer[Holder]):
    """Who holds licences: we, or another party."""

    class Meta:
        model = Holder
        fields = ("id", "name", "own", "contact_email", "contact_phone", "notes", *STAMPS)


class LicenceSerializer(RegisterSerializer[Licence]):
    """A licence; its channels are objects of their own."""

    authority_code = serializers.CharField(source="authority.code", read_only=True)
    holder_name = serializers.CharField(source="holder.name", read_only=True)
    responsible = ReferenceField(queryset=Person.objects.all(), allow_null=True, required=False)
    responsible_name = serializers.CharField(source="responsible", read_only=True, allow_null=True)

    class Meta:
        model = Licence
        fields = (
            "id",
            "authority",
            "authority_code",
            "number",
            "holder",
            "holder_name",
            "responsible",
            "responsible_name",
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
            "let_expire_on",
            "ended_on",
            "ended_how",
            "ended_why",
            "yearly_fee",
            "fee_currency",
            "fee_due_on",
            "source",
            "notes",
            *STAMPS,
        )


class LicensedChannelSerializer(RegisterSerializer[LicensedChannel]):
    """What may be transmitted, where and how strong: at a site, or inside an area."""

    licence_label = serializers.CharField(source="licence", read_only=True)
    site_code = serializers.CharField(source="site.code", read_only=True, allow_null=True, default=None)
    area = StructureField(
        required=False, allow_null=True, help_text="GeoJSON Polygon or MultiPolygon (RFC 7946), WGS 84."
    )
    frequency_mhz = MegahertzField(source="frequency_hz")
    channel_width_khz = KilohertzField(source="channel_width_hz")
    occupied_bandwidth_khz = KilohertzField(source="occupied_bandwidth_hz", required=False, allow_null=True)
    emission_designators = serializers.ListField(
        child=TextField(max_length=11), required=False, max_length=200
    )
    modulations = serializers.ListField(
        child=TextField(max_length=40), required=False, max_length=200, help_text="Empty: not restricted."
    )

    class Meta:
        model = LicensedChannel
        fields = (
            "id",
            "licence",
            "licence_label",
            "label",
            "site",
            "site_code",
            "tolerance_m",
            "area",
            "latitude_deg",
            "longitude_deg",
            "frequency_mhz",
            "channel_width_khz",
            "occupied_bandwidth_khz",
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
            *STAMPS,
        )
