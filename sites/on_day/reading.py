"""Objects as they stood at the end of a day, out of the change record; and how an object came and went."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from itertools import groupby
from typing import Any

from django.apps import apps
from django.db import models
from django.db.models import Exists, Max, Min, OuterRef, QuerySet
from django.utils.translation import gettext

from sites.models import ChangeRecord, Registered
from sites.reading import written_day
from sites.services.record import snapshot

from .asking import end_of
from .replay import before

PORTION = 500


def since(day: dt.date, model: type[models.Model]) -> QuerySet[ChangeRecord]:
    """What was done to objects of a kind after a day."""
    return ChangeRecord.objects.filter(object_type=model._meta.label_lower, at__gte=end_of(day))


def touched_since(day: dt.date) -> list[type[Registered]]:
    """The kinds of object of which any was written after a day."""
    labels = ChangeRecord.objects.filter(at__gte=end_of(day)).order_by().values_list("object_type").distinct()
    touched = {label for (label,) in labels}
    return [m for m in registered_models() if m._meta.label_lower in touched]


def registered_models() -> list[type[Registered]]:
    """Every kind of object in the register."""
    return [m for m in apps.get_models() if issubclass(m, Registered)]


def restored(day: dt.date, model: type[Registered]) -> Iterator[Registered]:
    """Those objects of a kind that stood in the register at the end of a day and were written since, as they stood.

    Of a version or a moment of change nothing is recorded: the version is 0, the moments are those of the
    entries. A field that a later release added has the value of today, or its default in what was removed.
    """
    earlier = ChangeRecord.objects.filter(
        object_type=OuterRef("object_type"), object_id=OuterRef("object_id"), at__lt=end_of(day)
    )
    ids = list(
        since(day, model)
        .filter(Exists(earlier))
        .order_by("object_id")
        .values_list("object_id", flat=True)
        .distinct()
    )
    for start in range(0, len(ids), PORTION):
        yield from _portion(day, model, ids[start : start + PORTION])


def _portion(day: dt.date, model: type[Registered], ids: list[int]) -> Iterator[Registered]:
    stored = model._default_manager.in_bulk(ids)
    moments = {
        row["object_id"]: row
        for row in ChangeRecord.objects.filter(
            object_type=model._meta.label_lower, object_id__in=ids, at__lt=end_of(day)
        )
        .order_by()
        .values("object_id")
        .annotate(first=Min("at"), last=Max("at"))
    }
    rows = (
        since(day, model)
        .filter(object_id__in=ids)
        .order_by("object_id", "-id")
        .values_list("object_id", "action", "changes")
    )
    for object_id, acts in groupby(rows.iterator(chunk_size=PORTION), key=lambda row: row[0]):
        now = stored.get(object_id)
        values = before(None if now is None else snapshot(now), ((row[1], row[2]) for row in acts))
        if values is not None:
            obj = object_of(model, object_id, values)
            obj.version = 0
            obj.created_at, obj.changed_at = moments[object_id]["first"], moments[object_id]["last"]
            yield obj


def object_of(model: type[Registered], object_id: int, values: dict[str, Any]) -> Registered:
    """An object, not stored, with these plain values of its fields (as ``record.snapshot`` gives them)."""
    obj = model()
    obj.pk = object_id
    fields: Any = model._meta.concrete_fields
    for field in fields:
        if field.attname in values:
            target = field.target_field if field.is_relation else field
            setattr(obj, field.attname, target.to_python(values[field.attname]))
    return obj


def why_not_there(model: type[models.Model], object_id: int, day: dt.date) -> str:
    """In a sentence, why an object did not stand in the register at the end of a day; empty for one never known."""
    entries = ChangeRecord.objects.filter(object_type=model._meta.label_lower, object_id=object_id)
    last = entries.filter(at__lt=end_of(day)).order_by("-id").first()
    if last is not None:
        return gettext(
            "{label} was no longer in the register on {day}: it was removed on {removed} by {person}."
        ).format(
            label=last.object_label, day=written_day(day), removed=written_day(last.at), person=last.by_name
        )
    first = entries.order_by("id").first()
    if first is None:
        return ""
    return gettext("{label} did not exist yet on {day}: it was entered on {entered} by {person}.").format(
        label=first.object_label, day=written_day(day), entered=written_day(first.at), person=first.by_name
    )
