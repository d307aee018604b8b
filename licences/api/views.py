"""The API of authorities, renewal policies, holders, licences and licensed channels."""

from __future__ import annotations

import datetime as dt
from typing import ClassVar

from django.db.models import QuerySet
from django.utils import timezone
from django_filters import rest_framework as filters
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.request import Request
from rest_framework.response import Response

from licences import selectors
from licences.life import allowed_steps
from licences.models import Licence, LicensedChannel
from licences.services.life import end_channel_alone, take_step
from sites.api.listing import Contains, IdFilter, MegahertzFilter, YesNoFilter
from sites.api.serializers import version_seen
from sites.api.views import RegisterViewSet
from sites.services.record import Author

from .serializers import (
    AuthoritySerializer,
    HolderSerializer,
    LicenceSerializer,
    LicensedChannelSerializer,
    RenewalPolicySerializer,
)
from .steps import EndStepSerializer, LicenceEventSerializer, LicenceLifeSerializer, StepSerializer


class AuthorityFilter(filters.FilterSet):
    code = filters.CharFilter(lookup_expr="iexact")
    country = filters.CharFilter(lookup_expr="iexact")


class AuthorityViewSet(RegisterViewSet):
    """Bodies that grant licences."""

    queryset = selectors.all_authorities()
    serializer_class = AuthoritySerializer
    filterset_class = AuthorityFilter
    search_fields = ("code", "name", "country")
    orderings = {name: name for name in ("code", "name", "country", "changed_at")}


class RenewalPolicyFilter(filters.FilterSet):
    authority = IdFilter()


class RenewalPolicyViewSet(RegisterViewSet):
    """How licences are renewed, per authority."""

    queryset = selectors.all_renewal_policies()
    serializer_class = RenewalPolicySerializer
    filterset_class = RenewalPolicyFilter
    search_fields = ("authority__code", "authority__name")
    orderings = {"authority_code": "authority__code", "window_opens_days": "window_opens_days"}


class HolderFilter(filters.FilterSet):
    name = Contains("name")
    own = YesNoFilter()


class HolderViewSet(RegisterViewSet):
    """Who holds licences: we, and the others one must not disturb."""

    queryset = selectors.all_holders()
    serializer_class = HolderSerializer
    filterset_class = HolderFilter
    search_fields = ("name", "contact_email", "notes")
    orderings = {name: name for name in ("name", "own", "changed_at")}


class LicenceFilter(filters.FilterSet):
    authority = IdFilter()
    holder = IdFilter()
    responsible = IdFilter()
    own = YesNoFilter("holder__own")
    number = Contains("number")
    service = Contains("service")
    expires_from = filters.DateFilter("expires_on", lookup_expr="gte")
    expires_until = filters.DateFilter("expires_on", lookup_expr="lte")
    in_force_on = filters.DateFilter(method="that_are_in_force", label="In force on this day.")

    @extend_schema_field(OpenApiTypes.DATE)
    def that_are_in_force(self, queryset: QuerySet[Licence], _: str, day: dt.date) -> QuerySet[Licence]:
        return selectors.in_force_on(queryset, day)


class LicenceViewSet(RegisterViewSet):
    """Licences and their dates."""

    needs: ClassVar[dict[str, tuple[str, ...]]] = {"take_step": ("licences.add_licenceevent",)}

    queryset = selectors.all_licences()
    serializer_class = LicenceSerializer
    filterset_class = LicenceFilter
    search_fields = ("number", "authority__code", "holder__name", "service", "notes")
    orderings = {
        "number": "number",
        "authority_code": "authority__code",
        "holder_name": "holder__name",
        "granted_on": "granted_on",
        "in_force_from": "in_force_from",
        "expires_on": "expires_on",
        "yearly_fee": "yearly_fee",
        "changed_at": "changed_at",
    }

    @extend_schema(responses=LicenceLifeSerializer)
    @action(detail=True, methods=["get"], url_path="steps", url_name="steps")
    def steps(self, request: Request, pk: str = "") -> Response:
        """The licence's life: its standing today, the steps entered, the days to come, the steps possible now."""
        licence, today = self.get_object(), timezone.localdate()
        answers = allowed_steps(licence.life, selectors.terms_of(licence), today)
        life = {
            "standing": selectors.standing_on(licence, today).value,
            "steps": selectors.events_of(licence),
            "coming": selectors.coming_days_of(licence),
            "possible": [{"step": step.value, "why_not": why} for step, why in answers.items()],
        }
        return Response(LicenceLifeSerializer(life).data)

    @extend_schema(request=StepSerializer, responses={201: LicenceEventSerializer})
    @steps.mapping.post
    def take_step(self, request: Request, pk: str = "") -> Response:
        """Enter a step. It is refused with the sentence that says why; 409 where somebody else was first."""
        licence = self.get_object()
        asked = StepSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        event = take_step(
            licence,
            asked.taken(),
            by=Author.of(request.user),
            told=asked.told(),
            expected_version=version_seen(request, asked.validated_data.get("version")),
        )
        return Response(LicenceEventSerializer(event).data, status=status.HTTP_201_CREATED)


class LicensedChannelFilter(filters.FilterSet):
    licence = IdFilter()
    site = IdFilter()
    holder = IdFilter("licence__holder")
    own = YesNoFilter("licence__holder__own")
    frequency_min_mhz = MegahertzFilter("frequency_hz", lookup_expr="gte")
    frequency_max_mhz = MegahertzFilter("frequency_hz", lookup_expr="lte")
    power_kind = filters.ChoiceFilter(choices=LicensedChannel.PowerKind.choices)
    inside_area = YesNoFilter("area", lookup_expr="isnull", exclude=True)


class LicensedChannelViewSet(RegisterViewSet):
    """Frequency assignments: what may be transmitted, where and how strong."""

    needs: ClassVar[dict[str, tuple[str, ...]]] = {"take_step": ("licences.add_licenceevent",)}

    queryset = selectors.all_licensed_channels()
    serializer_class = LicensedChannelSerializer
    filterset_class = LicensedChannelFilter
    search_fields = ("label", "licence__number", "licence__holder__name", "site__code", "site__name")
    orderings = {
        "licence": "licence__number",
        "label": "label",
        "site_code": "site__code",
        "frequency_mhz": "frequency_hz",
        "channel_width_khz": "channel_width_hz",
        "expires_on": "expires_on",
        "changed_at": "changed_at",
    }

    @extend_schema(request=EndStepSerializer, responses={201: LicenceEventSerializer})
    @action(detail=True, methods=["post"], url_path="steps", url_name="steps")
    def take_step(self, request: Request, pk: str = "") -> Response:
        """Surrender or cancel this channel alone; the rest of its licence stays as it is."""
        channel = self.get_object()
        asked = EndStepSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        event = end_channel_alone(
            channel,
            asked.taken(),
            by=Author.of(request.user),
            told=asked.told(),
            expected_version=version_seen(request, asked.validated_data.get("version")),
        )
        return Response(LicenceEventSerializer(event).data, status=status.HTTP_201_CREATED)
