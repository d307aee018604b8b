"""Carrying a plan out: everything or nothing, each object recorded in the import's name."""

from __future__ import annotations

from collections.abc import Iterator

from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction

from licences.models import Licence
from licences.services.life import correct_for_import
from sites.models import Registered
from sites.sentences import sentence
from sites.services import record
from sites.services.record import Author
from sites.words import gettext_noop as _

from .planning.plan import WRITTEN, Change, New, Plan
from .problems import ExtractError, Problem, quoted

MAX_PROBLEMS = 200


def write(plan: Plan, *, by: Author, reason: str) -> None:
    """Write what the plan holds, in one transaction. ExtractError says what the register refuses, row by row."""
    refused = [
        problem for model, _name in WRITTEN for new in plan.new.get(model, []) for problem in _refused(new)
    ]
    if refused:
        raise ExtractError(refused[:MAX_PROBLEMS], more=max(0, len(refused) - MAX_PROBLEMS))
    try:
        with transaction.atomic():
            for model, _name in WRITTEN:
                objects = [new.obj for new in plan.new.get(model, [])]
                record.create_many(objects, by=by, reason=reason, validate=False)
            for change in plan.changed:
                _change(change, by, reason)
    except IntegrityError as error:
        raise ExtractError(
            [
                Problem(
                    0,
                    "",
                    sentence(
                        _("rows that the register's rules refuse together ({error})"),
                        error=str(error).splitlines()[0],
                    ),
                    sentence(_("rows that keep the rules")),
                    sentence(_("If somebody else imported at the same time, run the import again.")),
                )
            ]
        ) from error


def _refused(new: New) -> Iterator[Problem]:
    """Check an object's own fields; references are to objects of this plan or of the register."""
    references = [f.name for f in new.obj._meta.concrete_fields if isinstance(f, models.ForeignKey)]
    try:
        new.obj.clean_fields(exclude=references)
        new.obj.clean()
    except ValidationError as error:
        yield from _problems(new.obj, new.row, error)


def _change(change: Change, by: Author, reason: str) -> None:
    for name, (_before, after) in change.fields.items():
        setattr(change.obj, name, after)
    try:
        if isinstance(change.obj, Licence):
            if change.obj.ended_on is None:
                change.obj.ended_how = ""
            correct_for_import(change.obj, by=by, note=reason)
        record.change(change.obj, by=by, reason=reason)
    except ValidationError as error:
        raise ExtractError(list(_problems(change.obj, change.row, error))) from error


def _problems(obj: Registered, row: int, error: ValidationError) -> Iterator[Problem]:
    for field, messages in error.message_dict.items():
        value = "" if field == "__all__" else getattr(obj, field, "")
        kind = obj._meta.verbose_name
        yield Problem(
            row,
            "",
            sentence(
                _("{value} as {field} of the {kind} {obj}"),
                value=quoted(value),
                field=field.replace("_", " "),
                kind=kind,
                obj=obj,
            )
            if value
            else sentence(_("the {kind} {obj}"), kind=kind, obj=obj),
            sentence(_("a value that the register accepts")),
            " ".join(messages),
        )
