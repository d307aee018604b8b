"""The change record: who changed what, when, from what to what."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import Any

import django_filters as filters
from django import forms
from django.apps import apps
from django.db import models
from django.db.models import QuerySet

from sites.models import ChangeRecord
from sites.selectors import all_changes, with_names
from sites.templatetags.figures import khz, mhz

from .addresses import PAGE_OF_PARENT, PAGES, page_of_id
from .listing import Column, ListPage
from .places import search_filter

LONGEST_SHOWN = 80


def kind_of_object(label: str) -> str:
    """The name of a model in words; the label itself for a model that is no more."""
    model = _model(label)
    return str(model._meta.verbose_name) if model else label


def in_words(entries: Iterable[ChangeRecord]) -> list[ChangeRecord]:
    """The entries, each with ``words``: its fields by their names, from what to what.

    Objects that an entry refers to are looked up together, one query a kind.
    """
    listed = list(entries)
    names = _names_of_referred(listed)
    for entry in listed:
        model = _model(entry.object_type)
        parts = []
        for attribute, (before, after) in entry.changes.items():
            field = _field(model, attribute)
            label = str(field.verbose_name).removesuffix(" (Hz)") if field else attribute.replace("_", " ")
            old, new = (_shown(field, attribute, value, names) for value in (before, after))
            if entry.action == ChangeRecord.Action.CHANGE:
                parts.append(f"{label}: {old} → {new}")
            else:
                parts.append(f"{label}: {new if entry.action == ChangeRecord.Action.CREATE else old}")
        entry.words = "; ".join(parts)  # type: ignore[attr-defined]
    return listed


def _model(label: str) -> type[models.Model] | None:
    try:
        return apps.get_model(label)
    except (LookupError, ValueError):
        return None


def _field(model: type[models.Model] | None, attribute: str) -> Any:
    if model is None:
        return None
    return next((f for f in model._meta.concrete_fields if f.attname == attribute), None)


def _names_of_referred(entries: list[ChangeRecord]) -> dict[tuple[str, Any], str]:
    wanted: dict[type[models.Model], set[Any]] = defaultdict(set)
    for entry in entries:
        model = _model(entry.object_type)
        for attribute, values in entry.changes.items():
            field = _field(model, attribute)
            if field is not None and field.related_model is not None:
                wanted[field.related_model].update(value for value in values if value is not None)
    names = {}
    for related, keys in wanted.items():
        for obj in with_names(related).filter(pk__in=keys):
            names[related._meta.label_lower, obj.pk] = str(obj)
    return names


def _shown(field: Any, attribute: str, value: Any, names: dict[tuple[str, Any], str]) -> str:
    if value is None or value in ("", []):
        return "empty"
    if field is not None and field.related_model is not None:
        return names.get((field.related_model._meta.label_lower, value), f"number {value}, which is gone")
    if field is not None and field.choices:
        return str(dict(field.flatchoices).get(value, value))
    if attribute.endswith("_hz") and isinstance(value, int):
        return f"{mhz(value)} MHz" if abs(value) >= 1_000_000 else f"{khz(value)} kHz"
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = str(value)
    return text if len(text) <= LONGEST_SHOWN else f"{text[: LONGEST_SHOWN - 1]}…"


class ChangeFilter(filters.FilterSet):
    q = search_filter("object_label", "by_name", "reason")
    by = filters.CharFilter(label="by", field_name="by_name", lookup_expr="icontains", max_length=200)
    action = filters.ChoiceFilter(label="did", choices=ChangeRecord.Action.choices, empty_label="all")
    object_type = filters.ChoiceFilter(
        label="kind of object",
        choices=lambda: sorted((name, kind_of_object(name)) for name in (*PAGES, *PAGE_OF_PARENT)),
        empty_label="all",
    )
    object_id = filters.NumberFilter(
        label="object number", widget=forms.HiddenInput, min_value=1, max_value=2**63 - 1
    )
    since = filters.DateFilter(
        label="since",
        field_name="at",
        lookup_expr="date__gte",
        widget=forms.DateInput(attrs={"type": "date"}),
    )

    class Meta:
        model = ChangeRecord
        fields: list[str] = []


class ChangeList(ListPage):
    needs = "places.view_changerecord"
    act = "reading the change record"
    heading = "Change record: who changed what?"
    lead = "Every write to the register stands here. An entry can be neither edited nor deleted."
    empty = "Changes appear here by themselves as soon as somebody enters or changes something."
    filterset_class = ChangeFilter
    default_sort = "-at"
    ties = ("-pk",)
    columns = (
        Column("when (UTC)", lambda c: f"{c.at:%Y-%m-%d %H:%M}", "date", "at", plain=lambda c: c.at),
        Column("who", lambda c: c.by_name, order="by_name"),
        Column("did", lambda c: c.get_action_display(), order="action"),
        Column("kind", lambda c: kind_of_object(c.object_type), order="object_type"),
        Column(
            "object",
            lambda c: c.object_label,
            "code",
            "object_label",
            lambda c: "" if c.action == "remove" else page_of_id(c.object_type, c.object_id),
        ),
        Column("from what to what", lambda c: c.words, "long"),
        Column("reason", lambda c: c.reason),
    )

    def rows(self) -> QuerySet[ChangeRecord]:
        return all_changes()

    def prepared(self, rows: list[ChangeRecord]) -> list[ChangeRecord]:
        return in_words(rows)
