"""A link and its stations as they would be: kept as plain values, and made into rows again."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.utils.translation import gettext

from sites.errors import RegisterError, StaleWriteError
from sites.models import ChangeRecord
from sites.services import record
from spectrum.models import Link, PlannedChange, Station

# A link that is not stored yet gets this number while its stations are judged.
_FOR_NOW = -1


def as_planned(link: Link, stations: Sequence[Station]) -> dict[str, Any]:
    """The values of a link and its stations, as JSON."""
    rows = []
    for station in stations:
        values = record.snapshot(station)
        values.pop("link_id", None)
        rows.append({"id": station.pk, "version": station.version if station.pk else None, "values": values})
    return {"link": record.snapshot(link), "stations": rows}


def loose_rows(change: PlannedChange) -> tuple[Link, list[Station]]:
    """The planned link with its stations as new rows that belong to nothing stored."""
    link = Link()
    _fill(link, change.planned["link"], change)
    stations = []
    for row in change.planned["stations"]:
        station = Station()
        _fill(station, row["values"], change)
        stations.append(station)
    return link, stations


def rows_to_save(change: PlannedChange, link: Link | None) -> tuple[Link, list[Station]]:
    """The planned values upon the stored rows. StaleWriteError where a station was changed or removed since."""
    if link is None:
        return loose_rows(change)
    _fill(link, change.planned["link"], change)
    stored = {station.pk: station for station in link.stations.all()}
    stations = []
    for row in change.planned["stations"]:
        station = Station() if row["id"] is None else stored.get(row["id"])
        if station is None or (row["id"] is not None and station.version != row["version"]):
            raise StaleWriteError(
                gettext("A station of {change} was changed or removed after it was drawn up.").format(
                    change=change.code
                )
            )
        _fill(station, row["values"], change)
        stations.append(station)
    return link, stations


def as_changes(change: PlannedChange) -> list[ChangeRecord]:
    """What would be recorded if the change were carried out on the register as it stands; nothing is saved."""
    act = ChangeRecord.Action
    if change.kind == PlannedChange.Kind.RETIRE:
        now = change.link.ends_on if change.link else None
        ends = {"ends_on": [now.isoformat() if now else None, str(change.last_day)]}
        return [_entry(act.CHANGE, Link, change.code, ends)]
    stored = {station.pk: station for station in change.link.stations.all()} if change.link else {}
    before = record.snapshot(change.link) if change.link else {}
    entries = [_compared(Link, change.code, before, change.planned["link"])]
    for row in change.planned["stations"]:
        label = f"{change.code}/{row['values']['label']}"
        station = stored.pop(row["id"], None)
        entries.append(_compared(Station, label, record.snapshot(station) if station else {}, row["values"]))
    for gone in stored.values():
        values = {name: [value, None] for name, value in record.snapshot(gone).items()}
        entries.append(_entry(act.REMOVE, Station, f"{change.code}/{gone.label}", values))
    return [entry for entry in entries if entry.changes]


def _compared(
    model: type[models.Model], label: str, before: dict[str, Any], after: dict[str, Any]
) -> ChangeRecord:
    changes = {
        name: [before.get(name), value]
        for name, value in after.items()
        if (before.get(name) != value if before else value not in (None, "", []))
    }
    return _entry(ChangeRecord.Action.CHANGE if before else ChangeRecord.Action.CREATE, model, label, changes)


def _entry(action: str, model: type[models.Model], label: str, changes: dict[str, Any]) -> ChangeRecord:
    return ChangeRecord(
        action=action, object_type=model._meta.label_lower, object_label=label, changes=changes
    )


def validate(link: Link, stations: Sequence[Station]) -> None:
    """Judge the rows as saving them would, without saving. Raises ValidationError with keys such as "A.mode"."""
    link.full_clean()
    if not stations:
        raise ValidationError(
            {"stations": gettext("A link needs its stations: two ends, or a hub and its remotes.")}
        )
    labels = [station.label for station in stations]
    if twice := next((label for label in labels if labels.count(label) > 1), None):
        raise ValidationError(
            {
                "stations": gettext(
                    "Two stations are labelled {label!r}; each label may stand once in a link."
                ).format(label=twice)
            }
        )
    problems: dict[str, list[str]] = {}
    is_new = link._state.adding
    try:
        if is_new:
            link.pk = _FOR_NOW
        for station in stations:
            station.link = link
            try:
                station.full_clean(exclude={"link"})
            except ValidationError as error:
                for field, messages in error.message_dict.items():
                    problems[f"{station.label}.{field}"] = messages
    finally:
        if is_new:
            link.pk = None
    if problems:
        raise ValidationError(problems)


def _fill(row: models.Model, values: dict[str, Any], change: PlannedChange) -> None:
    fields = {field.attname: field for field in row._meta.concrete_fields}
    for name, value in values.items():
        if name not in fields:
            raise RegisterError(
                gettext(
                    "{change} was drawn up with an earlier version of the program and names {name!r}, which is "
                    "no longer there. Take it out of the variant and draw it up again."
                ).format(change=change, name=name)
            )
        setattr(row, name, fields[name].to_python(value))
