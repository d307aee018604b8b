"""Undoing an act: every entry's fields get the values they had, in one transaction, recorded as a change."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction
from django.utils.translation import gettext, ngettext

from sites.errors import NotAllowedError, RegisterError, StaleWriteError
from sites.models import ChangeRecord, Person, Registered
from sites.services import acts, record
from sites.services.record import Author

from .around import entered
from .built_on import refuse_if_built_on
from .wholes import model_of, part_of, wholes_of

#: An act of more entries (an import) is not taken back in one go.
MOST_ENTRIES: Final = 500
Action = ChangeRecord.Action


@dataclass(frozen=True)
class Undone:
    """What an undo came to, in a sentence, and the object that it was about; ``there`` if it is in the register."""

    sentence: str
    object_type: str
    object_id: int
    there: bool


def undo(act_id: uuid.UUID, *, by: Person) -> Undone:
    """Take an act back; all of it or nothing.

    Fields get the values they had before, new objects are removed, removed ones are in the register again
    under their old ids. NotAllowedError when somebody else did it or the person's role has no such act any
    more; StaleWriteError when somebody built on it since; RegisterError when it cannot be undone at all.
    """
    entries = list(ChangeRecord.objects.filter(act=act_id).order_by("id")[: MOST_ENTRIES + 1])
    refuse_if_never(entries, by)
    author = Author.of(by)
    wholes = wholes_of(entries)
    try:
        with acts.act(), transaction.atomic(), entered(wholes, author):
            _hold(wholes)
            refuse_if_built_on(entries, wholes)
            _restore(entries, author)
            _raise_versions(entries, wholes)
    except IntegrityError as error:
        raise StaleWriteError(
            gettext(
                "Nothing was undone: somebody entered or used the same at the same moment. Look it up "
                "and try again."
            )
        ) from error
    label = entries[0].object_type if entries[0].object_type in wholes else next(iter(wholes))
    model, key = model_of(label), wholes[label][0]
    there = model is not None and model._default_manager.filter(pk=key).exists()
    return Undone(_said(entries, wholes), label, key, there)


def refuse_if_never(entries: Sequence[ChangeRecord], by: Person) -> None:
    """Refuse what no passing of time or change of the register would let this person undo."""
    if not entries:
        raise RegisterError(gettext("There is nothing to undo: the change record has no such act."))
    if len(entries) > MOST_ENTRIES:
        raise RegisterError(
            gettext(
                "This wrote more than {most} entries of the change record at once, too many to "
                "undo in one go."
            ).format(most=MOST_ENTRIES)
        )
    if any(entry.by_id != by.pk for entry in entries):
        raise NotAllowedError(
            gettext("{person} did this; only whoever did it can undo it.").format(person=entries[0].by_name)
        )
    for entry in entries:
        model = model_of(entry.object_type)
        if model is None or issubclass(model, Person):
            raise RegisterError(gettext("People and their roles are changed back in the administration."))
        names = {field.attname for field in model._meta.concrete_fields}
        if unknown := sorted(entry.changes.keys() - names):
            raise RegisterError(
                gettext("The change of {field} cannot be undone.").format(field=unknown[0].replace("_", " "))
            )
        if not _may_write(by, model):
            raise NotAllowedError(
                gettext("Your role no longer includes changing {objects}.").format(
                    objects=model._meta.verbose_name_plural
                )
            )


def _may_write(person: Person, model: type[models.Model]) -> bool:
    """Whether the role still includes some act on such objects, or on what they are parts of."""
    options = model._meta
    acts = [*(f"{act}_{options.model_name}" for act in ("add", "change", "delete"))]
    acts += [codename for codename, _ in options.permissions]
    if any(person.has_perm(f"{options.app_label}.{act}") for act in acts):
        return True
    whole = part_of(model)
    return whole is not None and _may_write(person, whole.related_model)


def _hold(wholes: dict[str, list[int]]) -> None:
    """Lock the rows until the transaction ends, in an order that everybody takes."""
    for label in sorted(wholes):
        model = model_of(label)
        if model is not None:
            list(model._default_manager.select_for_update().filter(pk__in=wholes[label]).order_by("pk"))


def _restore(entries: Sequence[ChangeRecord], by: Author) -> None:
    """Undo the entries, the last one first; one that the register refuses waits until others are undone."""
    waiting = list(reversed(entries))
    later: list[Callable[[], None]] = []
    while waiting:
        refused: list[tuple[ChangeRecord, Exception]] = []
        for entry in waiting:
            try:
                with transaction.atomic():
                    _undo_entry(entry, by, entries, later)
            except StaleWriteError:
                raise
            except (RegisterError, ValidationError) as error:
                refused.append((entry, error))
        if len(refused) == len(waiting):
            raise _in_a_sentence(*refused[0])
        waiting = [entry for entry, _ in refused]
    for work in later:
        work()


def _in_a_sentence(entry: ChangeRecord, error: Exception) -> RegisterError:
    if isinstance(error, ValidationError):
        error = record.as_register_error(error)
    return RegisterError(
        gettext("Nothing was undone. {label}: {problem}").format(label=entry.object_label, problem=error)
    )


def _undo_entry(
    entry: ChangeRecord, by: Author, entries: Sequence[ChangeRecord], later: list[Callable[[], None]]
) -> None:
    model = model_of(entry.object_type)
    assert model is not None  # noqa: S101 - refused at the beginning
    reason = f"undoing what was done on {entry.at:%Y-%m-%d at %H:%M} UTC"
    fields = {field.attname: field for field in model._meta.concrete_fields}
    before = {name: _value(fields[name], old) for name, (old, _) in entry.changes.items()}
    stored = model._default_manager.filter(pk=entry.object_id).first()
    if entry.action == Action.CREATE:
        if stored is not None:  # else it went with what it was a part of
            record.remove(stored, by=by, reason=reason)
        return
    if entry.action == Action.CHANGE:
        if stored is None:
            raise StaleWriteError(
                gettext("Nothing was undone: {label} is no longer in the register.").format(
                    label=entry.object_label
                )
            )
        _set(stored, before, by, reason)
        return
    again = model(pk=entry.object_id, **before)
    if isinstance(again, Registered):
        again.version = (entry.object_version or 0) + 1
    if awaited := _awaited(again, entries):
        held = {name: getattr(again, name) for name in awaited}
        for name in awaited:
            setattr(again, name, None)
        later.append(lambda: _set(model._default_manager.get(pk=entry.object_id), held, by, reason))
    record.create(again, by=by, reason=reason)


def _set(obj: models.Model, values: dict[str, Any], by: Author, reason: str) -> None:
    for name, value in values.items():
        setattr(obj, name, value)
    record.change(obj, by=by, reason=reason)


def _awaited(obj: models.Model, entries: Sequence[ChangeRecord]) -> list[str]:
    """The optional references to objects that are to come back too and are not there yet."""
    removed = {(e.object_type, e.object_id) for e in entries if e.action == Action.REMOVE}
    names = []
    for field in obj._meta.concrete_fields:
        if isinstance(field, models.ForeignKey) and field.null:
            model, key = field.related_model, getattr(obj, field.attname)
            coming = (model._meta.label_lower, key) in removed
            if coming and not model._default_manager.filter(pk=key).exists():
                names.append(field.attname)
    return names


def _value(field: models.Field[Any, Any], recorded: Any) -> Any:
    """A value of the change record as the field keeps it; what a text or a list has not is empty, not null."""
    if recorded is None and not field.null:
        return field.get_default()
    return recorded if isinstance(field, models.JSONField) else field.to_python(recorded)


def _raise_versions(entries: Sequence[ChangeRecord], wholes: dict[str, list[int]]) -> None:
    """Raise the version of wholes of which only parts were restored: a form that is open shows the old ones."""
    restored = {(entry.object_type, entry.object_id) for entry in entries}
    for label, keys in wholes.items():
        model = model_of(label)
        alone = [key for key in keys if (label, key) not in restored]
        for whole in model._default_manager.filter(pk__in=alone) if model is not None and alone else ():
            if isinstance(whole, Registered):
                record.touch(whole)


def _said(entries: Sequence[ChangeRecord], wholes: dict[str, list[int]]) -> str:
    first = {(e.object_type, e.object_id): e for e in reversed(entries)}.values()
    own = [e for e in first if e.object_id in wholes.get(e.object_type, ())] or list(first)
    parts = []
    for action in (Action.CREATE, Action.CHANGE, Action.REMOVE):
        labels = list(dict.fromkeys(e.object_label for e in own if e.action == action))
        if labels:
            named = ", ".join(labels[:3])
            if more := max(0, len(labels) - 3):
                pattern = ngettext("{names} and {count} more", "{names} and {count} more", more)
                named = pattern.format(names=named, count=more)
            parts.append(_came_to(action, len(labels)).format(names=named))
    said = gettext("Undone: {parts}. The change record keeps both.")
    return said.format(parts="; ".join(parts))


def _came_to(action: str, count: int) -> str:
    """What became of objects when an act on them was undone."""
    if action == Action.CREATE:
        return ngettext(
            "{names} is no longer in the register", "{names} are no longer in the register", count
        )
    if action == Action.CHANGE:
        return ngettext("{names} is as before", "{names} are as before", count)
    return ngettext(
        "{names} is in the register again, under the old address",
        "{names} are in the register again, under the old address",
        count,
    )
