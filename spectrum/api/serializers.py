"""How channel plans, radio types, checks and findings are read and written through the API."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from sites.api.fields import DayField, KilohertzField, MegahertzField, NumberField, TextField
from sites.api.serializers import STAMPS, PlainSerializer, RegisterSerializer
from spectrum.conflicts.kinds import KINDS
from spectrum.models import ChannelPlan, Check, Finding, ProtectionCriterion, RadioMask, RadioMode, RadioType

EVIDENCE_ROLES = ("given", "term", "sum", "limit", "margin")
FINDING_STATES = ("open", "accepted", "gone")


class ChannelPlanSerializer(RegisterSerializer[ChannelPlan]):
    """A raster of frequency pairs."""

    first_go_mhz = MegahertzField(source="first_go_hz")
    spacing_khz = KilohertzField(source="spacing_hz")
    channel_width_khz = KilohertzField(source="channel_width_hz")
    duplex_spacing_mhz = MegahertzField(
        source="duplex_spacing_hz",
        signed=True,
        help_text="Return minus go; negative when the return half is the lower one, 0 for one-frequency plans.",
    )

    class Meta:
        model = ChannelPlan
        fields = (
            "id",
            "code",
            "name",
            "first_go_mhz",
            "spacing_khz",
            "channel_width_khz",
            "channel_count",
            "duplex_spacing_mhz",
            "source",
            *STAMPS,
        )


class ChannelSerializer(serializers.Serializer[Any]):
    """One channel of a plan."""

    number = serializers.IntegerField(read_only=True)
    go_mhz = MegahertzField(read_only=True)
    return_mhz = MegahertzField(read_only=True)


class RadioModeSerializer(RegisterSerializer[RadioMode]):
    """One way a radio can be run."""

    radio_type_name = serializers.CharField(source="radio_type.name", read_only=True)
    channel_width_khz = KilohertzField(source="channel_width_hz")
    occupied_bandwidth_khz = KilohertzField(source="occupied_bandwidth_hz")

    class Meta:
        model = RadioMode
        fields = (
            "id",
            "radio_type",
            "radio_type_name",
            "label",
            "channel_width_khz",
            "emission_designator",
            "occupied_bandwidth_khz",
            "modulation",
            "code_rate",
            "bit_rate_kbps",
            "receiver_threshold_dbm",
            "required_ci_db",
            "one_way_delay_ms",
            *STAMPS,
        )


class RadioMaskSerializer(RegisterSerializer[RadioMask]):
    """What a radio emits, or lets in, at one channel width."""

    radio_type_name = serializers.CharField(source="radio_type.name", read_only=True)
    channel_width_khz = KilohertzField(source="channel_width_hz")
    points = serializers.ListField(
        child=serializers.ListField(child=NumberField(), min_length=2, max_length=2),
        max_length=1000,
        help_text="Rows of [offset from the centre in kHz, level relative to the in-channel density in dB].",
    )

    class Meta:
        model = RadioMask
        fields = (
            "id",
            "radio_type",
            "radio_type_name",
            "kind",
            "channel_width_khz",
            "points",
            "source",
            *STAMPS,
        )


class RadioTypeSerializer(RegisterSerializer[RadioType]):
    """A type of radio. Its modes and masks are shown here and written as objects of their own."""

    modes = RadioModeSerializer(many=True, read_only=True)
    masks = RadioMaskSerializer(many=True, read_only=True)

    class Meta:
        model = RadioType
        fields = (
            "id",
            "name",
            "tuning_min_mhz",
            "tuning_max_mhz",
            "power_min_dbm",
            "power_max_dbm",
            "power_step_db",
            "noise_figure_db",
            "blocking_level_dbm",
            "transmitter_noise_dbc_per_hz",
            "third_order_intercept_dbm",
            "notes",
            "modes",
            "masks",
            *STAMPS,
        )


class ProtectionCriterionSerializer(RegisterSerializer[ProtectionCriterion]):
    """What receivers of a band are protected against, in place of the default."""

    authority_code = serializers.CharField(
        source="authority.code", read_only=True, default=None, allow_null=True
    )

    class Meta:
        model = ProtectionCriterion
        fields = (
            "id",
            "name",
            "authority",
            "authority_code",
            "frequency_min_mhz",
            "frequency_max_mhz",
            "i_over_n_limit_db",
            "long_term_time_percent",
            "aggregate_i_over_n_limit_db",
            "short_term_time_percent",
            "source",
            *STAMPS,
        )


class EvidenceRowSerializer(serializers.Serializer[Any]):
    """One row of the arithmetic. Terms add up to the sum that follows them; the margin is limit less sum."""

    name = serializers.CharField()
    value = serializers.JSONField(
        allow_null=True, help_text="A number, or a text where the row states a fact."
    )
    unit = serializers.CharField(allow_blank=True)
    source: Any = serializers.CharField(
        allow_blank=True, help_text="Document and clause, or where the value stands."
    )
    role = serializers.ChoiceField(choices=EVIDENCE_ROLES)


class FindingSerializer(PlainSerializer[Finding]):
    """One thing that a check found, with the whole arithmetic under it."""

    kind_title = serializers.SerializerMethodField()
    group = serializers.SerializerMethodField()
    state = serializers.SerializerMethodField()
    evidence = EvidenceRowSerializer(many=True, read_only=True)
    not_judged = serializers.ListField(child=serializers.CharField(), read_only=True)
    link_code = serializers.CharField(source="link.code", read_only=True, default=None, allow_null=True)
    other_link_code = serializers.CharField(
        source="other_link.code", read_only=True, default=None, allow_null=True
    )
    licence_label = serializers.CharField(source="licence", read_only=True, allow_null=True)
    site_code = serializers.CharField(source="site.code", read_only=True, default=None, allow_null=True)
    accepted_by_name = serializers.CharField(source="accepted_by", read_only=True, allow_null=True)

    class Meta:
        model = Finding
        fields = (
            "id",
            "kind",
            "kind_title",
            "group",
            "severity",
            "state",
            "headline",
            "cure",
            "margin",
            "margin_unit",
            "evidence",
            "not_judged",
            "link",
            "link_code",
            "station_label",
            "other_link",
            "other_link_code",
            "other_station_label",
            "licence",
            "licence_label",
            "licensed_channel",
            "site",
            "site_code",
            "first_seen_at",
            "last_seen_at",
            "gone_at",
            "accepted_at",
            "accepted_by",
            "accepted_by_name",
            "accepted_reason",
            "version",
        )
        read_only_fields = fields

    def get_kind_title(self, finding: Finding) -> str:
        return KINDS[finding.kind].title if finding.kind in KINDS else finding.kind

    def get_group(self, finding: Finding) -> str:
        return KINDS[finding.kind].group if finding.kind in KINDS else ""

    @extend_schema_field(serializers.ChoiceField(choices=FINDING_STATES))
    def get_state(self, finding: Finding) -> str:
        if finding.gone_at is not None:
            return "gone"
        return "open" if finding.accepted_at is None else "accepted"


class CheckSerializer(PlainSerializer[Check]):
    """One run of a check: what was checked, with which parameters, and what came of it."""

    link_code = serializers.CharField(source="link.code", read_only=True, default=None, allow_null=True)
    asked_by_name = serializers.CharField(source="asked_by", read_only=True, allow_null=True)
    parameters = serializers.DictField(read_only=True)
    counts = serializers.DictField(read_only=True)

    class Meta:
        model = Check
        fields = (
            "id",
            "scope",
            "link",
            "link_code",
            "job",
            "asked_by",
            "asked_by_name",
            "as_of",
            "started_at",
            "ended_at",
            "parameters",
            "model_version",
            "counts",
        )
        read_only_fields = fields


class CheckAnswerSerializer(serializers.Serializer[Any]):
    """The check of one link, and what stands against the link after it, worst first."""

    check = CheckSerializer(read_only=True)
    findings = FindingSerializer(many=True, read_only=True)


class CheckRequestSerializer(serializers.Serializer[Any]):
    """What to check: the register as it stands on a day, today when none is given."""

    as_of = DayField(required=False)


class AcceptSerializer(serializers.Serializer[Any]):
    """Why a finding is accepted, for example the agreement with the other party."""

    reason = TextField(max_length=2000)
