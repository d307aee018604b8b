"""Every error of the API as problem details (RFC 9457), in sentences that a person can act on."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, cast

from django.apps import apps
from django.conf import settings
from django.core.exceptions import PermissionDenied
from django.core.exceptions import ValidationError as ModelValidationError
from django.db import DataError, IntegrityError
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import ngettext
from django.views.defaults import server_error as page_of_server_error
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.views import exception_handler

from sites.errors import RegisterError, StaleWriteError

MEDIA_TYPE: Final = "application/problem+json"
API_ROOTS: Final = ("/api/", "/ogc/")


@dataclass(frozen=True)
class Kind:
    """One kind of problem. ``name`` ends its type address; ``meaning`` stands at that address."""

    name: str
    status: int
    title: str
    meaning: str


_ALL: Final = (
    Kind(
        "values", 400, "Some values cannot be accepted", "Each is named under errors with what was expected."
    ),
    Kind("unreadable", 400, "The body cannot be read", "Send JSON in UTF-8."),
    Kind("refused", 400, "The request cannot be carried out", "The detail says why, and what to do first."),
    Kind("sign-in", 401, "Sign in first", "Send a token (Authorization: Token …) or a session's cookie."),
    Kind("role", 403, "Your role does not include this", "An administrator gives roles to people."),
    Kind("not-found", 404, "There is nothing at this address", "It never was there, or it was removed."),
    Kind("method", 405, "This address does not take this method", "The header Allow names those it takes."),
    Kind("not-acceptable", 406, "No such format", "The API answers in JSON."),
    Kind(
        "stale",
        409,
        "Somebody else changed this in the meantime",
        "Read it again, compare, send the change anew.",
    ),
    Kind("taken", 409, "Somebody else was faster", "Another entry of that moment excludes this one."),
    Kind(
        "file-changed",
        409,
        "The stored file is not the one that was entered",
        "Its SHA-256 differs from the recorded one, or it is gone. It is not handed out.",
    ),
    Kind("media-type", 415, "The body is of a type that is not read", "Send application/json."),
    Kind(
        "version-missing",
        428,
        "The version is missing",
        "A change names the version it is a change of (RFC 6585 § 3).",
    ),
    Kind("too-many", 429, "Too many attempts", "Wait as long as the detail says (RFC 6585 § 4)."),
    Kind("server", 500, "The server failed", "It is logged. What was sent is not stored, not even in part."),
)
KINDS: Final[Mapping[str, Kind]] = {kind.name: kind for kind in _ALL}
_BY_STATUS: Final = {kind.status: kind for kind in reversed(_ALL)}


def problem_response(error: Exception, context: Mapping[str, Any]) -> Response | None:
    """Turn whatever a view raised into problem details. None: an error of ours, which becomes status 500."""
    request = context["request"]
    rows: list[dict[str, str]] = []
    headers: Mapping[str, str] = {}
    if isinstance(error, RegisterError):
        if error.status >= 500:
            return None
        kind, detail = _BY_STATUS[error.status], error.message
        if error.status == 400:
            kind = KINDS["refused"]
        elif error.problem:
            kind = KINDS[error.problem]
        elif error.status == 409 and not isinstance(error, StaleWriteError):
            kind = KINDS["taken"]
        if error.field:
            rows = [{"field": error.field, "detail": error.message}]
    elif isinstance(error, IntegrityError):
        kind, (detail, rows) = KINDS["taken"], _conflict(error)
    elif isinstance(error, DataError):
        kind, detail = (
            KINDS["values"],
            "A value is larger or longer than the register can hold; make it smaller.",
        )
    elif isinstance(error, ModelValidationError):
        kind = KINDS["values"]
        rows = list(_rows(error.message_dict if hasattr(error, "error_dict") else {"": error.messages}))
        detail = _summary(rows)
    else:
        plain = exception_handler(error, dict(context))
        if plain is None:
            return None
        kind, detail, rows = _of_framework(error, context)
        headers = {
            name: plain[name] for name in ("WWW-Authenticate", "Retry-After") if plain.has_header(name)
        }
        kind = kind if kind.status == plain.status_code else _BY_STATUS.get(plain.status_code, kind)
    return Response(
        body(request, kind, detail, rows), status=kind.status, headers=dict(headers), content_type=MEDIA_TYPE
    )


def body(request: HttpRequest, kind: Kind, detail: str, rows: list[dict[str, str]]) -> dict[str, Any]:
    """The members of RFC 9457 § 3.1, and ``errors`` with one row for each field."""
    return {
        "type": request.build_absolute_uri(reverse("api:problem", args=[kind.name])),
        "title": kind.title,
        "status": kind.status,
        "detail": detail,
        "instance": request.path,
        "errors": rows,
    }


def _of_framework(error: Exception, context: Mapping[str, Any]) -> tuple[Kind, str, list[dict[str, str]]]:
    """Kind, detail and rows of an error that Django or the REST framework raised."""
    request, view = context["request"], context["view"]
    if isinstance(error, exceptions.ValidationError):
        rows = list(_rows(error.detail))
        return KINDS["values"], _summary(rows), rows
    if isinstance(error, Http404):
        return KINDS["not-found"], f"There is nothing at {request.path}; it may have been removed.", []
    if isinstance(error, PermissionDenied):
        return KINDS["role"], str(error) or "Your role does not include this.", []
    failure = cast(exceptions.APIException, error)
    kind = (
        KINDS["unreadable"] if isinstance(error, exceptions.ParseError) else _BY_STATUS[failure.status_code]
    )
    detail = str(failure.detail)
    if isinstance(error, exceptions.MethodNotAllowed):
        taken = ", ".join(view.allowed_methods)
        detail = f"{request.method} is not possible at {request.path}; it takes {taken}."
    elif isinstance(error, exceptions.UnsupportedMediaType):
        detail = "The body must be JSON; send it with Content-Type: application/json."
    elif isinstance(error, exceptions.NotAuthenticated):
        detail = "Nobody is signed in. Send a token in the header Authorization, or sign in on the pages."
    elif isinstance(error, exceptions.NotAcceptable):
        detail = "Only JSON can be sent; ask for application/json."
    return kind, detail, [{"field": "version", "detail": detail}] if kind.status == 428 else []


def _rows(detail: Any, path: str = "") -> Iterator[dict[str, str]]:
    """One row per sentence, the place in the body as a path: ``stations.0.tx_frequency_mhz``."""
    if isinstance(detail, Mapping):
        for name, below in detail.items():
            here = path if name in ("non_field_errors", "__all__", "") else f"{path}.{name}".lstrip(".")
            yield from _rows(below, here)
    elif isinstance(detail, list | tuple):
        for number, below in enumerate(detail):
            nested = isinstance(below, Mapping | list | tuple)
            yield from _rows(below, f"{path}.{number}".lstrip(".") if nested else path)
    else:
        yield {"field": _printable(path), "detail": _printable(str(detail))}


def _printable(text: str) -> str:
    """Text that UTF-8 can carry, though somebody sent half a surrogate pair."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


def _summary(rows: list[dict[str, str]]) -> str:
    first = f"{rows[0]['field']}: {rows[0]['detail']}" if rows[0]["field"] else rows[0]["detail"]
    more = len(rows) - 1
    return first if not more else f"{first} And {more} more, see errors."


def _conflict(error: IntegrityError) -> tuple[str, list[dict[str, str]]]:
    """What two people did at the same moment, as a sentence; the database named the rule."""
    names = _rule(error)
    for model in apps.get_models():
        for constraint in model._meta.constraints:
            if constraint.name in names:
                message = str(constraint.get_violation_error_message())
                return f"{message} Somebody else saved at the same moment; read again and compare.", []
    columns = [name.removesuffix("_id") for name in names]
    if not columns:
        return "Somebody else removed or changed something that this refers to; read again and compare.", []
    detail = (
        f"Somebody else entered one with the same {' and '.join(columns)} at the same moment. "
        "Look it up, and change that one if it is the same."
    )
    return detail, [{"field": columns[-1], "detail": detail}]


def _rule(error: IntegrityError) -> list[str]:
    """The constraint that was hit, or the columns of a plain unique one."""
    diagnosis = getattr(error.__cause__, "diag", None)
    if diagnosis is not None:  # PostgreSQL
        key = re.search(r"Key \(([^)]+)\)=.* already exists", str(diagnosis.message_detail))
        return [str(diagnosis.constraint_name), *(key[1].split(", ") if key else [])]
    text = str(error)
    if "constraint failed: " not in text:
        return []
    return [part.rpartition(".")[2] for part in text.split("constraint failed: ")[1].split(", ")]


def locked_out(request: HttpRequest, response: HttpResponse | None, credentials: Any) -> HttpResponse:
    """The answer to somebody who failed to sign in too often (django-axes calls this)."""
    minutes = round(float(settings.AXES_COOLOFF_TIME) * 60)
    detail = ngettext(
        "There were too many failed attempts to sign in. Wait {minutes} minute and try again.",
        "There were too many failed attempts to sign in. Wait {minutes} minutes and try again.",
        minutes,
    ).format(minutes=minutes)
    if request.path.startswith(API_ROOTS):
        return _json(request, KINDS["too-many"], detail, {"Retry-After": str(minutes * 60)})
    template = getattr(settings, "AXES_LOCKOUT_TEMPLATE", None)
    if template:
        return render(request, template, {"detail": detail}, status=429)
    return HttpResponse(detail, status=429, content_type="text/plain; charset=utf-8")


def server_error(request: HttpRequest) -> HttpResponse:
    """Status 500: problem details for the API, the page for everything else."""
    if not request.path.startswith(API_ROOTS):
        return page_of_server_error(request)
    return _json(request, KINDS["server"], "The server failed on this request; the failure is logged.")


def _json(
    request: HttpRequest, kind: Kind, detail: str, headers: Mapping[str, str] | None = None
) -> JsonResponse:
    return JsonResponse(
        body(request, kind, detail, []),
        status=kind.status,
        content_type=MEDIA_TYPE,
        headers=dict(headers or {}),
    )
