"""How objects are read and written through the API; every write goes through sites.services.record."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any, TypeVar

from django.core.exceptions import ValidationError as ModelValidationError
from django.db import models
from rest_framework import serializers
from rest_framework.exceptions import APIException

from sites.models import AntennaType, ChangeRecord, Job, Person, Site
from sites.positions import PositionError, parse_position
from sites.services import record
from sites.services.record import Author

from .fields import (
    ChoiceField,
    DayField,
    NumberField,
    ReferenceField,
    StructureField,
    TextField,
    WholeNumberField,
)

M = TypeVar("M", bound=models.Model)


class VersionMissing(APIException):
    """A change that does not say which version it is a change of."""

    status_code = 428  # RFC 6585 § 3
    default_detail = (
        "Say which version you saw: send its number as version in the body, or in the header If-Match. "
        "It stands in the object as it was read, so that nobody's change is overwritten unseen."
    )
    default_code = "version_missing"


def version_seen(request: Any, sent: int | None) -> int:
    """The version that the caller saw, from the body or from If-Match (RFC 9110 § 13.1.1)."""
    if sent is not None:
        return sent
    header = request.headers.get("If-Match", "").strip()
    if not header:
        raise VersionMissing
    match = re.fullmatch(r'"?([0-9]{1,9})"?', header)
    if match is None:
        raise serializers.ValidationError(
            {"version": f"If-Match is {header[:40]!r}; the number of the version was expected."}
        )
    return int(match[1])


class PlainSerializer(serializers.ModelSerializer[M]):
    """A model serializer with the edge's own fields and with no second copy of the model's rules."""

    serializer_field_mapping = serializers.ModelSerializer.serializer_field_mapping | {
        models.FloatField: NumberField,
        models.IntegerField: WholeNumberField,
        models.PositiveIntegerField: WholeNumberField,
        models.CharField: TextField,
        models.TextField: TextField,
        models.DateField: DayField,
        models.JSONField: StructureField,
    }
    serializer_related_field = ReferenceField
    serializer_choice_field = ChoiceField

    def build_standard_field(self, field_name: str, model_field: Any) -> tuple[Any, Any]:
        """Uniqueness is judged once, by the model's full_clean; ranges have our own sentences."""
        field_class, kwargs = super().build_standard_field(field_name, model_field)
        if field_class in (TextField, WholeNumberField, serializers.EmailField):
            kwargs.pop("validators", None)
        if field_class is WholeNumberField:
            kwargs = {k: v for k, v in kwargs.items() if k not in ("min_value", "max_value")}
        return field_class, kwargs

    def build_relational_field(self, field_name: str, relation_info: Any) -> tuple[Any, Any]:
        field_class, kwargs = super().build_relational_field(field_name, relation_info)
        kwargs.pop("validators", None)
        return field_class, kwargs

    def get_validators(self) -> list[Any]:
        return []


class RegisterSerializer(PlainSerializer[M]):
    """An object of the register. ``version`` must be sent back with a change; ``reason`` is kept with it."""

    version = serializers.IntegerField(
        required=False,
        min_value=1,
        max_value=2**31 - 1,
        help_text="Send the version that you saw with every change (or in If-Match).",
    )
    reason = TextField(
        write_only=True,
        required=False,
        allow_blank=True,
        max_length=1000,
        help_text="Why; kept in the change record.",
    )

    def create(self, validated_data: dict[str, Any]) -> M:
        reason, _ = validated_data.pop("reason", ""), validated_data.pop("version", None)
        model: type[M] = self.Meta.model
        obj = model(**validated_data)
        return self.written(lambda: record.create(obj, by=self.author, reason=reason))

    def update(self, instance: M, validated_data: dict[str, Any]) -> M:
        reason, seen = validated_data.pop("reason", ""), validated_data.pop("version", None)
        for name, value in validated_data.items():
            setattr(instance, name, value)
        expected = version_seen(self.context["request"], seen)
        return self.written(
            lambda: record.change(instance, by=self.author, expected_version=expected, reason=reason)
        )

    @property
    def author(self) -> Author:
        return Author.of(self.context["request"].user)

    def written(self, write: Callable[[], M]) -> M:
        """Carry out a write; the model's errors get the names that the API has for its fields."""
        try:
            return write()
        except ModelValidationError as error:
            raise serializers.ValidationError(errors_by_field(error, self.fields)) from error


def errors_by_field(error: ModelValidationError, fields: Mapping[str, Any]) -> dict[str, list[str]]:
    """The messages of a model's validation by the API's field names."""
    if not hasattr(error, "error_dict"):
        return {"non_field_errors": error.messages}
    names = {field.source: name for name, field in fields.items() if not field.read_only}
    names["__all__"] = "non_field_errors"
    return {names.get(source, source): messages for source, messages in error.message_dict.items()}


STAMPS = ("version", "reason", "created_at", "changed_at")


class SiteSerializer(RegisterSerializer[Site]):
    """A site. Its position is sent either as typed (``position``) or as two numbers of degrees."""

    position = TextField(
        write_only=True,
        required=False,
        max_length=120,
        help_text="As typed: decimal degrees, degrees-minutes-seconds, or easting and northing with position_epsg.",
    )
    latitude_deg = NumberField(required=False)
    longitude_deg = NumberField(required=False)

    class Meta:
        model = Site
        fields = (
            "id",
            "code",
            "name",
            "region",
            "own",
            "position",
            "position_epsg",
            "latitude_deg",
            "longitude_deg",
            "position_typed",
            "position_notation",
            "position_source",
            "position_accuracy_m",
            "ground_height_m",
            "structure",
            "structure_height_m",
            "environment",
            "band_half_exceptions",
            "notes",
            *STAMPS,
        )
        read_only_fields = ("position_typed", "position_notation")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        return _with_position(attrs, is_new=self.instance is None or not self.partial)


def _with_position(attrs: dict[str, Any], *, is_new: bool) -> dict[str, Any]:
    """Fill in latitude, longitude and what was typed, from whichever of the two ways was used."""
    typed = attrs.pop("position", "")
    degrees = [attrs.get("latitude_deg"), attrs.get("longitude_deg")]
    given = [value for value in degrees if value is not None]
    epsg = attrs.get("position_epsg")
    if typed and given:
        raise serializers.ValidationError(
            {"position": "Give the position either as typed or as two numbers of degrees, not both."}
        )
    if len(given) == 1 or (not typed and not given and (is_new or epsg is not None)):
        raise serializers.ValidationError(
            {
                "position": "Give position, for example 50°07'24.5\"N 024°33'10.0\"E, or both latitude_deg and longitude_deg."
            }
        )
    if not typed and not given:
        return attrs
    if given and epsg is not None:
        raise serializers.ValidationError(
            {
                "position_epsg": "latitude_deg and longitude_deg are WGS 84; with a grid send position as typed."
            }
        )
    try:
        found = parse_position(typed or given, epsg=epsg)
    except PositionError as error:
        field = {"latitude": "latitude_deg", "longitude": "longitude_deg"} if given else {}
        name = "position_epsg" if error.field == "epsg" else field.get(error.field, "position")
        raise serializers.ValidationError({name: str(error)}) from error
    return attrs | {
        "latitude_deg": found.latitude_deg,
        "longitude_deg": found.longitude_deg,
        "position_typed": found.typed,
        "position_notation": str(found.notation),
        "position_epsg": epsg,
    }


class AntennaTypeSerializer(RegisterSerializer[AntennaType]):
    """An antenna type with its pattern."""

    pattern_points = serializers.ListField(
        child=serializers.ListField(child=NumberField(), min_length=2, max_length=2),
        required=False,
        max_length=2000,
        help_text="Rows of [angle from boresight in degrees, gain relative to the maximum in dB].",
    )

    class Meta:
        model = AntennaType
        fields = (
            "id",
            "name",
            "gain_dbi",
            "frequency_min_mhz",
            "frequency_max_mhz",
            "cross_polar_discrimination_db",
            "pattern",
            "diameter_m",
            "beamwidth_deg",
            "pattern_points",
            "notes",
            *STAMPS,
        )


class PersonSerializer(PlainSerializer[Person]):
    """Somebody who may sign in. People and their roles are entered on the administration pages."""

    email = serializers.CharField(read_only=True, help_text="Empty when there is none.")
    language = serializers.CharField(
        read_only=True, help_text="Code of the language of their pages and mails."
    )
    formats = serializers.CharField(
        read_only=True, help_text="How they read dates and decimals: iso, or the code of a country's way."
    )
    power_unit = serializers.CharField(
        read_only=True, help_text="In which unit they read the power of transmitters: dBm or W."
    )
    roles: Any = serializers.SlugRelatedField(source="groups", slug_field="name", many=True, read_only=True)

    class Meta:
        model = Person
        fields = (
            "id",
            "username",
            "first_name",
            "last_name",
            "email",
            "language",
            "formats",
            "power_unit",
            "time_zone",
            "is_active",
            "is_staff",
            "roles",
            "date_joined",
            "last_login",
        )
        read_only_fields = fields


class ChangeRecordSerializer(PlainSerializer[ChangeRecord]):
    """Who changed what, when, from what to what."""

    changes = serializers.DictField(
        child=serializers.ListField(child=serializers.JSONField()),
        read_only=True,
        help_text="Field → [before, after]. Frequencies and widths stand as stored, in hertz.",
    )

    class Meta:
        model = ChangeRecord
        fields = (
            "id",
            "at",
            "by",
            "by_name",
            "action",
            "object_type",
            "object_id",
            "object_label",
            "changes",
            "reason",
        )
        read_only_fields = fields


class JobSerializer(PlainSerializer[Job]):
    """Work outside the request: poll until ``state`` is done, failed or cancelled."""

    asked_by_name = serializers.CharField(source="asked_by", read_only=True, allow_null=True)
    payload = serializers.DictField(read_only=True)
    result = serializers.DictField(read_only=True)

    class Meta:
        model = Job
        fields = (
            "id",
            "kind",
            "payload",
            "state",
            "asked_by",
            "asked_by_name",
            "asked_at",
            "started_at",
            "ended_at",
            "attempts",
            "cancel_asked",
            "steps_done",
            "steps_total",
            "result",
            "error",
        )
        read_only_fields = fields
