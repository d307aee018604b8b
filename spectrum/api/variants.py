"""The API of variants: planned changes drawn up together, checked together, accepted as a whole or dropped."""

from __future__ import annotations

from typing import Any, ClassVar, cast

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django_filters import rest_framework as filters
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse

from sites.api.fields import ChoiceField, DayField, ReferenceField, StructureField, TextField
from sites.api.listing import Contains, IdFilter
from sites.api.serializers import STAMPS, JobSerializer, PlainSerializer, RegisterSerializer, version_seen
from sites.api.views import RegisterViewSet
from sites.models import Person
from spectrum.conflicts.kinds import KINDS
from spectrum.models import Link, PlannedChange, Station, Variant, VariantCheck, VariantFinding
from spectrum.services import variants

from .links import LinkSerializer
from .serializers import EvidenceRowSerializer

_NOT_OF_A_PLAN = ("id", "version", "created_at", "changed_at")


class PlannedLinkSerializer(LinkSerializer):
    """A link as it would be. What is read of it goes into the variant and not into the register."""

    change: PlannedChange

    def put(self, link: Link, stations: list[Station], expected_version: int | None, reason: str) -> Link:
        variant, person = self.context["variant"], self.context["request"].user
        if link._state.adding:
            change = variants.add_link(variant, link, stations, by=person)
        else:
            change = variants.change_link(
                variant, link, stations, by=person, expected_version=expected_version
            )
        self.change = change
        return link


class PlannedChangeSerializer(PlainSerializer[PlannedChange]):
    """One planned change of a variant."""

    planned = serializers.SerializerMethodField()

    class Meta:
        model = PlannedChange
        fields = ("id", "kind", "link", "link_version", "code", "last_day", "planned")
        read_only_fields = fields

    @extend_schema_field(
        {
            "type": ["object", "null"],
            "description": "The link with its stations, as the address of links gives one, without version and stamps.",
        }
    )
    def get_planned(self, change: PlannedChange) -> dict[str, Any] | None:
        """The link with its stations as it would be; null for a retirement."""
        if change.kind == PlannedChange.Kind.RETIRE:
            return None
        link, stations = variants.loose_rows(change)
        # Numbers for the time of reading only, so that the stations can be reached from the link.
        link.pk = -1
        cast(Any, link)._prefetched_objects_cache = {"stations": stations}
        told = dict(LinkSerializer(link, context=self.context).data)
        for name in _NOT_OF_A_PLAN:
            told.pop(name, None)
        for told_station, row in zip(told["stations"], change.planned["stations"], strict=True):
            told_station["id"] = row["id"]
        return told


class PlanRequestSerializer(serializers.Serializer[Any]):
    """A change to plan: kind add with planned; change with link and planned; retire with link and last_day."""

    kind = ChoiceField(choices=PlannedChange.Kind.choices)
    link = ReferenceField(queryset=Link.objects.all(), required=False)
    planned = StructureField(
        required=False,
        help_text="The link as it would be, as the address of links takes it; for a change with the version seen.",
    )
    last_day = DayField(required=False, help_text="Empty: the day before the variant's date.")

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        kind = attrs["kind"]
        wanted = {"add": {"planned"}, "change": {"link", "planned"}, "retire": {"link"}}[kind]
        missing = {name: [f"A change of the kind {kind} needs it."] for name in sorted(wanted - attrs.keys())}
        surplus = sorted(attrs.keys() - wanted - {"kind", *({"last_day"} if kind == "retire" else ())})
        missing |= {name: [f"A change of the kind {kind} has none; leave it out."] for name in surplus}
        if missing:
            raise serializers.ValidationError(missing)
        return attrs


class VariantCheckSerializer(PlainSerializer[VariantCheck]):
    """The last check of a variant."""

    counts = serializers.DictField(read_only=True)

    class Meta:
        model = VariantCheck
        fields = ("as_of", "started_at", "ended_at", "asked_by", "model_version", "counts")
        read_only_fields = fields


class VariantSerializer(RegisterSerializer[Variant]):
    """A set of planned changes that stand or fall together."""

    drawn_up_by_name = serializers.CharField(source="drawn_up_by", read_only=True, allow_null=True)
    decided_by_name = serializers.CharField(source="decided_by", read_only=True, allow_null=True)
    changes = PlannedChangeSerializer(many=True, read_only=True)
    check_made = VariantCheckSerializer(read_only=True, allow_null=True, default=None)
    checked = serializers.SerializerMethodField()

    class Meta:
        model = Variant
        fields = (
            "id",
            "name",
            "purpose",
            "as_of",
            "status",
            "drawn_up_by",
            "drawn_up_by_name",
            "decided_by",
            "decided_by_name",
            "decided_at",
            "decided_reason",
            "changes",
            "check_made",
            "checked",
            *STAMPS,
        )
        read_only_fields = (
            "status",
            "drawn_up_by",
            "decided_by",
            "decided_at",
            "decided_reason",
        )

    def get_checked(self, variant: Variant) -> bool:
        """Whether the last check was of what is drawn up now; only then can it be accepted."""
        check = getattr(variant, "check_made", None)
        return check is not None and check.drawn_up == variants.drawn_up_digest(
            variant, variant.changes.all()
        )

    def create(self, validated_data: dict[str, Any]) -> Variant:
        for name in ("reason", "version"):
            validated_data.pop(name, None)
        person = self.context["request"].user
        return self.written(lambda: variants.draw_up(Variant(**validated_data), by=person))

    def update(self, instance: Variant, validated_data: dict[str, Any]) -> Variant:
        reason, seen = validated_data.pop("reason", ""), validated_data.pop("version", None)
        expected = version_seen(self.context["request"], seen)
        for name, value in validated_data.items():
            setattr(instance, name, value)
        person = self.context["request"].user
        return self.written(
            lambda: variants.rename(instance, by=person, expected_version=expected, reason=reason)
        )


class VariantFindingSerializer(PlainSerializer[VariantFinding]):
    """A finding that the planned changes would bring, leave or take away."""

    kind_title = serializers.SerializerMethodField()
    evidence = EvidenceRowSerializer(many=True, read_only=True)
    not_judged = serializers.ListField(child=serializers.CharField(), read_only=True)
    links = serializers.ListField(child=serializers.CharField(), read_only=True)

    class Meta:
        model = VariantFinding
        fields = (
            "id",
            "standing",
            "kind",
            "kind_title",
            "severity",
            "headline",
            "cure",
            "margin",
            "margin_before",
            "margin_unit",
            "links",
            "evidence",
            "not_judged",
        )
        read_only_fields = fields

    def get_kind_title(self, finding: VariantFinding) -> str:
        return KINDS[finding.kind].title if finding.kind in KINDS else finding.kind


class ReasonSerializer(serializers.Serializer[Any]):
    """Why; kept in the change record."""

    reason = TextField(required=False, allow_blank=True, max_length=1000, default="")


class VariantFilter(filters.FilterSet):
    name = Contains("name")
    status = filters.MultipleChoiceFilter(choices=Variant.Status.choices)
    drawn_up_by = IdFilter()
    link = IdFilter("changes__link", distinct=True)


class VariantViewSet(RegisterViewSet):
    """Variants of the network. Nothing of one counts in checks of the register until it is accepted."""

    queryset = variants.all_variants()
    serializer_class = VariantSerializer
    filterset_class = VariantFilter
    search_fields = ("name", "purpose", "changes__code")
    orderings = {name: name for name in ("name", "as_of", "status", "created_at", "changed_at")}
    needs: ClassVar[dict[str, tuple[str, ...]]] = dict.fromkeys(
        ("plan_change", "take_out", "check_now", "accept", "drop"), ("spectrum.change_variant",)
    )

    @property
    def person(self) -> Person:
        return cast(Person, self.request.user)

    @extend_schema(responses=PlannedChangeSerializer(many=True), filters=False)
    @action(detail=True, filterset_class=None, search_fields=(), orderings={})
    def changes(self, request: Request, pk: str = "") -> Response:
        """The planned changes, each as it would be."""
        rows = self.paginate_queryset(self.get_object().changes.select_related("link").order_by("pk"))
        told = PlannedChangeSerializer(rows, many=True, context=self.get_serializer_context())
        return self.get_paginated_response(told.data)

    @extend_schema(request=PlanRequestSerializer, responses={201: PlannedChangeSerializer})
    @changes.mapping.post
    def plan_change(self, request: Request, pk: str = "") -> Response:
        """Plan a new link, a change of a link or its retirement; an earlier plan for that link is replaced."""
        variant = self.get_object()
        asked = PlanRequestSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        values = asked.validated_data
        context = {**self.get_serializer_context(), "variant": variant}
        if values["kind"] == PlannedChange.Kind.RETIRE:
            change = variants.retire_link(
                variant, values["link"], by=self.person, last_day=values.get("last_day")
            )
        else:
            body = PlannedLinkSerializer(
                values.get("link"), data=values["planned"], partial="link" in values, context=context
            )
            try:
                body.is_valid(raise_exception=True)
                body.save()
            except serializers.ValidationError as error:
                raise serializers.ValidationError({"planned": error.detail}) from error
            change = body.change
        told = PlannedChangeSerializer(change, context=context)
        return Response(told.data, status=status.HTTP_201_CREATED)

    @extend_schema(
        request=None,
        responses={204: None},
        parameters=[OpenApiParameter("change", int, OpenApiParameter.PATH)],
    )
    @action(detail=True, methods=["delete"], url_path="changes/(?P<change>[0-9]{1,18})", url_name="change")
    def take_out(self, request: Request, pk: str = "", change: str = "") -> Response:
        """Take a planned change out of the variant."""
        variants.take_out(get_object_or_404(self.get_object().changes, pk=change), by=self.person)
        return Response(status=status.HTTP_204_NO_CONTENT)

    @extend_schema(
        request=None,
        responses={202: OpenApiResponse(JobSerializer, description="The job to poll, named in Location.")},
    )
    @action(detail=True, methods=["post"], url_path="check", url_name="check")
    def check_now(self, request: Request, pk: str = "") -> Response:
        """Have the variant checked: answers at once with the job, which shows its progress."""
        job = variants.ask_for_check(self.get_object(), by=self.person)
        job.refresh_from_db()
        address = reverse("api:job-detail", args=[job.pk], request=request)
        return Response(
            JobSerializer(job).data, status=status.HTTP_202_ACCEPTED, headers={"Location": address}
        )

    @extend_schema(
        responses=VariantFindingSerializer(many=True),
        filters=False,
        parameters=[OpenApiParameter("standing", str, enum=VariantFinding.Standing.values)],
    )
    @action(detail=True, filterset_class=None, search_fields=(), orderings={})
    def findings(self, request: Request, pk: str = "") -> Response:
        """What the last check found: new, still there and gone; worst first in each."""
        rows: QuerySet[VariantFinding] = variants.findings_of(self.get_object())
        wanted = request.query_params.get("standing")
        if wanted is not None:
            if wanted not in VariantFinding.Standing.values:
                known = ", ".join(VariantFinding.Standing.values)
                raise serializers.ValidationError(
                    {"standing": [f"{wanted[:40]!r} was given; expected one of {known}."]}
                )
            rows = rows.filter(standing=wanted)
        page = self.paginate_queryset(rows)
        return self.get_paginated_response(VariantFindingSerializer(page, many=True).data)

    @extend_schema(request=ReasonSerializer, responses=VariantSerializer)
    @action(detail=True, methods=["post"])
    def accept(self, request: Request, pk: str = "") -> Response:
        """Carry out every planned change in one transaction; if one is refused, none is made."""
        return self._decided(request, variants.accept)

    @extend_schema(request=ReasonSerializer, responses=VariantSerializer)
    @action(detail=True, methods=["post"])
    def drop(self, request: Request, pk: str = "") -> Response:
        """Put the variant aside; it stays to be read."""
        return self._decided(request, variants.drop)

    def _decided(self, request: Request, decide: Any) -> Response:
        asked = ReasonSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        decide(self.get_object(), by=self.person, reason=asked.validated_data["reason"])
        return Response(self.get_serializer(self.get_object()).data)
