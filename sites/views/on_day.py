"""The page of one object as it stood, or will stand, at the end of a day: plain values beside those of today."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, ClassVar

from django.db import models
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils.translation import gettext

from sites.models import ChangeRecord, Document, Registered
from sites.models.documents import OWNER_NAMES
from sites.on_day import PARAMETER, end_of, read_day, register_on, said_of, why_not_there
from sites.reading import day_here
from sites.selectors import documents_of, with_names
from sites.services import documents
from sites.services.record import snapshot

from .access import Page, may
from .addresses import PAGE_OF_PARENT, PAGES, on_day, page_of, page_of_id
from .change_words import Names, names_of_referred, shown_value, words_of_field

MOST_PARTS, MOST_OTHERS, SIDE_BY_SIDE = 100, 50, 4


@dataclass(frozen=True)
class Value:
    """One field: as it stood, and as it stands where that differs."""

    label: str
    then: str
    href: str
    now: str
    differs: bool


@dataclass(frozen=True)
class Cell:
    """One field of a part: as it stood, and as it stands where that differs."""

    label: str
    then: str
    now: str


@dataclass(frozen=True)
class Part:
    """One thing that belonged to the object, such as a station of a link."""

    name: str
    href: str
    since: str  # what became of it
    cells: list[Cell]


@dataclass(frozen=True)
class Parts:
    """What belonged to the object, of one kind; ``more`` were there than are shown."""

    title: str
    rows: list[Part]
    more: int

    @property
    def few(self) -> bool:
        """Whether they stand beside each other, as the ends of a link do; else one below the other."""
        return len(self.rows) <= SIDE_BY_SIDE

    @property
    def by_field(self) -> list[tuple[str, list[Cell]]]:
        """For each field its cells, one a part."""
        lines = zip(*(part.cells for part in self.rows), strict=True)
        return [(cells[0].label, list(cells)) for cells in lines]


class ObjectPage(Page):
    """The page of one object of the register. With a day in its address it shows the object of that day."""

    shows: ClassVar[type[Registered]]

    @property
    def dated(self) -> bool:
        return True

    def answer(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        typed = str(request.GET.get(PARAMETER, ""))
        if not typed or request.method not in ("GET", "HEAD"):
            return super().answer(request, *args, **kwargs)
        return _page_of_day(request, self.shows, int(kwargs["pk"]), typed)


def _page_of_day(request: HttpRequest, model: type[Registered], pk: int, typed: str) -> HttpResponse:
    context: dict[str, Any] = {"kind": str(model._meta.verbose_name), "typed": typed}
    try:
        day = read_day(typed)
    except ValueError as error:
        return render(request, "as_it_stood.html", {**context, "trouble": str(error)}, status=422)
    stored = model._default_manager.filter(pk=pk).first()
    now = {} if stored is None else snapshot(stored)
    now_names = names_of_referred([(model, now)])
    parts_now = {relation: _parts_now(relation, pk) for relation in _parts_of(model)}
    context |= {"day": day, "ahead": day > day_here(), "there_now": stored is not None}
    with register_on(day):
        then = model._default_manager.filter(pk=pk).first()
        if then is not None:
            context |= {
                "object": str(then),
                "said": said_of(then, day),
                "values": _values(model, snapshot(then), now, now_names, day),
                "parts": [
                    _shown_parts(relation, pk, parts_now[relation], day)
                    for relation in _parts_of(model)
                    if may(request.user, _view(relation.related_model))
                ],
                "others": [
                    _others(r, pk, day)
                    for r in _others_of(model)
                    if may(request.user, _view(r.related_model))
                ],
            }
            context["others"] += _documents_of(request.user, then, day)
    if then is None:
        if not (why := why_not_there(model, pk, day)):
            raise Http404
        return render(request, "as_it_stood.html", {**context, "trouble": why}, status=404)
    context["differing"] = sum(value.differs for value in context["values"])
    context["parts_differing"] = sum(bool(part.since) for parts in context["parts"] for part in parts.rows)
    context |= _history(model, pk, day)
    return render(request, "as_it_stood.html", context)


def _history(model: type[Registered], pk: int, day: dt.date) -> dict[str, Any]:
    entries = ChangeRecord.objects.filter(object_type=model._meta.label_lower, object_id=pk)
    until = entries.filter(at__lt=end_of(day)).order_by("id")
    return {
        "object_type": model._meta.label_lower,
        "object_id": pk,
        "entered": until.first(),
        "last": until.last(),
        "since": day + dt.timedelta(days=1),
        "changes_since": entries.filter(at__gte=end_of(day)).count(),
    }


def _values(
    model: type[Registered], then: dict[str, Any], now: dict[str, Any], now_names: Names, day: dt.date
) -> list[Value]:
    names = names_of_referred([(model, then)])
    return [
        Value(
            words_of_field(model, name),
            shown_value(model, name, value, names),
            _reference(model, name, value, day),
            shown_value(model, name, now[name], now_names) if now and now[name] != value else "",
            bool(now) and now[name] != value,
        )
        for name, value in then.items()
    ]


def _reference(model: type[models.Model], name: str, value: Any, day: dt.date) -> str:
    related = next((f.related_model for f in model._meta.concrete_fields if f.attname == name), None)
    if related is None or value is None or not issubclass(related, Registered):
        return ""
    return on_day(page_of_id(related._meta.label_lower, value), day)


def _relations(model: type[Registered]) -> Iterable[Any]:
    return [r for r in model._meta.related_objects if issubclass(r.related_model, Registered)]


def _parts_of(model: type[Registered]) -> list[Any]:
    return [r for r in _relations(model) if r.on_delete is models.CASCADE]


def _others_of(model: type[Registered]) -> list[Any]:
    return [
        r
        for r in _relations(model)
        if r.on_delete is not models.CASCADE
        and r.related_model._meta.label_lower in {**PAGES, **PAGE_OF_PARENT}
    ]


def _view(model: type[models.Model]) -> str:
    return f"{model._meta.app_label}.view_{model._meta.model_name}"


@dataclass(frozen=True)
class _Now:
    """What belongs to the object today, of one kind."""

    values: dict[int, dict[str, Any]]
    names: Names


def _parts_now(relation: Any, pk: int) -> _Now:
    model = relation.related_model
    rows = model._default_manager.filter(**{relation.field.name: pk}).order_by("pk")[: 2 * MOST_PARTS]
    values = {row.pk: snapshot(row) for row in rows}
    return _Now(values, names_of_referred((model, each) for each in values.values()))


def _shown_parts(relation: Any, pk: int, now: _Now, day: dt.date) -> Parts:
    model = relation.related_model
    rows = with_names(model).filter(**{relation.field.name: pk}).order_by("pk")
    count, objects = rows.count(), list(rows[:MOST_PARTS])
    then = {row.pk: snapshot(row) for row in objects}
    names = names_of_referred((model, values) for values in then.values())
    held = [*then.values(), *(now.values[key] for key in then if key in now.values)]
    used = [
        name
        for name in next(iter(then.values()), {})
        if name != relation.field.attname and any(values[name] not in (None, "", []) for values in held)
    ]

    def cell(key: int, name: str) -> Cell:
        today = now.values.get(key, then[key])[name]
        differs = today != then[key][name]
        return Cell(
            words_of_field(model, name),
            shown_value(model, name, then[key][name], names),
            shown_value(model, name, today, now.names) if differs else "",
        )

    def since(key: int) -> str:
        if key not in now.values:
            return gettext("removed")
        return "" if now.values[key] == then[key] else gettext("changed")

    parts = [
        Part(
            str(row),
            on_day(page_of(row), day) if model._meta.label_lower in PAGES else "",
            since(row.pk),
            [cell(row.pk, name) for name in used],
        )
        for row in objects
    ]
    return Parts(str(model._meta.verbose_name_plural), parts, count - len(objects))


def _documents_of(user: Any, owner: Registered, day: dt.date) -> list[dict[str, Any]]:
    """The documents that were attached to it, for those who may see them."""
    label = owner._meta.label_lower
    if label not in OWNER_NAMES or not documents.may_see(user, label):
        return []
    rows = documents_of(owner)
    listed = list(rows[:MOST_OTHERS])
    return [
        {
            "title": str(Document._meta.verbose_name_plural),
            "rows": [(str(row), on_day(page_of(row), day)) for row in listed],
            "more": rows.count() - len(listed),
        }
    ]


def _others(relation: Any, pk: int, day: dt.date) -> dict[str, Any]:
    model = relation.related_model
    rows = with_names(model).filter(**{relation.field.name: pk}).order_by("pk")
    listed = list(rows[:MOST_OTHERS])
    return {
        "title": str(model._meta.verbose_name_plural),
        "rows": [(str(row), on_day(page_of(row), day)) for row in listed],
        "more": rows.count() - len(listed),
    }
