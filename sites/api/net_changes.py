"""The API of what changed between two days, net."""

from __future__ import annotations

from typing import Any, ClassVar

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import ValidationError
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from sites.models import ChangeRecord
from sites.on_day.differences import Asked, nets_of
from sites.on_day.net import Outcome

from .fields import DayField, TextField
from .listing import Pages
from .permissions import RolePermission


class NetAskedSerializer(serializers.Serializer[Any]):
    """Between which days, and of which objects."""

    since = DayField(help_text="From the beginning of this day (UTC).")
    until = DayField(help_text="To the end of this day (UTC).")
    object_type = TextField(required=False, max_length=60, help_text="For example places.site.")
    object_id = serializers.IntegerField(required=False, min_value=1, max_value=2**63 - 1)
    search = TextField(
        required=False, max_length=100, help_text="Words that occur in the object's name or that of a person."
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if attrs["since"] > attrs["until"]:
            raise ValidationError({"until": f"{attrs['until']} lies before the first day, {attrs['since']}."})
        return attrs


class FieldNetSerializer(serializers.Serializer[Any]):
    """One field. Frequencies and widths stand as stored, in hertz."""

    field = serializers.CharField(source="name")
    before = serializers.JSONField(allow_null=True)
    after = serializers.JSONField(allow_null=True)
    cancelled = serializers.BooleanField(help_text="It was changed and changed back.")
    last_changed_by = serializers.CharField(source="by")
    last_changed_at = serializers.DateTimeField(source="at")
    times = serializers.IntegerField(help_text="How many entries changed it.")


class NetSerializer(serializers.Serializer[Any]):
    """What remains of what was done to one object in that time."""

    object_type = serializers.CharField()
    object_id = serializers.IntegerField()
    object_label = serializers.CharField(source="label")
    outcome = serializers.ChoiceField(choices=[outcome.value for outcome in Outcome])
    entries = serializers.IntegerField()
    last_changed_by = serializers.CharField(source="by")
    last_changed_at = serializers.DateTimeField(source="at")
    fields_changed = FieldNetSerializer(source="fields", many=True)


class NetChangesView(GenericAPIView[ChangeRecord]):
    """What changed between two days, net."""

    queryset = ChangeRecord.objects.none()
    serializer_class = NetSerializer
    permission_classes = (RolePermission,)
    pagination_class = Pages
    filter_backends = ()
    metadata_class = None
    http_method_names = ["get", "head"]
    known: ClassVar[frozenset[str]] = frozenset({*NetAskedSerializer().fields, "page", "page_size"})

    @extend_schema(parameters=[NetAskedSerializer], responses=NetSerializer(many=True))
    def get(self, request: Request) -> Response:
        """Object by object, the one touched last first: each field before and after, who changed it last."""
        if unknown := sorted(set(request.query_params) - self.known):
            raise ValidationError(
                {unknown[0][:60]: f"There is no such parameter; known are {', '.join(sorted(self.known))}."}
            )
        given = NetAskedSerializer(data=request.query_params.dict())
        given.is_valid(raise_exception=True)
        sent = given.validated_data
        asked = Asked(
            sent["since"],
            sent["until"],
            sent.get("object_type", "").lower(),
            sent.get("object_id"),
            sent.get("search", ""),
        )
        page: Any = self.paginate_queryset(asked.touched())
        nets = nets_of(asked, [(row["object_type"], row["object_id"]) for row in page])
        return self.get_paginated_response(NetSerializer(nets, many=True).data)
