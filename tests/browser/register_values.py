"""Every text that people entered, as it stands in the columns of the register."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.apps import apps
from django.db import models

#: What the register itself wrote: sentences of findings, checks and jobs are no entries of people.
WRITTEN_BY_THE_REGISTER = {"spectrum.finding", "spectrum.variantfinding", "spectrum.check", "places.job"}
OURS = ("places", "licences", "spectrum")


def register_values() -> Iterator[str]:
    """Names, codes, notes and whatever else is free text; a choice is no entry, its name is the register's."""
    for model in apps.get_models():
        if model._meta.app_label not in OURS or model._meta.label_lower in WRITTEN_BY_THE_REGISTER:
            continue
        fields = [field for field in model._meta.concrete_fields if _is_entered(field)]
        rows = model._default_manager.values_list(*(field.name for field in fields)) if fields else ()
        for row in rows:
            yield from (text for value in row for text in _texts(value))
        if hasattr(model, "get_full_name"):
            yield from (person.get_full_name() for person in model._default_manager.all())


def _is_entered(field: models.Field[Any, Any]) -> bool:
    return isinstance(field, models.CharField | models.TextField | models.JSONField) and not field.choices


def _texts(value: Any) -> Iterator[str]:
    """The text, its lines, and the entries of a list such as the emissions of a channel."""
    if isinstance(value, str):
        yield from {value, *value.splitlines()} - {""}
    elif isinstance(value, list):
        yield from (entry for entry in value if isinstance(entry, str) and entry)
