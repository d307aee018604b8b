"""The change record: who changed what, when, from what to what."""

from __future__ import annotations

from typing import Any

import django_filters as filters
from django import forms
from django.apps import apps
from django.db.models import QuerySet

from sites.models import ChangeRecord

from .addresses import PAGE_OF_PARENT, PAGES, page_of_id
from .listing import Column, ListPage
from .places import search_filter


def kind_of_object(label: str) -> str:
    """The name of a model in words; the label itself for a model that is no more."""
    try:
        return str(apps.get_model(label)._meta.verbose_name)
    except LookupError:
        return label


def what_changed(entry: ChangeRecord) -> str:
    """A change in one line: each field from what to what."""
    if entry.action == ChangeRecord.Action.CHANGE:
        return "; ".join(
            f"{name}: {_shown(old)} → {_shown(new)}" for name, (old, new) in entry.changes.items()
        )
    place = 1 if entry.action == ChangeRecord.Action.CREATE else 0
    return "; ".join(f"{name}: {_shown(pair[place])}" for name, pair in entry.changes.items())


def _shown(value: Any) -> str:
    if value is None or value == "":
        return "empty"
    text = str(value)
    return text if len(text) <= 80 else f"{text[:79]}…"


class ChangeFilter(filters.FilterSet):
    q = search_filter("object_label", "by_name", "reason")
    by = filters.CharFilter(label="by", field_name="by_name", lookup_expr="icontains")
    action = filters.ChoiceFilter(choices=ChangeRecord.Action.choices, empty_label="all")
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
    columns = (
        Column("when (UTC)", lambda c: f"{c.at:%Y-%m-%d %H:%M}", "date", "at"),
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
        Column("from what to what", what_changed, "long"),
        Column("reason", lambda c: c.reason),
    )

    def rows(self) -> QuerySet[ChangeRecord]:
        return ChangeRecord.objects.all()
