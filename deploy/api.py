"""The API put together: one router for all objects, signing in, its description, its kinds of problems."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from csp.constants import SELF, UNSAFE_INLINE
from csp.decorators import csp_update
from django.contrib.auth import authenticate
from django.http import Http404
from django.urls import include, path, re_path
from django.utils.decorators import method_decorator
from drf_spectacular.utils import extend_schema, inline_serializer
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView
from rest_framework import serializers
from rest_framework.authentication import TokenAuthentication
from rest_framework.authtoken.models import Token
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.permissions import AllowAny, BasePermission, IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.routers import DefaultRouter
from rest_framework.views import APIView

import licences.api
import sites.api
import spectrum.api
from deploy.problems import KINDS, MEDIA_TYPE
from licences.api.reminders import ReminderCalendarView, ReminderSettingsView
from sites.api.fields import TextField
from sites.api.net_changes import NetChangesView
from sites.api.parsing import BodyParser
from spectrum.api import NetworkCheckView
from spectrum.api.pairs import ExtendPairView, PairSearchView, ReleasePairView, TakePairView

router = DefaultRouter(use_regex_path=True)
router.include_format_suffixes = False
for prefix, viewset, name in (*sites.api.ROUTES, *licences.api.ROUTES, *spectrum.api.ROUTES):
    router.register(prefix, viewset, basename=name)


class SignInSerializer(serializers.Serializer[Any]):
    """Who wants a token."""

    username = TextField(max_length=150)
    password = TextField(max_length=1000, trim_whitespace=False, style={"input_type": "password"})


class TokenView(APIView):
    """Signing in for programs: a token to send as ``Authorization: Token …``."""

    parser_classes = (BodyParser,)
    metadata_class = None

    def get_authenticators(self) -> list[Any]:
        return [] if self.request is None or self.request.method == "POST" else super().get_authenticators()

    def get_authenticate_header(self, request: Request) -> str:
        return TokenAuthentication.keyword

    def get_permissions(self) -> list[BasePermission]:
        return [AllowAny() if self.request.method == "POST" else IsAuthenticated()]

    @extend_schema(
        auth=[],
        request=SignInSerializer,
        responses=inline_serializer("Token", {"token": serializers.CharField()}),
    )
    def post(self, request: Request) -> Response:
        """Get the token of the person with this user name and password."""
        asked = SignInSerializer(data=request.data)
        asked.is_valid(raise_exception=True)
        person = authenticate(request=request._request, **asked.validated_data)
        if person is None:
            raise AuthenticationFailed(
                "The user name or the password is wrong, or the person no longer has access."
            )
        token, _ = Token.objects.get_or_create(user=person)
        return Response({"token": token.key})

    @extend_schema(responses={204: None})
    def delete(self, request: Request) -> Response:
        """Give the token back: it is valid no longer."""
        Token.objects.filter(user_id=request.user.pk).delete()
        return Response(status=204)


class ProblemView(APIView):
    """What a kind of problem means; the type address of problem details leads here."""

    permission_classes = (AllowAny,)
    authentication_classes = ()
    metadata_class = None

    @extend_schema(
        auth=[],
        responses=inline_serializer(
            "ProblemKind",
            {
                "name": serializers.CharField(),
                "status": serializers.IntegerField(),
                "title": serializers.CharField(),
                "meaning": serializers.CharField(),
            },
        ),
    )
    def get(self, request: Request, name: str) -> Response:
        if name not in KINDS:
            raise Http404
        return Response(asdict(KINDS[name]))


class UnknownAddress(APIView):
    """Every other address under the API: problem details, not a page."""

    permission_classes = (AllowAny,)
    authentication_classes = ()
    schema = None

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        raise Http404


class Description(SpectacularAPIView):
    """The description of this API (OpenAPI 3.1)."""


# The page's own script draws with inline styles; everything it loads comes from here.
@method_decorator(csp_update({"style-src": [SELF, UNSAFE_INLINE]}), name="dispatch")
class DescriptionPage(SpectacularSwaggerSplitView):
    """The description as a page to read and try, without anything from elsewhere."""

    url_name = "api:schema"


def describe_problems(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Add the problem details that every operation may answer with."""
    text = {"type": "string"}
    row = {"type": "object", "required": ["field", "detail"], "properties": {"field": text, "detail": text}}
    members = {
        "type": text | {"format": "uri"},
        "title": text,
        "status": {"type": "integer"},
        "detail": text,
        "instance": text | {"format": "uri-reference"},
        "errors": {"type": "array", "items": row},
    }
    components = result.setdefault("components", {})
    components.setdefault("schemas", {})["Problem"] = {
        "type": "object",
        "description": "Problem details (RFC 9457). errors names each field and what was expected.",
        "required": list(members),
        "properties": members,
    }
    components["responses"] = {
        "Problem": {
            "description": "What was wrong, and how to mend it.",
            "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}},
        }
    }
    for operations in result["paths"].values():
        for operation in operations.values():
            operation["responses"]["4XX"] = {"$ref": "#/components/responses/Problem"}
    return result


urlpatterns = [
    path("token/", TokenView.as_view(), name="token"),
    path("network-check/", NetworkCheckView.as_view(), name="network-check"),
    path("pair-search/", PairSearchView.as_view(), name="pair-search"),
    path("links/<int:pk>/take-pair/", TakePairView.as_view(), name="take-pair"),
    path("links/<int:pk>/extend-pair/", ExtendPairView.as_view(), name="extend-pair"),
    path("links/<int:pk>/release-pair/", ReleasePairView.as_view(), name="release-pair"),
    path("reminder-settings/", ReminderSettingsView.as_view(), name="reminder-settings"),
    path("reminder-settings/calendar/", ReminderCalendarView.as_view(), name="reminder-calendar"),
    path("net-changes/", NetChangesView.as_view(), name="net-changes"),
    path("schema/", Description.as_view(), name="schema"),
    path("docs/", DescriptionPage.as_view(), name="docs"),
    path("problems/<slug:name>/", ProblemView.as_view(), name="problem"),
    path("", include(router.urls)),
    re_path(r"^.*$", UnknownAddress.as_view(), name="unknown"),
]
