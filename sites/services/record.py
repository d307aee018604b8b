"""The one way to write to the register: validate, save, record who changed what, in one transaction."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, TypeVar

from django.contrib.contenttypes.fields import GenericRelation
from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.db.models import ProtectedError

from sites.errors import RegisterError, StaleWriteError
from sites.models import ChangeRecord, Person, Registered
from sites.models.registered import service_write
from sites.reading import neutral, written_moment
from sites.saying import sentences_of
from sites.sentences import joined, sentence
from sites.services.acts import act, act_of_entry
from sites.words import gettext_noop as _
from sites.words import ngettext_lazy

BATCH = 500
UNRECORDED = {"version", "created_at", "changed_at", "last_login", "password"}
M = TypeVar("M", bound=models.Model)


@dataclass(frozen=True)
class Author:
    """Who makes a change: a person, or a named part of the system (``Author.system("import")``)."""

    name: str
    person: Person | None = None

    @classmethod
    def of(cls, person: Any) -> Author:
        return cls(name=str(person), person=person)

    @classmethod
    def system(cls, name: str) -> Author:
        return cls(name=name)


def create(obj: M, *, by: Author, reason: str = "") -> M:
    """Validate and save a new object and record it. Raises ValidationError, nothing written."""
    with act(), transaction.atomic(), service_write():
        obj.full_clean()
        obj.save(force_insert=True)
        _note(
            ChangeRecord.Action.CREATE,
            obj,
            {k: [None, v] for k, v in snapshot(obj).items() if v not in (None, "", [])},
            by,
            reason,
        )
    return obj


def change(obj: M, *, by: Author, expected_version: int | None = None, reason: str = "") -> M:
    """Validate and save a changed object, and record each field's value before and after.

    ``expected_version`` is the version the person saw (by default the version the
    object was loaded with); when the stored one differs, StaleWriteError is raised
    and nothing is written. An unchanged object writes nothing.
    """
    with act(), transaction.atomic(), service_write():
        model = type(obj)
        stored = model._default_manager.select_for_update().filter(pk=obj.pk).first()
        if stored is None:
            raise StaleWriteError(
                sentence(
                    _("{obj} is no longer in the register; somebody removed it in the meantime."), obj=obj
                )
            )
        if isinstance(obj, Registered) and isinstance(stored, Registered):
            seen = obj.version if expected_version is None else expected_version
            if stored.version != seen:
                raise StaleWriteError(_who_was_first(stored))
            obj.version = stored.version
        obj.full_clean()
        before, after = snapshot(stored), snapshot(obj)
        changes = {name: [before[name], value] for name, value in after.items() if before[name] != value}
        if not changes:
            return obj
        if isinstance(obj, Registered):
            obj.version += 1
        obj.save(force_update=True)
        _note(ChangeRecord.Action.CHANGE, obj, changes, by, reason)
    return obj


def note(obj: models.Model, changes: dict[str, Any], *, by: Author, reason: str = "") -> None:
    """Record a change of what is no field of an object, such as a person's roles: name → [before, after]."""
    _note(ChangeRecord.Action.CHANGE, obj, changes, by, reason)


def touch(obj: Registered) -> None:
    """Raise an object's version because a part of it was changed and recorded in its own name."""
    with act(), transaction.atomic(), service_write():
        obj.version += 1
        obj.save(force_update=True, update_fields=["version", "changed_at"])


def lock(obj: Registered, expected_version: int) -> None:
    """Hold an object's row until the transaction ends; StaleWriteError if somebody saved it in the meantime."""
    stored = type(obj)._default_manager.select_for_update().filter(pk=obj.pk).first()
    if stored is None:
        raise StaleWriteError(
            sentence(_("{obj} is no longer in the register; somebody removed it in the meantime."), obj=obj)
        )
    if stored.version != expected_version:
        raise StaleWriteError(_who_was_first(stored))


def remove(obj: models.Model, *, by: Author, reason: str = "") -> None:
    """Delete an object that nothing depends on, and record what it was.

    What goes with it by cascade (the stations of a link, the channels of a licence) is recorded too,
    and that others no longer refer to it. RegisterError names what still needs it.
    """
    with act(), transaction.atomic(), service_write():
        children = list({(type(child), child.pk): child for child in _cascading(obj)}.values())
        _let_go([*children, obj], by, reason)
        for child in children:
            _note(
                ChangeRecord.Action.REMOVE,
                child,
                {k: [v, None] for k, v in snapshot(child).items()},
                by,
                reason,
            )
        before = {k: [v, None] for k, v in snapshot(obj).items()}
        record = _entry(ChangeRecord.Action.REMOVE, obj, before, by, reason)
        label = str(obj)
        try:
            obj.delete()
        except ProtectedError as error:
            users = sorted({str(user) for user in error.protected_objects})
            shown: str = ", ".join(users[:5])
            if more := max(0, len(users) - 5):
                shown = sentence(
                    ngettext_lazy("{users} and {count} more", "{users} and {count} more"),
                    users=shown,
                    count=more,
                )
            raise RegisterError(
                sentence(
                    _(
                        "{label} cannot be removed: it is still used by {shown}. Change or remove those first."
                    ),
                    label=label,
                    shown=shown,
                )
            ) from error
        record.save()


def create_many(objects: Sequence[M], *, by: Author, reason: str = "", validate: bool = True) -> list[M]:
    """Save many new objects of one model and record each, all or nothing."""
    if not objects:
        return []
    model = type(objects[0])
    with act(), transaction.atomic(), service_write():
        if validate:
            for obj in objects:
                obj.full_clean(_at_hand(obj), validate_unique=False, validate_constraints=False)
        created = model._default_manager.bulk_create(objects, batch_size=BATCH)
        ChangeRecord.objects.bulk_create(
            [
                _entry(
                    ChangeRecord.Action.CREATE,
                    obj,
                    {k: [None, v] for k, v in snapshot(obj).items() if v not in (None, "", [])},
                    by,
                    reason,
                )
                for obj in created
            ],
            batch_size=BATCH,
        )
    return created


def _at_hand(obj: models.Model) -> set[str]:
    """Relations whose object was given, not only its number: no query has to ask whether it exists."""
    related = (f for f in obj._meta.concrete_fields if isinstance(f, models.ForeignKey))
    return {f.name for f in related if f.get_cached_value(obj, default=None) is not None}


def change_many(objects: Iterable[M], *, by: Author, reason: str = "") -> list[M]:
    """Save many changed objects, each checked and recorded as by :func:`change`, all or nothing."""
    with act(), transaction.atomic():
        return [change(obj, by=by, reason=reason) for obj in objects]


def snapshot(obj: models.Model) -> dict[str, Any]:
    """The stored values of an object as plain JSON values, by field name."""
    return {
        field.attname: _plain(field.value_from_object(obj))
        for field in obj._meta.concrete_fields
        if field.attname not in UNRECORDED and not field.primary_key
    }


def _plain(value: Any) -> Any:
    if isinstance(value, dt.datetime | dt.date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return format(value.normalize(), "f")
    return value


def _entry(action: str, obj: models.Model, changes: dict[str, Any], by: Author, reason: str) -> ChangeRecord:
    with neutral():  # what is recorded does not depend on who reads
        label = str(obj)[:200]
    return ChangeRecord(
        by=by.person,
        by_name=by.name[:200],
        action=action,
        object_type=obj._meta.label_lower,
        object_id=obj.pk,
        object_label=label,
        changes=changes,
        reason=reason,
        act=act_of_entry(),
        object_version=obj.version if isinstance(obj, Registered) else None,
    )


def _note(action: str, obj: models.Model, changes: dict[str, Any], by: Author, reason: str) -> None:
    _entry(action, obj, changes, by, reason).save()


def _cascading(obj: models.Model) -> Iterable[Registered]:
    """What is removed with an object, each after what is removed with it in turn."""
    for relation in _relations_to(obj):
        if relation.on_delete is models.CASCADE and issubclass(relation.related_model, Registered):
            for child in relation.related_model._default_manager.filter(**{relation.field.name: obj}):
                yield from _cascading(child)
                yield child
    for field in obj._meta.private_fields:
        if isinstance(field, GenericRelation):
            yield from field.bulk_related_objects([obj])


def _relations_to(model: models.Model | type[models.Model]) -> Iterable[Any]:
    """Every relation by which others refer to a model, also those that have no name on its side."""
    fields = model._meta.get_fields(include_hidden=True)
    return [f for f in fields if f.auto_created and not f.concrete and (f.one_to_many or f.one_to_one)]


def _let_go(gone: Sequence[models.Model], by: Author, reason: str) -> None:
    """Empty and record the references that the database would empty by itself when objects go."""
    going = {(type(one), one.pk) for one in gone}
    for model in {type(one) for one in gone}:
        keys = [one.pk for one in gone if type(one) is model]
        for relation in _relations_to(model):
            related = relation.related_model
            if relation.on_delete is not models.SET_NULL or not issubclass(related, Registered):
                continue
            name = relation.field.attname
            for user in related._default_manager.select_for_update().filter(**{f"{name}__in": keys}):
                if (related, user.pk) in going:
                    continue
                before = getattr(user, name)
                setattr(user, relation.field.name, None)
                user.version += 1
                user.save(update_fields=[name, "version", "changed_at"])
                _note(ChangeRecord.Action.CHANGE, user, {name: [before, None]}, by, reason)


def _who_was_first(stored: models.Model) -> str:
    last = ChangeRecord.objects.filter(object_type=stored._meta.label_lower, object_id=stored.pk).first()
    if last is None:
        return sentence(
            _(
                "{stored} was changed by somebody, after you opened it. "
                "Load it again, compare, and enter your change once more."
            ),
            stored=stored,
        )
    return sentence(
        _(
            "{stored} was changed by {person} on {moment}, after you opened it. "
            "Load it again, compare, and enter your change once more."
        ),
        stored=stored,
        person=last.by_name,
        moment=written_moment(last.at),
    )


def as_register_error(error: ValidationError) -> RegisterError:
    """Turn Django's validation error into one sentence with the first field's name."""
    if hasattr(error, "error_dict"):
        field, errors = next(iter(error.error_dict.items()))
        said = joined(" ", sentences_of(ValidationError(errors)))
        return RegisterError(said, field="" if field == "__all__" else field)
    return RegisterError(joined(" ", sentences_of(error)))
