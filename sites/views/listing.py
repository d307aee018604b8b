"""Lists: filters, order and page stand in the address; what cannot be read there is said, not fatal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from django.core.paginator import Page as PaginatorPage
from django.core.paginator import Paginator
from django.db.models import F, OrderBy, QuerySet
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.functional import cached_property
from django.utils.translation import gettext
from django_filters import FilterSet

from sites.lazily import Words
from sites.models import Registered
from sites.on_day import PARAMETER as DAY
from sites.reading import neutral
from sites.tables import Geometry

from . import exporting
from .addresses import can_be_of_a_day, on_day, page_of_id
from .columns import Column, also
from .dated import DatedPage

__all__ = ["Column", "ListPage", "also"]

PAGE_SIZE = 50
LONGEST_QUERY_TEXT = 200
NOT_FILTERS = ("sort", "page", DAY, exporting.PARAMETER)


@dataclass(frozen=True)
class Cell:
    column: Column
    value: Any
    href: str


@dataclass(frozen=True)
class Head:
    """A column head: with the address that orders by it, and how the list is ordered now."""

    column: Column
    sort: str  # the value of ?sort= that a click asks for
    direction: str  # "ascending", "descending" or ""


class ListPage(DatedPage):
    """A filtered, ordered, paginated list of one kind of object."""

    heading: ClassVar[Words]
    lead: ClassVar[Words] = ""
    empty: ClassVar[Words] = ""  # what belongs here and how to put it there
    columns: ClassVar[Sequence[Column]]
    filterset_class: ClassVar[type[FilterSet]]
    default_sort: ClassVar[str] = ""
    ties: ClassVar[Sequence[str]] = ("pk",)  # the order among rows that the chosen order leaves equal
    add_page: ClassVar[str] = ""
    add_needs: ClassVar[str] = ""
    add_label: ClassVar[Words] = ""
    template_name: ClassVar[str] = "list.html"
    also_exported: ClassVar[Sequence[Column]] = ()  # what a file of the list has and the page has no room for
    picture_template: ClassVar[str] = ""  # what stands above the rows and changes with them
    located: ClassVar[bool] = False  # the rows have places, so that the list can be drawn on a map
    filters_of_now: ClassVar[Sequence[str]] = ()  # filters on what is not kept by day

    def rows(self) -> QuerySet[Any]:
        """Everything that the list can show, with what its columns need."""
        return self.filterset_class._meta.model._default_manager.all()  # type: ignore[attr-defined]

    @cached_property
    def dated(self) -> bool:
        """Whether the list is one of objects that have a page of any day, and can be had as of one too."""
        model = getattr(getattr(self.filterset_class, "_meta", None), "model", None)
        if model is None or not issubclass(model, Registered):
            return False
        address = page_of_id(model._meta.label_lower, 0)
        return bool(address) and can_be_of_a_day(address)

    def get(self, request: HttpRequest, **kwargs: Any) -> HttpResponse | StreamingHttpResponse:
        filterset, rows, columns, sort, sentences = self._asked(request)
        status = 200
        if asked := str(request.GET.get(exporting.PARAMETER, "")):
            with neutral():  # not even today is another day in a file for who asks from elsewhere
                _, rows, columns, _, _ = self._asked(request)
            answer = exporting.answer(self, asked, rows, columns, sentences)
            if answer is not None:
                return answer
            status = 422
        page = self._page(rows, str(request.GET.get("page", "")), sentences)
        context = {
            "view": self,
            "filterset": filterset,
            "filtered": any(value for name, value in request.GET.items() if name not in NOT_FILTERS),
            "exports": exporting.formats(self),
            "sentences": sentences,
            "page": page,
            "lead": self.shown_lead(filterset),
            "heads": [self._head(column, sort) for column in columns],
            "body": [(row, self._cells(row, columns)) for row in self.prepared(list(page.object_list))],
            "may_add": bool(self.add_page) and not self.day and request.user.has_perm(self.add_needs),
            **self.day_context(request),
            **self.more_context(request, page),
        }
        part = bool(getattr(request, "htmx", False)) and not request.htmx.boosted  # type: ignore[attr-defined]
        return render(request, "_results.html" if part else self.template_name, context, status=status)

    def _asked(self, request: HttpRequest) -> tuple[FilterSet, QuerySet[Any], list[Column], str, list[str]]:
        """The filters, the rows that pass them in order, the columns, the order, and what of the query was left out."""
        filterset = self.filterset_class(request.GET, queryset=self.rows(), request=request)
        if self.day:
            for name in self.filters_of_now:
                del filterset.filters[name]
        sentences = [*filter(None, [self.day_trouble]), *self.left_out(request, filterset)]
        columns = [c for c in self.shown_columns(filterset) if not (self.day and c.only_now)]
        rows, sort = self._ordered(filterset.qs, str(request.GET.get("sort", "")), sentences)
        return filterset, rows, columns, sort, sentences

    def left_out(self, request: HttpRequest, filterset: FilterSet) -> list[str]:
        """A sentence for each filter that could not be read."""
        sentences = []
        for name, messages in filterset.form.errors.items():
            label = filterset.form.fields[name].label or name
            typed = str(request.GET.get(name, ""))[:LONGEST_QUERY_TEXT]
            left_out = gettext("Filter “{label}” with “{typed}” was left out.").format(
                label=label, typed=typed
            )
            sentences.append(f"{left_out} {' '.join(messages)}")
        return sentences

    def prepared(self, rows: list[Any]) -> list[Any]:
        """The rows of the page that is shown, with what is cheaper to look up for all of them at once."""
        return rows

    def placed(self, rows: QuerySet[Any]) -> QuerySet[Any]:
        """The rows of a file that is drawn on a map, with what :meth:`place_of` needs."""
        return rows

    def place_of(self, row: Any) -> Geometry | None:
        """Where a row is; None for one that is nowhere."""
        return None

    def shown_columns(self, filterset: FilterSet) -> Sequence[Column]:
        """The columns; a list whose columns depend on a filter says so here."""
        return self.columns

    def shown_lead(self, filterset: FilterSet) -> Words:
        """The sentence under the heading."""
        return self.lead

    def more_context(self, request: HttpRequest, page: PaginatorPage[Any]) -> dict[str, Any]:
        """What a list shows beside its rows."""
        return {}

    @cached_property
    def add_url(self) -> str:
        return reverse(self.add_page) if self.add_page else ""

    def _ordered(self, rows: QuerySet[Any], asked: str, sentences: list[str]) -> tuple[QuerySet[Any], str]:
        known = {column.order for column in self.columns if column.order}
        sort = asked or self.default_sort
        if sort.removeprefix("-") not in known:
            if asked:
                sentences.append(
                    gettext(
                        "The list cannot be ordered by “{asked}”; click a column's head to order by it."
                    ).format(asked=asked[:LONGEST_QUERY_TEXT])
                )
            sort = self.default_sort
        return (rows.order_by(_unknown_last(rows, sort), *self.ties) if sort else rows), sort

    def _page(self, rows: QuerySet[Any], asked: str, sentences: list[str]) -> PaginatorPage[Any]:
        paginator = Paginator(rows, PAGE_SIZE)
        page = paginator.get_page(asked or 1)
        if asked and str(page.number) != asked:
            sentences.append(
                gettext("There is no page “{asked}”; page {page} of {pages} is shown.").format(
                    asked=asked[:LONGEST_QUERY_TEXT], page=page.number, pages=paginator.num_pages
                )
            )
        return page

    def _head(self, column: Column, sort: str) -> Head:
        ordered = bool(column.order) and sort.removeprefix("-") == column.order
        descending = sort.startswith("-")
        direction = ("descending" if descending else "ascending") if ordered else ""
        return Head(column, f"-{column.order}" if ordered and not descending else column.order, direction)

    def _cells(self, row: Any, columns: Sequence[Column]) -> Iterable[Cell]:
        return [
            Cell(column, column.value(row), on_day(column.href(row), self.day) if column.href else "")
            for column in columns
        ]


def _unknown_last(rows: Any, sort: str) -> OrderBy | str:
    """An order in which what has no value comes last either way; left to themselves, databases differ on it."""
    if not isinstance(rows, QuerySet):  # computed rows do so by themselves
        return sort
    value = F(sort.removeprefix("-"))
    return value.desc(nulls_last=True) if sort.startswith("-") else value.asc(nulls_last=True)
