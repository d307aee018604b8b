"""The API of imported extracts: how each kind is read, and what every import did."""

from __future__ import annotations

from django_filters import rest_framework as filters
from rest_framework import serializers

from sites.api.fields import StructureField, TextField
from sites.api.listing import Contains, IdFilter
from sites.api.serializers import STAMPS, PlainSerializer, RegisterSerializer
from sites.api.views import ListViewSet, RegisterViewSet
from spectrum import selectors
from spectrum.models import ExtractMapping, ExtractRun


class ExtractMappingSerializer(RegisterSerializer[ExtractMapping]):
    """Which column of an authority's extract is what, and what is assumed where it says nothing."""

    authority_code = serializers.CharField(source="authority.code", read_only=True)
    columns = StructureField(help_text="Field of the register → heading of the column.")
    reading = StructureField(required=False, help_text="Encoding, delimiter, date format, unit, coordinates.")
    statuses = StructureField(required=False, help_text="Words that count as in_use, and words for ended.")
    key = serializers.ListField(child=TextField(max_length=60), required=False, max_length=40)
    own_registrants = serializers.ListField(child=TextField(max_length=200), required=False, max_length=500)
    stand_ins = StructureField(help_text="Per band: radio, mode, antenna, power; height and polarisation.")

    class Meta:
        model = ExtractMapping
        fields = (
            "id",
            "code",
            "title",
            "authority",
            "authority_code",
            "columns",
            "reading",
            "statuses",
            "key",
            "own_registrants",
            "stand_ins",
            *STAMPS,
        )


class ExtractMappingFilter(filters.FilterSet):
    authority = IdFilter()
    title = Contains("title")


class ExtractMappingViewSet(RegisterViewSet):
    """How extracts of authorities are read."""

    queryset = selectors.all_extract_mappings()
    serializer_class = ExtractMappingSerializer
    filterset_class = ExtractMappingFilter
    search_fields = ("code", "title", "authority__code")
    orderings = {
        "code": "code",
        "title": "title",
        "authority_code": "authority__code",
        "changed_at": "changed_at",
    }


class ExtractRunSerializer(PlainSerializer[ExtractRun]):
    """One import: which file, by whom, what it changed and what it found wrong."""

    mapping_code = serializers.CharField(source="mapping.code", read_only=True)
    counts = serializers.DictField(read_only=True)
    report = serializers.DictField(read_only=True)

    class Meta:
        model = ExtractRun
        fields = (
            "id",
            "mapping",
            "mapping_code",
            "mapping_version",
            "file_name",
            "sha256",
            "at",
            "by",
            "by_name",
            "as_of",
            "row_count",
            "counts",
            "report",
        )
        read_only_fields = fields


class ExtractRunFilter(filters.FilterSet):
    mapping = IdFilter()
    since = filters.IsoDateTimeFilter("at", lookup_expr="gte")
    until = filters.IsoDateTimeFilter("at", lookup_expr="lte")


class ExtractRunViewSet(ListViewSet):
    """Imports of extracts, latest first."""

    queryset = selectors.all_extract_runs()
    serializer_class = ExtractRunSerializer
    filterset_class = ExtractRunFilter
    search_fields = ("file_name", "by_name", "mapping__code")
    orderings = {name: name for name in ("at", "as_of", "file_name", "row_count")}
