"""Lists: pages of a chosen size, filters, search and order; a parameter that is not known is refused."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms
from django.db.models import QuerySet
from django_filters import rest_framework as filters
from rest_framework.exceptions import ValidationError
from rest_framework.filters import BaseFilterBackend, SearchFilter
from rest_framework.pagination import PageNumberPagination
from rest_framework.request import Request
from rest_framework.views import APIView

from sites.on_day import PARAMETER


class Pages(PageNumberPagination):
    """``page`` and ``page_size`` (1 to 500)."""

    page_size = 50
    max_page_size = 500
    page_size_query_param = "page_size"
    page_size_query_description = "How many to a page, 1 to 500."
    invalid_page_message = "There is no page {page_number}; the list ends before it."

    def get_page_number(self, request: Request, paginator: Any) -> int:
        typed = request.query_params.get(self.page_query_param, "1")
        if not (typed.isascii() and typed.isdigit() and int(typed[:9]) > 0 and len(typed) < 10):
            raise ValidationError(
                {self.page_query_param: f"{typed[:40]!r} was given; a whole number from 1 was expected."}
            )
        return int(typed)

    def get_page_size(self, request: Request) -> int:
        typed = request.query_params.get(self.page_size_query_param)
        if typed is None:
            return self.page_size
        if not (typed.isascii() and typed.isdigit() and 1 <= int(typed[:6]) <= self.max_page_size):
            raise ValidationError(
                {
                    self.page_size_query_param: f"{typed[:40]!r} was given; a whole number from 1 to 500 was expected."
                }
            )
        return int(typed)

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        """As OpenAPI 3.1 says that an address may be missing; the framework still says it as 3.0 did."""
        address = {"type": ["string", "null"], "format": "uri"}
        members = {"count": {"type": "integer"}, "next": address, "previous": address, "results": schema}
        return {"type": "object", "required": list(members), "properties": members}


class KnownParameters(BaseFilterBackend):
    """Refuse a misspelt filter, which would otherwise answer with everything."""

    def filter_queryset(self, request: Request, queryset: QuerySet[Any], view: APIView) -> QuerySet[Any]:
        filterset = getattr(view, "filterset_class", None)
        known = {"page", "page_size", "search", "ordering"} | set(filterset.base_filters if filterset else ())
        known |= {PARAMETER} if getattr(view, "dated", False) else set()
        if unknown := sorted(set(request.query_params) - known):
            raise ValidationError(
                {unknown[0][:60]: f"This list has no such parameter; it takes {', '.join(sorted(known))}."}
            )
        return queryset


class WordSearch(SearchFilter):
    """``search``: every word must occur in one of the view's ``search_fields``."""

    search_description = "Words that must all occur."


class Order(BaseFilterBackend):
    """``ordering``: names of the view's ``orderings``, comma-separated, a minus sign for descending."""

    def filter_queryset(self, request: Request, queryset: QuerySet[Any], view: APIView) -> QuerySet[Any]:
        typed = request.query_params.get("ordering", "")
        if not typed:
            return queryset
        known: dict[str, str] = getattr(view, "orderings", {})
        columns = []
        for name in typed.split(","):
            bare = name.strip().removeprefix("-")
            if bare not in known:
                raise ValidationError(
                    {
                        "ordering": f"This list cannot be put in the order of {bare[:40]!r}; it takes {', '.join(sorted(known))}."
                    }
                )
            columns.append(("-" if name.strip().startswith("-") else "") + known[bare])
        return queryset.order_by(*columns, "pk")

    def get_schema_operation_parameters(self, view: APIView) -> list[dict[str, Any]]:
        names = sorted(getattr(view, "orderings", {}))
        return [
            {
                "name": "ordering",
                "in": "query",
                "required": False,
                "description": f"Comma-separated, a minus sign for descending: {', '.join(names)}.",
                "schema": {"type": "string"},
            }
        ]


class _YesNoField(forms.Field):
    WORDS: ClassVar[dict[str, bool]] = {
        "true": True,
        "1": True,
        "yes": True,
        "false": False,
        "0": False,
        "no": False,
    }

    def clean(self, value: Any) -> bool | None:
        if value in (None, ""):
            return None
        try:
            return self.WORDS[str(value).lower()]
        except KeyError:
            raise forms.ValidationError(
                f"{str(value)[:40]!r} was given; true or false was expected."
            ) from None


class YesNoFilter(filters.BooleanFilter):
    """true or false; anything else is refused, not ignored."""

    field_class = _YesNoField


class _IdField(forms.IntegerField):
    def __init__(self, **kwargs: Any) -> None:
        kwargs.pop("decimal_places", None)
        super().__init__(min_value=0, max_value=2**63 - 1, **kwargs)


class IdFilter(filters.NumberFilter):
    """The id of a related object; one that is not there finds nothing."""

    field_class = _IdField

    def get_max_validator(self) -> None:
        return None


class Contains(filters.CharFilter):
    """Text that occurs somewhere, whatever its case."""

    def __init__(self, field_name: str, **kwargs: Any) -> None:
        super().__init__(field_name, lookup_expr="icontains", **kwargs)


class MegahertzFilter(filters.NumberFilter):
    """A bound given in MHz on a column in hertz."""

    def filter(self, qs: Any, value: Any) -> Any:
        return super().filter(qs, None if value is None else int(value * 1_000_000))


class KilohertzFilter(filters.NumberFilter):
    """A bound given in kHz on a column in hertz."""

    def filter(self, qs: Any, value: Any) -> Any:
        return super().filter(qs, None if value is None else int(value * 1000))
