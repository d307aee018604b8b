"""Recorded values in words: fields by their names, objects by theirs, frequencies with their unit."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

from django.apps import apps
from django.db import models
from django.utils.translation import gettext

from sites.models import ChangeRecord
from sites.reading import decimal_sign, written_day, written_moment
from sites.selectors import with_names
from sites.templatetags.figures import khz, mhz

LONGEST_SHOWN = 80
Names = dict[tuple[str, Any], str]
ModelClass = type[models.Model]


def kind_of_object(label: str) -> str:
    """The name of a model in words; the label itself for a model that is no more."""
    model = model_of(label)
    return str(model._meta.verbose_name) if model else label


def model_of(label: str) -> ModelClass | None:
    """The model of a label; None for one that is no more."""
    try:
        return apps.get_model(label)
    except (LookupError, ValueError):
        return None


def in_words(entries: Iterable[ChangeRecord]) -> list[ChangeRecord]:
    """The entries, each with ``words``: its fields by their names, from what to what.

    Objects that an entry refers to are looked up together, one query a kind.
    """
    listed = list(entries)
    names = names_of_referred(
        (model_of(entry.object_type), {name: pair[side] for name, pair in entry.changes.items()})
        for entry in listed
        for side in (0, 1)
    )
    for entry in listed:
        model = model_of(entry.object_type)
        parts = []
        for attribute, pair in entry.changes.items():
            label = words_of_field(model, attribute)
            old, new = (shown_value(model, attribute, value, names) for value in pair)
            if entry.action == ChangeRecord.Action.CHANGE:
                parts.append(f"{label}: {old} → {new}")
            else:
                parts.append(f"{label}: {new if entry.action == ChangeRecord.Action.CREATE else old}")
        entry.words = "; ".join(parts)  # type: ignore[attr-defined]
    return listed


def words_of_field(model: ModelClass | None, attribute: str) -> str:
    """A field's name in words, without the unit in which it is stored."""
    field = _field(model, attribute)
    return str(field.verbose_name).removesuffix(" (Hz)") if field else attribute.replace("_", " ")


def names_of_referred(values: Iterable[tuple[ModelClass | None, Mapping[str, Any]]]) -> Names:
    """The names of the objects that recorded values refer to, one query a kind; values come with their model."""
    wanted: dict[ModelClass, set[Any]] = defaultdict(set)
    for model, fields in values:
        for attribute, value in fields.items():
            field = _field(model, attribute)
            if value is not None and field is not None and field.related_model is not None:
                wanted[field.related_model].add(value)
    names = {}
    for related, keys in wanted.items():
        for obj in with_names(related).filter(pk__in=keys):
            names[related._meta.label_lower, obj.pk] = str(obj)
    return names


def shown_value(model: ModelClass | None, attribute: str, value: Any, names: Names) -> str:
    """A recorded value of a field as it is read."""
    field = _field(model, attribute)
    if value is None or value in ("", []):
        return gettext("empty")
    if field is not None and field.related_model is not None:
        return names.get(
            (field.related_model._meta.label_lower, value),
            gettext("number {pk}, which is gone").format(pk=value),
        )
    if field is not None and field.choices:
        return str(dict(field.flatchoices).get(value, value))
    if attribute.endswith("_hz") and isinstance(value, int):
        return f"{mhz(value)} MHz" if abs(value) >= 1_000_000 else f"{khz(value)} kHz"
    if isinstance(value, bool):
        return gettext("yes") if value else gettext("no")
    text = _in_line(field, value)
    return text if len(text) <= LONGEST_SHOWN else f"{text[: LONGEST_SHOWN - 1]}…"


def _in_line(field: Any, recorded: Any) -> str:
    """A recorded value in one line: of a list its entries, of a structure its names and what stands under them."""
    if isinstance(recorded, Mapping):
        under = ((str(name).replace("_", " "), _in_line(None, value)) for name, value in recorded.items())
        return "; ".join(f"{name}: {words}" for name, words in under if words)
    if isinstance(recorded, list):
        return ", ".join(_in_line(None, value) for value in recorded)
    return "" if recorded is None else _as_written(field, recorded)


def _as_written(field: Any, recorded: Any) -> str:
    """A recorded figure with the decimals that it has, a recorded day or moment (ISO 8601), as the reader writes it."""
    if isinstance(recorded, float):
        return str(recorded).replace(".", decimal_sign())
    if not isinstance(field, models.DateField) or not isinstance(recorded, str):
        return str(recorded)
    try:
        at = dt.datetime.fromisoformat(recorded)
    except ValueError:
        return recorded
    return written_day(at.date()) if len(recorded) == len("2026-12-31") else written_moment(at)


def _field(model: ModelClass | None, attribute: str) -> Any:
    if model is None:
        return None
    return next((f for f in model._meta.concrete_fields if f.attname == attribute), None)
