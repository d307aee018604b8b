"""The API of channel plans, radio types, links, stations, checks and findings."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, ClassVar, cast

from django.db.models import Model, Q, QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse, extend_schema, extend_schema_field
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse

from sites.api.listing import Contains, IdFilter, KilohertzFilter, MegahertzFilter, YesNoFilter
from sites.api.parsing import BodyParser
from sites.api.permissions import RolePermission
from sites.api.serializers import JobSerializer
from sites.api.views import ListViewSet, RegisterViewSet
from sites.models import Person
from sites.services import jobs
from sites.services.record import Author
from spectrum import selectors
from spectrum.conflicts.kinds import KINDS
from spectrum.models import Check, Finding, Link, RadioMask
from spectrum.services import checks, findings, links
from spectrum.services.sensitivity import sensitivity_of

from .filing import ChangedLinkSerializer, FilingVerdictSerializer
from .links import LinkSerializer, StationInRegisterSerializer
from .sensitivity import SensitivitySerializer
from .serializers import (
    AcceptSerializer,
    ChannelPlanSerializer,
    ChannelSerializer,
    CheckAnswerSerializer,
    CheckRequestSerializer,
    CheckSerializer,
    FindingSerializer,
    ProtectionCriterionSerializer,
    RadioMaskSerializer,
    RadioModeSerializer,
    RadioTypeSerializer,
)


class ChannelPlanFilter(filters.FilterSet):
    code = filters.CharFilter(lookup_expr="iexact")
    name = Contains("name")
    channel_width_khz = KilohertzFilter("channel_width_hz")


class ChannelPlanViewSet(RegisterViewSet):
    """Rasters of frequency pairs."""

    queryset = selectors.all_channel_plans()
    serializer_class = ChannelPlanSerializer
    filterset_class = ChannelPlanFilter
    search_fields = ("code", "name", "source")
    orderings = {
        "code": "code",
        "name": "name",
        "first_go_mhz": "first_go_hz",
        "channel_width_khz": "channel_width_hz",
        "changed_at": "changed_at",
    }

    @extend_schema(responses=ChannelSerializer(many=True), filters=False)
    @action(detail=True, filterset_class=None, search_fields=(), orderings={})
    def channels(self, request: Request, pk: str = "") -> Response:
        """The plan's channels with their frequency pairs, computed."""
        plan = self.get_object()
        numbers = self.paginate_queryset(range(1, plan.channel_count + 1))
        pairs = [(number, *plan.pair_hz(number)) for number in numbers or ()]
        rows = [SimpleNamespace(number=n, go_mhz=go, return_mhz=back) for n, go, back in pairs]
        return self.get_paginated_response(ChannelSerializer(rows, many=True).data)


class RadioTypeFilter(filters.FilterSet):
    name = Contains("name")
    tunes_to_mhz = filters.NumberFilter(method="that_tune_to", label="A frequency that the radio reaches.")

    @extend_schema_field(OpenApiTypes.NUMBER)
    def that_tune_to(self, queryset: QuerySet[Any], _: str, value: Any) -> QuerySet[Any]:
        return queryset.filter(tuning_min_mhz__lte=value, tuning_max_mhz__gte=value)


class RadioTypeViewSet(RegisterViewSet):
    """Types of radio, with their modes and masks."""

    queryset = selectors.all_radio_types()
    serializer_class = RadioTypeSerializer
    filterset_class = RadioTypeFilter
    search_fields = ("name", "notes")
    orderings = {name: name for name in ("name", "tuning_min_mhz", "power_max_dbm", "changed_at")}


class RadioModeFilter(filters.FilterSet):
    radio_type = IdFilter()
    channel_width_khz = KilohertzFilter("channel_width_hz")
    modulation = filters.CharFilter(lookup_expr="iexact")


class RadioModeViewSet(RegisterViewSet):
    """The ways in which radios can be run."""

    queryset = selectors.all_radio_modes()
    serializer_class = RadioModeSerializer
    filterset_class = RadioModeFilter
    search_fields = ("label", "radio_type__name", "emission_designator", "modulation")
    orderings = {
        "radio_type_name": "radio_type__name",
        "label": "label",
        "channel_width_khz": "channel_width_hz",
        "bit_rate_kbps": "bit_rate_kbps",
        "receiver_threshold_dbm": "receiver_threshold_dbm",
    }


class RadioMaskFilter(filters.FilterSet):
    radio_type = IdFilter()
    channel_width_khz = KilohertzFilter("channel_width_hz")
    kind = filters.ChoiceFilter(choices=RadioMask.Kind.choices)


class RadioMaskViewSet(RegisterViewSet):
    """Emission and selectivity masks of radios."""

    queryset = selectors.all_radio_masks()
    serializer_class = RadioMaskSerializer
    filterset_class = RadioMaskFilter
    search_fields = ("radio_type__name", "source")
    orderings = {
        "radio_type_name": "radio_type__name",
        "channel_width_khz": "channel_width_hz",
        "kind": "kind",
    }


class ProtectionCriterionFilter(filters.FilterSet):
    authority = IdFilter()
    covers_mhz = filters.NumberFilter(method="that_cover", label="A frequency inside the band.")

    @extend_schema_field(OpenApiTypes.NUMBER)
    def that_cover(self, queryset: QuerySet[Any], _: str, value: Any) -> QuerySet[Any]:
        return queryset.filter(frequency_min_mhz__lte=value, frequency_max_mhz__gte=value)


class ProtectionCriterionViewSet(RegisterViewSet):
    """What receivers are protected against, per band and authority."""

    queryset = selectors.all_protection_criteria()
    serializer_class = ProtectionCriterionSerializer
    filterset_class = ProtectionCriterionFilter
    search_fields = ("name", "source", "authority__code")
    orderings = {name: name for name in ("name", "frequency_min_mhz", "i_over_n_limit_db", "changed_at")}


class LinkFilter(filters.FilterSet):
    code = filters.CharFilter(lookup_expr="iexact")
    name = Contains("name")
    kind = filters.ChoiceFilter(choices=Link.Kind.choices)
    status = filters.MultipleChoiceFilter(choices=Link.Status.choices)
    holder = IdFilter()
    own = YesNoFilter("holder__own")
    channel_plan = IdFilter()
    responsible = IdFilter()
    site = IdFilter("stations__site", distinct=True)
    frequency_min_mhz = MegahertzFilter("stations__tx_frequency_hz", lookup_expr="gte", distinct=True)
    frequency_max_mhz = MegahertzFilter("stations__tx_frequency_hz", lookup_expr="lte", distinct=True)
    reserved_until = filters.DateFilter("reserved_until", lookup_expr="lte")


class LinkViewSet(RegisterViewSet):
    """Links with their stations."""

    queryset = selectors.all_links()
    serializer_class = LinkSerializer
    filterset_class = LinkFilter
    search_fields = ("code", "name", "holder__name", "notes")
    orderings = {
        "code": "code",
        "name": "name",
        "status": "status",
        "holder_name": "holder__name",
        "starts_on": "starts_on",
        "reserved_until": "reserved_until",
        "changed_at": "changed_at",
    }
    needs: ClassVar[dict[str, tuple[str, ...]]] = {
        "check_now": ("spectrum.change_link", "spectrum.check_network", "spectrum.add_commissioningrecord"),
        "needs_filing": ("spectrum.view_link",),
    }

    def perform_destroy(self, instance: Model) -> None:
        links.remove_link(cast(Link, instance), by=Author.of(self.request.user))

    @extend_schema(request=CheckRequestSerializer, responses=CheckAnswerSerializer)
    @action(detail=True, methods=["post"], url_path="check", url_name="check")
    def check_now(self, request: Request, pk: str = "") -> Response:
        """Check this link against the whole register; the findings are in the answer."""
        link = self.get_object()
        asked = CheckRequestSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        check = checks.check_link(link.pk, by=Author.of(request.user), **asked.validated_data)
        answer = {"check": check, "findings": selectors.findings_of_link(link)}
        return Response(CheckAnswerSerializer(answer, context=self.get_serializer_context()).data)

    @extend_schema(request=ChangedLinkSerializer(partial=True), responses=FilingVerdictSerializer)
    @action(detail=True, methods=["post"], url_path="needs-filing", url_name="needs-filing")
    def needs_filing(self, request: Request, pk: str = "") -> Response:
        """Say whether a change stays within the licence, needs a notice or a new grant. Nothing is stored."""
        asked = ChangedLinkSerializer(
            self.get_object(), data=request.data, partial=True, context=self.get_serializer_context()
        )
        asked.is_valid(raise_exception=True)
        asked.save()
        return Response(FilingVerdictSerializer(asked.verdict).data)


class StationFilter(filters.FilterSet):
    link = IdFilter()
    site = IdFilter()
    antenna_type = IdFilter()
    radio_type = IdFilter()
    mode = IdFilter()
    licensed_channel = IdFilter()
    licensed = YesNoFilter("licensed_channel", lookup_expr="isnull", exclude=True)
    own = YesNoFilter("link__holder__own")
    link_status = filters.MultipleChoiceFilter("link__status", choices=Link.Status.choices)
    tx_frequency_min_mhz = MegahertzFilter("tx_frequency_hz", lookup_expr="gte")
    tx_frequency_max_mhz = MegahertzFilter("tx_frequency_hz", lookup_expr="lte")
    rx_frequency_min_mhz = MegahertzFilter("rx_frequency_hz", lookup_expr="gte")
    rx_frequency_max_mhz = MegahertzFilter("rx_frequency_hz", lookup_expr="lte")


class StationViewSet(ListViewSet):
    """Stations of all links; they are written through their link."""

    queryset = selectors.all_stations()
    serializer_class = StationInRegisterSerializer
    filterset_class = StationFilter
    search_fields = (
        "label",
        "link__code",
        "site__code",
        "site__name",
        "antenna_type__name",
        "radio_type__name",
    )
    orderings = {
        "link_code": "link__code",
        "site_code": "site__code",
        "tx_frequency_mhz": "tx_frequency_hz",
        "rx_frequency_mhz": "rx_frequency_hz",
        "tx_power_dbm": "tx_power_dbm",
    }


class FindingFilter(filters.FilterSet):
    STATES: ClassVar[dict[str, Q]] = {
        "current": Q(gone_at__isnull=True),
        "open": Q(gone_at__isnull=True, accepted_at__isnull=True),
        "accepted": Q(gone_at__isnull=True, accepted_at__isnull=False),
        "gone": Q(gone_at__isnull=False),
        "any": Q(),
    }

    state = filters.ChoiceFilter(
        method="in_state", choices=[(name, name) for name in STATES], label="current when none is given."
    )
    kind = filters.MultipleChoiceFilter(choices=[(kind.code, kind.title) for kind in KINDS.values()])
    severity = filters.MultipleChoiceFilter(choices=Finding.Severity.choices)
    link = IdFilter(method="of_link", label="Findings in which this link takes part, on either side.")
    licence = IdFilter()
    licensed_channel = IdFilter()
    site = IdFilter()
    margin_max = filters.NumberFilter("margin", lookup_expr="lte")
    seen_since = filters.IsoDateTimeFilter("last_seen_at", lookup_expr="gte")

    def filter_queryset(self, queryset: QuerySet[Any]) -> QuerySet[Any]:
        found = super().filter_queryset(queryset)
        return found if self.form.cleaned_data.get("state") else found.filter(self.STATES["current"])

    def in_state(self, queryset: QuerySet[Any], _: str, value: str) -> QuerySet[Any]:
        return queryset.filter(self.STATES[value])

    @extend_schema_field(OpenApiTypes.INT)
    def of_link(self, queryset: QuerySet[Any], _: str, value: Any) -> QuerySet[Any]:
        return queryset.filter(Q(link=value) | Q(other_link=value))


class FindingViewSet(ListViewSet):
    """What the checks found, with the arithmetic; accepting with a reason, and taking that back."""

    queryset = selectors.all_findings()
    serializer_class = FindingSerializer
    filterset_class = FindingFilter
    search_fields = ("headline", "link__code", "other_link__code", "licence__number", "site__code")
    orderings = {
        "severity": "rank",
        "margin": "margin",
        "kind": "kind",
        "link_code": "link__code",
        "first_seen_at": "first_seen_at",
        "last_seen_at": "last_seen_at",
    }
    needs: ClassVar[dict[str, tuple[str, ...]]] = {
        "accept": ("spectrum.accept_finding",),
        "reopen": ("spectrum.accept_finding",),
    }

    @extend_schema(request=AcceptSerializer, responses=FindingSerializer)
    @action(detail=True, methods=["post"])
    def accept(self, request: Request, pk: str = "") -> Response:
        """Accept a finding with a reason; it stays accepted in later checks."""
        asked = AcceptSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        finding = findings.accept(
            self.get_object(), reason=asked.validated_data["reason"], by=cast(Person, request.user)
        )
        return Response(self.get_serializer(finding).data)

    @extend_schema(request=None, responses=FindingSerializer)
    @action(detail=True, methods=["post"])
    def reopen(self, request: Request, pk: str = "") -> Response:
        """Take an acceptance back."""
        finding = findings.reopen(self.get_object(), by=cast(Person, request.user))
        return Response(self.get_serializer(finding).data)

    @extend_schema(responses=SensitivitySerializer)
    @action(detail=True)
    def sensitivity(self, request: Request, pk: str = "") -> Response:
        """How the margin of an interference finding moves with each assumption changed alone; nothing is stored."""
        return Response(SensitivitySerializer(sensitivity_of(self.get_object())).data)


class CheckFilter(filters.FilterSet):
    scope = filters.ChoiceFilter(choices=Check.Scope.choices)
    link = IdFilter()
    asked_by = IdFilter()
    as_of = filters.DateFilter()


class CheckViewSet(ListViewSet):
    """Runs of checks."""

    queryset = selectors.all_checks()
    serializer_class = CheckSerializer
    filterset_class = CheckFilter
    search_fields = ("link__code", "model_version")
    orderings = {name: name for name in ("started_at", "ended_at", "as_of", "scope")}


class NetworkCheckView(GenericAPIView[Check]):
    """The check of the whole network."""

    queryset = Check.objects.all()
    serializer_class = CheckRequestSerializer
    permission_classes = (RolePermission,)
    parser_classes = (BodyParser,)
    metadata_class = None
    http_method_names = ["post"]
    needs: ClassVar[dict[str, tuple[str, ...]]] = {"POST": ("spectrum.check_network",)}

    @extend_schema(
        request=CheckRequestSerializer,
        responses={202: OpenApiResponse(JobSerializer, description="The job to poll, named in Location.")},
    )
    def post(self, request: Request) -> Response:
        """Have the whole network checked: answers at once with the job, which shows its progress."""
        asked = self.get_serializer(data=request.data)
        asked.is_valid(raise_exception=True)
        payload = {name: day.isoformat() for name, day in asked.validated_data.items()}
        name = ":".join(("check_network", *payload.values()))
        job = jobs.submit("check_network", payload, by=cast(Person, request.user), same_as=name)
        job.refresh_from_db()
        address = reverse("api:job-detail", args=[job.pk], request=request)
        return Response(
            JobSerializer(job).data, status=status.HTTP_202_ACCEPTED, headers={"Location": address}
        )
