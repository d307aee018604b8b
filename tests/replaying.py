"""The register out of nothing but the change record: a second way to a day's register, written for the tests."""

from __future__ import annotations

import datetime as dt
from typing import Any

from sites.models import ChangeRecord
from sites.on_day.reading import registered_models
from sites.services import record

Copy = dict[str, dict[int, dict[str, Any]]]


def replayed(until: dt.date) -> Copy:
    """The register out of nothing but the change record, from its start."""
    found: Copy = {model._meta.label_lower: {} for model in registered_models()}
    blank = {model._meta.label_lower: record.snapshot(model()) for model in registered_models()}
    for entry in ChangeRecord.objects.filter(at__date__lte=until).order_by("id"):
        rows = found.get(entry.object_type)
        if rows is None:
            continue
        after = {name: pair[1] for name, pair in entry.changes.items()}
        if entry.action == "remove":
            del rows[entry.object_id]
        elif entry.action == "create":
            # What was empty at entry is not in the entry, whatever the default is.
            empty = {
                field.attname: (None if field.null else [] if "JSON" in field.get_internal_type() else "")
                for model in registered_models()
                if model._meta.label_lower == entry.object_type
                for field in model._meta.concrete_fields
                if field.attname in blank[entry.object_type]
            }
            rows[entry.object_id] = {**empty, **after}
        else:
            rows[entry.object_id].update(after)
    return found
