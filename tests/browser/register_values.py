"""Every text that people entered or that is kept as it was written, as it stands in the columns of the register."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.apps import apps
from django.db import models

#: What the register wrote and words anew for each reader.
WRITTEN_BY_THE_REGISTER = {"spectrum.finding", "spectrum.variantfinding", "spectrum.check"}
#: Fields of others that the register writes; their sentences are worded anew too.
WRITTEN_FIELDS = {
    "places.job": {"result", "error", "words"},
    "spectrum.extractrun": {"report"},
}
OURS = ("places", "licences", "spectrum")


def register_values() -> Iterator[str]:
    """Names, codes, notes and whatever else is free text; a choice is no entry, its name is the register's."""
    for model in apps.get_models():
        if model._meta.app_label not in OURS or model._meta.label_lower in WRITTEN_BY_THE_REGISTER:
            continue
        fields = [field for field in model._meta.concrete_fields if _is_entered(field)]
        fields = [
            field for field in fields if field.name not in WRITTEN_FIELDS.get(model._meta.label_lower, ())
        ]
        rows = model._default_manager.values_list(*(field.name for field in fields)) if fields else ()
        for row in rows:
            yield from (text for value in row for text in _texts(value))
        if hasattr(model, "get_full_name"):
            yield from (person.get_full_name() for person in model._default_manager.all())


def stored_structures() -> Iterator[str]:
    """Every name and text within the structures that are kept as they were written: what was filed, the change record."""
    for model in apps.get_models():
        if model._meta.app_label in OURS and model._meta.label_lower not in WRITTEN_BY_THE_REGISTER:
            for field in model._meta.concrete_fields:
                if isinstance(field, models.JSONField):
                    for value in model._default_manager.values_list(field.name, flat=True):
                        yield from _leaves(value)


def _leaves(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        yield from (f"{name}:".replace("_", " ") for name in value)
    if isinstance(value, dict | list):
        for entry in value.values() if isinstance(value, dict) else value:
            yield from _leaves(entry)
    elif isinstance(value, str) and value:
        yield value


def _is_entered(field: models.Field[Any, Any]) -> bool:
    return isinstance(field, models.CharField | models.TextField | models.JSONField) and not field.choices


def _texts(value: Any) -> Iterator[str]:
    """The text, its lines, the entries of a list such as the emissions of a channel, and sentences within structures.

    Such sentences were written once for all: what was filed with an authority, what a job found in a file.
    """
    if isinstance(value, str):
        lines = value.splitlines()
        yield from {value, ", ".join(lines), *lines} - {""}
    elif isinstance(value, list):
        for entry in value:
            yield from _texts(entry)
    elif isinstance(value, dict):
        for entry in value.values():
            yield from (text for text in _texts(entry) if " " in text)
