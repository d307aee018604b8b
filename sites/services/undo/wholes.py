"""Which objects are parts of which: a station of its link, a channel of its licence.

A part is what cannot be without one other object and goes with it: a required reference that cascades.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from django.apps import apps
from django.db import models

from sites.models import ChangeRecord, Registered

Key = tuple[str, Any]  # a model's label and an object's id


def model_of(label: str) -> type[models.Model] | None:
    """The model of an entry; None for one that is no more."""
    try:
        return apps.get_model(label)
    except (LookupError, ValueError):
        return None


def part_of(model: type[models.Model]) -> models.ForeignKey[Any, Any] | None:
    """The reference to what objects of a model are parts of."""
    for field in model._meta.concrete_fields:
        if not isinstance(field, models.ForeignKey) or field.null:
            continue
        if field.remote_field.on_delete is models.CASCADE and issubclass(field.related_model, Registered):
            return field
    return None


def parts_of(model: type[models.Model]) -> list[models.ForeignKey[Any, Any]]:
    """The references by which registered objects of other models are parts of this one."""
    fields = [part_of(r.related_model) for r in model._meta.related_objects]
    mine = [f for f in fields if f is not None and f.related_model is model]
    return list(dict.fromkeys(f for f in mine if issubclass(f.model, Registered)))


def wholes_of(entries: Iterable[ChangeRecord]) -> dict[str, list[int]]:
    """The objects of some entries, a part replaced by what it is a part of: label → ids."""
    wholes: dict[str, set[int]] = defaultdict(set)
    for entry in entries:
        wholes_key = _whole((entry.object_type, entry.object_id), entry.changes)
        wholes[wholes_key[0]].add(wholes_key[1])
    return {label: sorted(keys) for label, keys in wholes.items()}


def _whole(key: Key, recorded: dict[str, Any]) -> Key:
    model = model_of(key[0])
    field = part_of(model) if model is not None else None
    if model is None or field is None:
        return key
    before, after = recorded.get(field.attname, (None, None))
    owner = after if after is not None else before
    if owner is None:
        owner = model._default_manager.filter(pk=key[1]).values_list(field.attname, flat=True).first()
    if owner is None:
        return key
    above = (field.related_model._meta.label_lower, owner)
    return _whole(above, _last_recorded(above))


def _last_recorded(key: Key) -> dict[str, Any]:
    """What the record says of an object that is no more, to climb further; nothing where it is there."""
    model = model_of(key[0])
    if model is None or part_of(model) is None or model._default_manager.filter(pk=key[1]).exists():
        return {}
    gone = ChangeRecord.objects.filter(object_type=key[0], object_id=key[1], action="remove").first()
    return gone.changes if gone is not None else {}


def objects_of(wholes: dict[str, list[int]]) -> dict[str, set[int]]:
    """The wholes with all their parts that are in the register now: label → ids."""
    found: dict[str, set[int]] = defaultdict(set)
    for label, keys in wholes.items():
        found[label].update(keys)
        model = model_of(label)
        if model is not None:
            _descend(model, list(keys), found)
    return dict(found)


def _descend(model: type[models.Model], keys: list[int], found: dict[str, set[int]]) -> None:
    for field in parts_of(model):
        rows = list(
            field.model._default_manager.filter(**{f"{field.attname}__in": keys}).values_list("pk", flat=True)
        )
        if rows:
            found[field.model._meta.label_lower].update(rows)
            _descend(field.model, rows, found)
