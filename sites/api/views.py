"""The API of sites, antenna types, people, changes and jobs."""

from __future__ import annotations

from typing import Any, ClassVar, cast

from django.db.models import Model, QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import mixins, viewsets
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import BaseSerializer

from sites import selectors
from sites.errors import NotAllowedError
from sites.models import AntennaType, ChangeRecord, Job, Person, Site
from sites.services import jobs, record
from sites.services.record import Author

from .days import AsOfADay
from .listing import Contains, IdFilter, KnownParameters, Order, Pages, WordSearch, YesNoFilter
from .parsing import BodyParser
from .permissions import RolePermission
from .serializers import (
    AntennaTypeSerializer,
    ChangeRecordSerializer,
    JobSerializer,
    PersonSerializer,
    SiteSerializer,
)


class ListViewSet(AsOfADay, mixins.ListModelMixin, mixins.RetrieveModelMixin, viewsets.GenericViewSet[Any]):
    """What can be listed and read."""

    permission_classes = (RolePermission,)
    parser_classes = (BodyParser,)
    pagination_class = Pages
    filter_backends = (KnownParameters, filters.DjangoFilterBackend, WordSearch, Order)
    search_fields: ClassVar[tuple[str, ...]] = ()
    orderings: ClassVar[dict[str, str]] = {}
    http_method_names = ["get", "head", "post", "put", "patch", "delete"]
    lookup_value_regex = r"[0-9]{1,18}"
    metadata_class = None

    def filter_queryset(self, queryset: QuerySet[Any]) -> QuerySet[Any]:
        """Filters are for lists; one object is found by its id alone."""
        return super().filter_queryset(queryset) if self.action == "list" else queryset

    def finalize_response(self, request: Request, response: Any, *args: Any, **kwargs: Any) -> Any:
        response = super().finalize_response(request, response, *args, **kwargs)
        data = getattr(response, "data", None)
        version = data.get("version") if isinstance(data, dict) and self.day is None else None
        if response.status_code < 300 and isinstance(version, int):
            response["ETag"] = f'"{version}"'
        return response


class RegisterViewSet(
    mixins.CreateModelMixin, mixins.UpdateModelMixin, mixins.DestroyModelMixin, ListViewSet
):
    """What can be listed, read, entered, changed and removed; each write is validated and recorded."""

    def perform_destroy(self, instance: Model) -> None:
        record.remove(instance, by=Author.of(self.request.user))

    def perform_create(self, serializer: BaseSerializer[Any]) -> None:
        serializer.save()
        self._read_again(serializer)

    def perform_update(self, serializer: BaseSerializer[Any]) -> None:
        serializer.save()
        self._read_again(serializer)

    def _read_again(self, serializer: BaseSerializer[Any]) -> None:
        """Answer with what is stored, not with what was sent."""
        serializer.instance = self.get_queryset().get(pk=cast(Model, serializer.instance).pk)


class SiteFilter(filters.FilterSet):
    region = filters.CharFilter(lookup_expr="iexact")
    code = filters.CharFilter(lookup_expr="iexact")
    name = Contains("name")
    own = YesNoFilter()
    structure = filters.ChoiceFilter(choices=Site.Structure.choices)
    position_source = filters.ChoiceFilter(choices=Site.PositionSource.choices)
    south_deg = filters.NumberFilter("latitude_deg", lookup_expr="gte")
    north_deg = filters.NumberFilter("latitude_deg", lookup_expr="lte")
    west_deg = filters.NumberFilter("longitude_deg", lookup_expr="gte")
    east_deg = filters.NumberFilter("longitude_deg", lookup_expr="lte")


class SiteViewSet(RegisterViewSet):
    """Places with structures."""

    queryset = selectors.all_sites()
    serializer_class = SiteSerializer
    filterset_class = SiteFilter
    search_fields = ("code", "name", "region", "notes")
    orderings = {
        name: name
        for name in (
            "code",
            "name",
            "region",
            "latitude_deg",
            "longitude_deg",
            "ground_height_m",
            "changed_at",
        )
    }


class AntennaTypeFilter(filters.FilterSet):
    name = Contains("name")
    pattern = filters.ChoiceFilter(choices=AntennaType.Pattern.choices)
    covers_mhz = filters.NumberFilter(method="that_cover", label="A frequency that the antenna covers.")

    @extend_schema_field(OpenApiTypes.NUMBER)
    def that_cover(self, queryset: QuerySet[AntennaType], _: str, value: Any) -> QuerySet[AntennaType]:
        return queryset.filter(frequency_min_mhz__lte=value, frequency_max_mhz__gte=value)


class AntennaTypeViewSet(RegisterViewSet):
    """Types of antenna and their patterns."""

    queryset = selectors.all_antenna_types()
    serializer_class = AntennaTypeSerializer
    filterset_class = AntennaTypeFilter
    search_fields = ("name", "notes")
    orderings = {
        name: name for name in ("name", "gain_dbi", "frequency_min_mhz", "frequency_max_mhz", "changed_at")
    }


class PersonFilter(filters.FilterSet):
    is_active = YesNoFilter()
    role = filters.CharFilter("groups__name")


class PersonViewSet(ListViewSet):
    """People who sign in."""

    queryset = selectors.all_people()
    serializer_class = PersonSerializer
    filterset_class = PersonFilter
    search_fields = ("username", "first_name", "last_name", "email")
    orderings = {name: name for name in ("username", "last_name", "date_joined", "last_login")}


class ChangeRecordFilter(filters.FilterSet):
    object_type = filters.CharFilter(lookup_expr="iexact")
    object_id = IdFilter()
    by = IdFilter()
    action = filters.ChoiceFilter(choices=ChangeRecord.Action.choices)
    since = filters.IsoDateTimeFilter("at", lookup_expr="gte")
    until = filters.IsoDateTimeFilter("at", lookup_expr="lte")


class ChangeRecordViewSet(ListViewSet):
    """The change record. It can be neither edited nor deleted."""

    queryset = selectors.all_changes()
    serializer_class = ChangeRecordSerializer
    filterset_class = ChangeRecordFilter
    search_fields = ("object_label", "by_name", "reason")
    orderings = {"at": "at", "by_name": "by_name", "object_label": "object_label"}


class JobFilter(filters.FilterSet):
    kind = filters.CharFilter()
    state = filters.ChoiceFilter(choices=Job.State.choices)
    asked_by = IdFilter()


class JobViewSet(ListViewSet):
    """Work outside the request, with its progress."""

    queryset = selectors.all_jobs()
    serializer_class = JobSerializer
    filterset_class = JobFilter
    search_fields = ("kind", "error")
    orderings = {name: name for name in ("asked_at", "started_at", "ended_at", "kind", "state")}
    lookup_value_regex = r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}"
    needs: ClassVar[dict[str, tuple[str, ...]]] = {"cancel": ("places.view_job",)}

    @extend_schema(request=None, responses=JobSerializer)
    @action(detail=True, methods=["post"])
    def cancel(self, request: Request, pk: str = "") -> Response:
        """Call a job off: at once while it waits, else at its next step. Whoever asked for it may, and an administrator."""
        job = self.get_object()
        person = cast(Person, request.user)
        if not selectors.may_cancel(person, job):
            raise NotAllowedError(
                "Only the person who asked for this job, or an administrator, can cancel it."
            )
        return Response(self.get_serializer(jobs.cancel(job, by=person)).data)
