"""The API of what was found at stations."""

from __future__ import annotations

from typing import Any

from django_filters import rest_framework as filters
from rest_framework import serializers

from sites.api.fields import KilohertzField, MegahertzField
from sites.api.listing import IdFilter
from sites.api.serializers import STAMPS, RegisterSerializer, version_seen
from sites.api.views import RegisterViewSet
from spectrum import selectors
from spectrum.models import CommissioningRecord
from spectrum.services.commissioning import record_found


class CommissioningRecordSerializer(RegisterSerializer[CommissioningRecord]):
    """What was found at a station. Its photos are documents: of ``commissioning-record``, with its id."""

    link = serializers.IntegerField(source="station.link_id", read_only=True)
    tx_frequency_mhz = MegahertzField(source="tx_frequency_hz", required=False, allow_null=True)
    rx_frequency_mhz = MegahertzField(source="rx_frequency_hz", required=False, allow_null=True)
    channel_width_khz = KilohertzField(source="channel_width_hz", required=False, allow_null=True)

    class Meta:
        model = CommissioningRecord
        fields = (
            "id",
            "station",
            "link",
            "found_on",
            "found_by",
            "tx_frequency_mhz",
            "rx_frequency_mhz",
            "tx_power_dbm",
            "channel_width_khz",
            "modulation",
            "received_level_dbm",
            "isolation_db",
            "round_trip_ms",
            "throughput_kbps",
            "notes",
            *STAMPS,
        )

    def create(self, validated_data: dict[str, Any]) -> CommissioningRecord:
        for name in ("reason", "version"):
            validated_data.pop(name, None)
        found = CommissioningRecord(**validated_data)
        return self.written(lambda: record_found(found, by=self.author))

    def update(self, instance: CommissioningRecord, validated_data: dict[str, Any]) -> CommissioningRecord:
        _, seen = validated_data.pop("reason", ""), validated_data.pop("version", None)
        for name, value in validated_data.items():
            setattr(instance, name, value)
        expected = version_seen(self.context["request"], seen)
        return self.written(lambda: record_found(instance, by=self.author, expected_version=expected))


class CommissioningRecordFilter(filters.FilterSet):
    station = IdFilter()
    link = IdFilter("station__link")
    since = filters.DateFilter("found_on", lookup_expr="gte")
    until = filters.DateFilter("found_on", lookup_expr="lte")


class CommissioningRecordViewSet(RegisterViewSet):
    """What was found at stations when they were commissioned or visited."""

    queryset = selectors.all_commissioning_records()
    serializer_class = CommissioningRecordSerializer
    filterset_class = CommissioningRecordFilter
    search_fields = ("found_by", "notes", "station__link__code")
    orderings = {"found_on": "found_on", "link": "station__link__code", "changed_at": "changed_at"}
