"""Whether anybody has built on an act since: changed its objects or their parts, or begun to use what it made."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from django.contrib.contenttypes.fields import GenericRelation
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext

from sites.errors import StaleWriteError
from sites.models import ChangeRecord, Registered
from sites.reading import written_moment

from .wholes import model_of, objects_of, parts_of

Action = ChangeRecord.Action


def refuse_if_built_on(entries: Sequence[ChangeRecord], wholes: dict[str, list[int]]) -> None:
    """Raise StaleWriteError that names who changed what since; the rows of the wholes are held by the caller."""
    later = _later(entries, wholes)
    if later is not None:
        raise StaleWriteError(
            gettext(
                "Nothing was undone: {label} was {action} by {person} on {moment} ({reason}), "
                "after what you did. Undoing would take that away too. Look at it, and change it as it "
                "should be now."
            ).format(
                label=later.object_label,
                action=later.get_action_display(),
                person=later.by_name,
                moment=written_moment(later.at),
                reason=later.reason or gettext("no reason given"),
            )
        )
    for entry in entries:
        _refuse_if_other(entry, entries)
    mine = {(entry.object_type, entry.object_id) for entry in entries}
    for entry in entries:
        if entry.action == Action.CREATE:
            _refuse_if_used(entry, mine)


def _later(entries: Sequence[ChangeRecord], wholes: dict[str, list[int]]) -> ChangeRecord | None:
    """The latest entry of another act about one of the objects, their wholes, or parts of these."""
    about = Q()
    objects = defaultdict(set, objects_of(wholes))
    for entry in entries:
        objects[entry.object_type].add(entry.object_id)
    for label, those in objects.items():
        about |= Q(object_type=label, object_id__in=those)
    for label, keys in wholes.items():
        model = model_of(label)
        for field in parts_of(model) if model is not None else ():
            # A part that somebody removed is in the register no more, only in its record.
            removed = Q(object_type=field.model._meta.label_lower, action=Action.REMOVE)
            about |= removed & Q(**{f"changes__{field.attname}__0__in": keys})
    others = ChangeRecord.objects.filter(about, id__gt=min(entry.pk for entry in entries))
    return others.exclude(act=entries[0].act).order_by("-id").first()


def _refuse_if_other(entry: ChangeRecord, entries: Sequence[ChangeRecord]) -> None:
    """An object must stand as the act left it: its version, or of one without a version its values."""
    model = model_of(entry.object_type)
    if model is None or entry.action == Action.REMOVE:
        return
    same = [e for e in entries if (e.object_type, e.object_id) == (entry.object_type, entry.object_id)]
    if same[-1] is not entry:
        return
    stored = model._default_manager.filter(pk=entry.object_id).first()
    if stored is None:
        raise StaleWriteError(
            gettext("Nothing was undone: {label} is no longer in the register.").format(
                label=entry.object_label
            )
        )
    if isinstance(stored, Registered) and entry.object_version not in (None, stored.version):
        raise StaleWriteError(
            gettext("Nothing was undone: {stored} was changed again after what you did.").format(
                stored=stored
            )
        )


def _refuse_if_used(entry: ChangeRecord, mine: set[tuple[str, Any]]) -> None:
    """What an act made must not be referred to by what others entered or decided since.

    References that protect are refused by the removal itself, by name.
    """
    model = model_of(entry.object_type)
    for relation in model._meta.related_objects if model is not None else ():
        if relation.on_delete not in (models.CASCADE, models.SET_NULL):
            continue
        related: Any = relation.related_model
        users = related._default_manager.filter(**{relation.field.attname: entry.object_id})
        if not issubclass(
            related, Registered
        ):  # the register's own reckoning, but for what people decided on it
            decided = ChangeRecord.objects.filter(object_type=related._meta.label_lower)
            users = users.filter(pk__in=decided.values("object_id"))
        for user in users:
            if (related._meta.label_lower, user.pk) not in mine:
                raise _in_use(user, entry)
    made = model._default_manager.filter(pk=entry.object_id).first() if model is not None else None
    if made is None:
        return
    for field in made._meta.private_fields:
        if isinstance(field, GenericRelation):
            for document in field.bulk_related_objects([made]):
                if (document._meta.label_lower, document.pk) not in mine:
                    raise _in_use(document, entry)


def _in_use(user: models.Model, entry: ChangeRecord) -> StaleWriteError:
    return StaleWriteError(
        gettext(
            "Nothing was undone: {user} now belongs to {label} or uses it. Change or remove that first."
        ).format(user=user, label=entry.object_label)
    )
