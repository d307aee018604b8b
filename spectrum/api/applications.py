"""The API of applications: drawn up, filed, granted with what differs, refused or withdrawn."""

from __future__ import annotations

from typing import Any, ClassVar

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django_filters import rest_framework as filters
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from licences.applying import State
from licences.models import Application, LicensedChannel
from licences.models.channels import POLARISATIONS
from sites.api.fields import (
    ChoiceField,
    DayField,
    KilohertzField,
    MegahertzField,
    NumberField,
    ReferenceField,
    TextField,
)
from sites.api.listing import Contains, IdFilter
from sites.api.serializers import STAMPS, RegisterSerializer, version_seen
from sites.api.views import RegisterViewSet
from sites.models import Person
from sites.services.record import Author
from spectrum.filing import data_sheet
from spectrum.models import FiledStation, Link
from spectrum.services import applications
from spectrum.services.applications import Grant, GrantedChannel


class ApplicationSerializer(RegisterSerializer[Application]):
    """An application. ``links`` are sent when it is drawn up; afterwards they are put in and taken out."""

    authority_code = serializers.CharField(source="authority.code", read_only=True)
    holder_name = serializers.CharField(source="holder.name", read_only=True)
    state = serializers.CharField(read_only=True)
    links = serializers.ListField(
        child=ReferenceField(queryset=Link.objects.select_related("holder")),
        required=False,
        write_only=True,
        max_length=200,
        help_text="Ids of the links that are filed together; only when it is drawn up.",
    )
    link_ids = serializers.SerializerMethodField()
    licence_ids = serializers.SerializerMethodField()

    class Meta:
        model = Application
        fields = (
            "id",
            "number",
            "authority",
            "authority_code",
            "holder",
            "holder_name",
            "contact",
            "remarks",
            "state",
            "links",
            "link_ids",
            "filed_on",
            "filed_despite",
            "authority_reference",
            "decided_on",
            "decision_remarks",
            "licence_ids",
            *STAMPS,
        )
        read_only_fields = (
            "filed_on",
            "filed_despite",
            "authority_reference",
            "decided_on",
            "decision_remarks",
        )

    def get_link_ids(self, application: Application) -> list[int]:
        """The links of the application."""
        return [row.link_id for row in application.links.all()]

    def get_licence_ids(self, application: Application) -> list[int]:
        """The licences that its grant made."""
        return [licence.pk for licence in application.licences.all()]

    def create(self, validated_data: dict[str, Any]) -> Application:
        reason, links = validated_data.pop("reason", ""), validated_data.pop("links", [])
        validated_data.pop("version", None)
        application = Application(**validated_data)
        return self.written(
            lambda: applications.draw_up(
                application, links, by=self.author, today=timezone.localdate(), reason=reason
            )
        )

    def update(self, instance: Application, validated_data: dict[str, Any]) -> Application:
        reason, seen = validated_data.pop("reason", ""), validated_data.pop("version", None)
        expected = version_seen(self.context["request"], seen)
        if "links" in validated_data:
            raise serializers.ValidationError(
                {"links": ["Links are put in and taken out at the address of the application's links."]}
            )
        for name, value in validated_data.items():
            setattr(instance, name, value)
        return self.written(
            lambda: applications.change(instance, by=self.author, expected_version=expected, reason=reason)
        )


class LinksSerializer(serializers.Serializer[Any]):
    """Links to be put into an application."""

    links = serializers.ListField(
        child=ReferenceField(queryset=Link.objects.select_related("holder")), min_length=1, max_length=200
    )


class FilingSerializer(serializers.Serializer[Any]):
    """That an application was filed."""

    filed_on = DayField()
    reference = TextField(required=False, allow_blank=True, max_length=80, default="")
    despite = TextField(
        required=False,
        allow_blank=True,
        max_length=2000,
        default="",
        help_text="Why it was filed although findings must be fixed or a link was not checked.",
    )


class EndingSerializer(serializers.Serializer[Any]):
    """That an application was refused or withdrawn."""

    decided_on = DayField()
    remarks = TextField(required=False, allow_blank=True, max_length=2000, default="")


class GrantedStationSerializer(serializers.Serializer[Any]):
    """What was granted for one filed station; what is left out was granted as it was asked."""

    filed_station = ReferenceField(queryset=FiledStation.objects.all())
    licence_number = TextField(required=False, allow_blank=True, max_length=60)
    frequency_mhz = MegahertzField(source="frequency_hz", required=False)
    channel_width_khz = KilohertzField(source="channel_width_hz", required=False)
    emission_designators = serializers.ListField(
        child=TextField(max_length=11), required=False, max_length=50
    )
    power_limit_dbm = NumberField(required=False, allow_null=True)
    power_kind = ChoiceField(choices=LicensedChannel.PowerKind.choices, required=False)
    antenna_height_max_m = NumberField(required=False, allow_null=True)
    polarisation = ChoiceField(choices=POLARISATIONS, required=False, allow_blank=True)
    azimuth_deg = NumberField(required=False, allow_null=True)
    azimuth_tolerance_deg = NumberField(required=False, allow_null=True)


class GrantSerializer(serializers.Serializer[Any]):
    """A grant: the licence, and for the stations where the authority changed something, what it granted."""

    number = TextField(max_length=60)
    granted_on = DayField()
    in_force_from = DayField()
    expires_on = DayField(required=False, allow_null=True, default=None)
    bring_into_use_by = DayField(required=False, allow_null=True, default=None)
    service = TextField(required=False, allow_blank=True, max_length=120, default="")
    yearly_fee = serializers.DecimalField(
        required=False, allow_null=True, default=None, max_digits=12, decimal_places=2
    )
    fee_currency = TextField(required=False, allow_blank=True, max_length=3, default="")
    tolerance_m = NumberField(required=False, allow_null=True, default=None)
    reference = TextField(required=False, allow_blank=True, max_length=80, default="")
    remarks = TextField(required=False, allow_blank=True, max_length=2000, default="")
    responsible = ReferenceField(queryset=Person.objects.all(), required=False, allow_null=True, default=None)
    stations = GrantedStationSerializer(many=True, required=False)

    def terms(self, application: Application) -> Grant:
        """The grant for the stations as they were filed."""
        values = dict(self.validated_data)
        asked = application.asked
        channels: dict[int, GrantedChannel] = {
            kept.pk: applications.as_asked(kept, asked)
            for row in application.links.all()
            for kept in row.filed.all()
        }
        for each in values.pop("stations", []):
            changes = dict(each)
            kept = changes.pop("filed_station")
            if kept.pk not in channels:
                raise serializers.ValidationError(
                    {"stations": [f"Station {kept.pk} was not filed in this application."]}
                )
            channels[kept.pk] = applications.changed(channels[kept.pk], changes)
        return Grant(channels=channels, **values)


class SheetFieldSerializer(serializers.Serializer[Any]):
    """One field of the data sheet."""

    key = serializers.CharField()
    title = serializers.CharField()
    notation = serializers.CharField()
    item = serializers.CharField(help_text="Item of RR Appendix 4, from memory.")
    value = serializers.CharField(help_text="Empty where it is missing.")
    missing = serializers.CharField(help_text="What is missing and where it is entered.")


class SheetStationSerializer(serializers.Serializer[Any]):
    """One station of the data sheet."""

    heading = serializers.CharField()
    station = serializers.CharField(source="label")
    lines = SheetFieldSerializer(many=True)
    otherwise = serializers.ListField(child=serializers.CharField(), help_text="What was granted otherwise.")
    moved = serializers.ListField(
        child=serializers.CharField(), help_text="What the register has otherwise now."
    )


class SheetReportSerializer(serializers.Serializer[Any]):
    """The conflict report of one link."""

    sentence = serializers.CharField()
    checked = serializers.CharField()
    must_fix = serializers.IntegerField()
    objection = serializers.CharField()
    not_judged = serializers.ListField(child=serializers.CharField())


class SheetLinkSerializer(serializers.Serializer[Any]):
    """One link of the data sheet."""

    link = serializers.IntegerField(source="link.pk")
    code = serializers.CharField(source="link.code")
    stations = SheetStationSerializer(many=True)
    report = SheetReportSerializer()


class DataSheetSerializer(serializers.Serializer[Any]):
    """The data sheet of an application."""

    made_on = serializers.DateField()
    general = SheetFieldSerializer(many=True)
    links = SheetLinkSerializer(many=True)
    missing = serializers.SerializerMethodField()
    objections = serializers.ListField(child=serializers.CharField())

    def get_missing(self, sheet: Any) -> list[str]:
        return [line.missing for line in sheet.missing]


class ApplicationFilter(filters.FilterSet):
    number = Contains("number")
    authority = IdFilter()
    holder = IdFilter()
    state = filters.MultipleChoiceFilter(choices=[(state.value, state.words) for state in State])
    link = IdFilter("links__link", distinct=True)


class ApplicationViewSet(RegisterViewSet):
    """Applications: links filed together with one authority, and what it decided."""

    queryset = applications.all_applications()
    serializer_class = ApplicationSerializer
    filterset_class = ApplicationFilter
    search_fields = ("number", "authority_reference", "links__link__code")
    orderings = {name: name for name in ("number", "state", "filed_on", "decided_on", "changed_at")}
    needs: ClassVar[dict[str, tuple[str, ...]]] = {
        "add_links": ("licences.change_application",),
        "take_out": ("licences.change_application",),
        **dict.fromkeys(("file", "grant", "refuse", "withdraw"), ("licences.file_application",)),
    }

    @property
    def author(self) -> Author:
        return Author.of(self.request.user)

    def filter_queryset(self, queryset: QuerySet[Any]) -> QuerySet[Any]:
        return super().filter_queryset(queryset).distinct()

    @extend_schema(request=LinksSerializer, responses=ApplicationSerializer)
    @action(detail=True, methods=["post"], url_path="links", url_name="links")
    def add_links(self, request: Request, pk: str = "") -> Response:
        """Put links into an application that is being drawn up."""
        values = self._read(LinksSerializer)
        applications.add_links(self.get_object(), values["links"], by=self.author, today=timezone.localdate())
        return self._as_it_stands()

    @extend_schema(
        request=None,
        responses=ApplicationSerializer,
        parameters=[OpenApiParameter("link", int, OpenApiParameter.PATH)],
    )
    @action(detail=True, methods=["delete"], url_path="links/(?P<link>[0-9]{1,18})", url_name="link")
    def take_out(self, request: Request, pk: str = "", link: str = "") -> Response:
        """Take a link out of an application that is being drawn up."""
        applications.take_out(self.get_object(), get_object_or_404(Link, pk=link), by=self.author)
        return self._as_it_stands()

    @extend_schema(responses=DataSheetSerializer, filters=False)
    @action(detail=True, filterset_class=None, search_fields=(), orderings={}, url_path="data-sheet")
    def data_sheet(self, request: Request, pk: str = "") -> Response:
        """The data sheet: each field that is asked with its value or what is missing, and the conflict report."""
        return Response(DataSheetSerializer(data_sheet(self.get_object(), timezone.localdate())).data)

    @extend_schema(request=FilingSerializer, responses=ApplicationSerializer)
    @action(detail=True, methods=["post"])
    def file(self, request: Request, pk: str = "") -> Response:
        """Record that it was filed; the pairs of its links are held until it is decided."""
        values = self._read(FilingSerializer)
        applications.file(self.get_object(), by=self.author, today=timezone.localdate(), **values)
        return self._as_it_stands()

    @extend_schema(request=GrantSerializer, responses=ApplicationSerializer)
    @action(detail=True, methods=["post"])
    def grant(self, request: Request, pk: str = "") -> Response:
        """Record the grant: licences and licensed channels are made from it, once, however often it is sent."""
        asked = GrantSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        application = self.get_object()
        applications.grant(application, asked.terms(application), by=self.author, today=timezone.localdate())
        return self._as_it_stands()

    @extend_schema(request=EndingSerializer, responses=ApplicationSerializer)
    @action(detail=True, methods=["post"])
    def refuse(self, request: Request, pk: str = "") -> Response:
        """Record that the authority refused; the pairs are given back."""
        return self._ended(applications.refuse)

    @extend_schema(request=EndingSerializer, responses=ApplicationSerializer)
    @action(detail=True, methods=["post"])
    def withdraw(self, request: Request, pk: str = "") -> Response:
        """Record that we withdrew it; the pairs are given back."""
        return self._ended(applications.withdraw)

    def _ended(self, end: Any) -> Response:
        values = self._read(EndingSerializer)
        end(
            self.get_object(),
            by=self.author,
            on=values["decided_on"],
            today=timezone.localdate(),
            remarks=values["remarks"],
        )
        return self._as_it_stands()

    def _read(self, serializer: type[serializers.Serializer[Any]]) -> dict[str, Any]:
        asked = serializer(data=self.request.data)
        asked.is_valid(raise_exception=True)
        return dict(asked.validated_data)

    def _as_it_stands(self) -> Response:
        return Response(self.get_serializer(self.get_object()).data)
