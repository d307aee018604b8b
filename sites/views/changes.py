"""The change record, and what changed between two days: who changed what, when, from what to what, act by act."""

from __future__ import annotations

import datetime as dt
from typing import Any
from urllib.parse import urlencode

import django_filters as filters
from django import forms
from django.db.models import Count, Q, QuerySet
from django.http import HttpRequest
from django.urls import reverse
from django.utils.translation import gettext, ngettext
from django.utils.translation import gettext_lazy as _

from sites.lazily import Words
from sites.models import ChangeRecord
from sites.on_day import end_of
from sites.on_day.reading import registered_models
from sites.reading import written_day, written_moment
from sites.selectors import all_changes

from .addresses import PAGE_OF_PARENT, PAGES, page_of_id
from .change_words import in_words, kind_of_object, words_of_field
from .listing import Column, ListPage, also
from .places import search_filter

__all__ = ["ChangeList", "in_words"]

DAY = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


def fields_named(text: str) -> list[str]:
    """The names under which fields are recorded whose name in words, or whose own name, holds a text."""
    wanted = text.strip().lower()
    return sorted(
        {
            field.attname
            for model in registered_models()
            for field in model._meta.concrete_fields
            if wanted in words_of_field(model, field.attname).lower() or wanted in field.attname
        }
    )


class ChangeFilter(filters.FilterSet):
    q = search_filter("object_label", "by_name", "reason")
    since = filters.DateFilter(label=_("from (day)"), method="from_day", widget=DAY)
    until = filters.DateFilter(label=_("to (day)"), method="to_day", widget=DAY)
    by = filters.CharFilter(label=_("by"), field_name="by_name", lookup_expr="icontains", max_length=200)
    action = filters.ChoiceFilter(label=_("did"), choices=ChangeRecord.Action.choices, empty_label=_("all"))
    object_type = filters.ChoiceFilter(
        label=_("kind of object"),
        choices=lambda: sorted((name, kind_of_object(name)) for name in (*PAGES, *PAGE_OF_PARENT)),
        empty_label=_("all"),
    )
    field = filters.CharFilter(label=_("field"), method="of_field", max_length=80)
    object_id = filters.NumberFilter(
        label=_("object number"), widget=forms.HiddenInput, min_value=1, max_value=2**63 - 1
    )
    act = filters.UUIDFilter(label=_("act"), widget=forms.HiddenInput)

    class Meta:
        model = ChangeRecord
        fields: list[str] = []

    def from_day(self, rows: QuerySet[ChangeRecord], _name: str, day: dt.date) -> QuerySet[ChangeRecord]:
        return rows.filter(at__gte=dt.datetime.combine(day, dt.time(), dt.UTC))

    def to_day(self, rows: QuerySet[ChangeRecord], _name: str, day: dt.date) -> QuerySet[ChangeRecord]:
        return rows.filter(at__lt=end_of(day)) if day < dt.date.max else rows

    def of_field(self, rows: QuerySet[ChangeRecord], _name: str, text: str) -> QuerySet[ChangeRecord]:
        named = fields_named(text)
        return rows.filter(changes__has_any_keys=named) if named else rows.none()


def _when(entry: Any) -> str:
    return written_moment(entry.at) if entry.begins else ""


def _act(entry: Any) -> str:
    if not entry.begins or entry.act_size < 2:
        return ""
    return ngettext("{count} entry", "{count} entries", entry.act_size).format(count=entry.act_size)


class ChangeList(ListPage):
    needs = "places.view_changerecord"
    act = _("reading the change record")
    heading = _("Change record: who changed what?")
    lead = _(
        "Every write to the register stands here, act by act; an entry can be neither edited nor deleted. "
        "Give two days to see what changed between them."
    )
    empty = _("Changes appear here by themselves as soon as somebody enters or changes something.")
    filterset_class = ChangeFilter
    default_sort = "-at"
    template_name = "change_list.html"
    ties = ("-pk",)
    columns = (
        Column(_("when"), _when, "date", "at", name="when_utc", plain=lambda c: c.at),
        Column(_("who"), lambda c: c.by_name if c.begins else "", order="by_name", plain=lambda c: c.by_name),
        Column(
            _("in one act"),
            _act,
            href=lambda c: f"{reverse('change-list')}?act={c.act}" if _act(c) else "",
            exported=False,
        ),
        Column(_("did"), lambda c: c.get_action_display(), order="action"),
        Column(_("kind"), lambda c: kind_of_object(c.object_type), order="object_type"),
        Column(
            _("object"),
            lambda c: c.object_label,
            "code",
            "object_label",
            lambda c: "" if c.action == "remove" else page_of_id(c.object_type, c.object_id),
        ),
        Column(_("from what to what"), lambda c: c.words, "long"),
        Column(_("reason"), lambda c: c.reason),
    )
    also_exported = (
        also("act", lambda c: str(c.act or "")),
        also("object_type", lambda c: c.object_type),
        also("object_id", lambda c: c.object_id),
    )

    def rows(self) -> QuerySet[ChangeRecord]:
        return all_changes()

    def shown_lead(self, filterset: filters.FilterSet) -> Words:
        asked = getattr(filterset.form, "cleaned_data", {})
        since, until = asked.get("since"), asked.get("until")
        if since is None and until is None:
            return self.lead
        days = gettext("from {first} to the end of {last} (UTC)").format(
            first=written_day(since) if since else gettext("the beginning"),
            last=written_day(until) if until else gettext("today"),
        )
        if since and until and since > until:
            return gettext("No day lies {days}: the first is after the last.").format(days=days)
        counted = filterset.qs.order_by().aggregate(
            entries=Count("pk"),
            acts=Count("act", distinct=True),
            alone=Count("pk", filter=Q(act=None)),
            people=Count("by_name", distinct=True),
        )
        acts, people = counted["acts"] + counted["alone"], counted["people"]
        changes = ngettext("{count} change {days}", "{count} changes {days}", counted["entries"])
        done = ngettext("in {count} act", "in {count} acts", acts)
        by = ngettext(
            "by {count} person or part of the system", "by {count} people or parts of the system", people
        )
        return gettext("{changes}, {acts} {people}.").format(
            changes=changes.format(count=counted["entries"], days=days),
            acts=done.format(count=acts),
            people=by.format(count=people),
        )

    def more_context(self, request: HttpRequest, page: Any) -> dict[str, Any]:
        """The net difference is asked for the same days and objects."""
        kept = ("since", "until", "object_type", "object_id")
        return {"net_of": urlencode({name: request.GET[name] for name in kept if request.GET.get(name)})}

    def prepared(self, rows: list[ChangeRecord]) -> list[ChangeRecord]:
        """Each entry in words, with the size of its act, and whether it is the first of it here."""
        acts = {row.act for row in rows if row.act}
        sizes = dict(
            ChangeRecord.objects.filter(act__in=acts).order_by().values_list("act").annotate(size=Count("pk"))
        )
        before: Any = None
        for row in rows:
            row.begins = row.act is None or row.act != before  # type: ignore[attr-defined]
            row.act_size = sizes.get(row.act, 1)  # type: ignore[attr-defined]
            before = row.act
        return in_words(rows)
