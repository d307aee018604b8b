"""The API of differences between the register and the regulator's extracts: read only; they are decided on their page."""

from __future__ import annotations

from django_filters import rest_framework as filters
from rest_framework import serializers

from sites.api.listing import Contains, IdFilter
from sites.api.serializers import PlainSerializer
from sites.api.views import ListViewSet
from spectrum import selectors
from spectrum.models import Difference, RegulatorRecord


class DifferenceSerializer(PlainSerializer[Difference]):
    """One field in which register and regulator differ, or a thing that one of them does not have."""

    extract = serializers.CharField(source="record.mapping.code", read_only=True)
    kind = serializers.CharField(source="record.kind", read_only=True)
    key = serializers.CharField(source="record.key", read_only=True)
    title = serializers.CharField(source="record.label", read_only=True)
    own = serializers.BooleanField(source="record.own", read_only=True)
    object_id = serializers.IntegerField(source="record.object_id", read_only=True, allow_null=True)
    register = serializers.JSONField(read_only=True)
    then = serializers.JSONField(read_only=True)
    now = serializers.JSONField(read_only=True)

    class Meta:
        model = Difference
        fields = (
            "id", "extract", "run", "kind", "key", "title", "own", "object_id", "what", "field", "state", "register",
            "then", "now", "distance_m", "reason", "decided_by_name", "decided_at",
        )  # fmt: skip
        read_only_fields = fields


class DifferenceFilter(filters.FilterSet):
    extract = filters.CharFilter("record__mapping__code")
    run = IdFilter()
    kind = filters.ChoiceFilter(field_name="record__kind", choices=RegulatorRecord.Kind.choices)
    own = filters.BooleanFilter("record__own")
    what = filters.ChoiceFilter(choices=Difference.What.choices)
    state = filters.ChoiceFilter(choices=Difference.State.choices)
    field = Contains("field")
    apart_at_least_m = filters.NumberFilter("distance_m", lookup_expr="gte")


class DifferenceViewSet(ListViewSet):
    """Differences between the register and the regulator's last extracts, as last compared."""

    queryset = selectors.all_differences()
    serializer_class = DifferenceSerializer
    filterset_class = DifferenceFilter
    search_fields = ("record__label", "record__key")
    orderings = {"id": "id", "key": "record__key", "distance_m": "distance_m", "state": "state"}
