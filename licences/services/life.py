"""Taking steps in the life of a licence: the step and the dates it sets are written together."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext

from licences.life import FIELDS, Life, Step, StepRefusedError, Taken, take
from licences.life.steps import SETS, end_channel
from licences.models import Licence, LicenceEvent, LicensedChannel
from licences.selectors import terms_of
from sites.errors import RegisterError
from sites.services import record
from sites.services.acts import act
from sites.services.record import Author


@dataclass(frozen=True)
class Told:
    """What is kept with a step: the letter or number that shows it, a remark, and the number of a grant."""

    proof: str = ""
    note: str = ""
    number: str = ""


def take_step(
    licence: Licence,
    taken: Taken,
    *,
    by: Author,
    told: Told = Told(),
    expected_version: int | None = None,
    today: dt.date | None = None,
) -> LicenceEvent:
    """Take a step with a whole licence: all or nothing, in one transaction.

    ``expected_version`` is the version of the licence that the person saw; of two people who step at once
    the second is told who was first. Raises RegisterError with the sentence that says why a step is refused,
    StaleWriteError, ValidationError.
    """
    with act(), transaction.atomic():
        row = _held(licence, expected_version)
        before = row.life
        last = _last_on(row, SETS[taken.step])
        try:
            after = take(before, terms_of(row), taken, today=today or timezone.localdate(), after=last)
        except StepRefusedError as refused:
            raise RegisterError(refused.sentence, field=refused.field) from refused
        changes = _changes(before, after)
        if taken.step is Step.GRANT and told.number and told.number != row.number:
            changes["number"] = [row.number, told.number]
            row.number = told.number
        if not changes:
            raise RegisterError(
                gettext("Nothing would change: the record says that already."), field="corrected"
            )
        event = _note(row, None, taken, changes, told, by)
        for name in FIELDS:
            setattr(row, name, getattr(after, name))
        if after.ended_on is not None and before.ended_on is None:
            row.ended_why = (told.note or told.proof)[:200]
        record.change(row, by=by, expected_version=row.version, reason=str(event))
    return event


def end_channel_alone(
    channel: LicensedChannel,
    taken: Taken,
    *,
    by: Author,
    told: Told = Told(),
    expected_version: int | None = None,
    today: dt.date | None = None,
) -> LicenceEvent:
    """Surrender or cancel one channel; the licence and its other channels stay as they are.

    ``expected_version`` is the version of the channel that the person saw.
    """
    del today  # an end may lie ahead
    with act(), transaction.atomic():
        licence = _held(channel.licence, None)
        record.lock(channel, channel.version if expected_version is None else expected_version)
        row = LicensedChannel.objects.select_related("licence__authority").get(pk=channel.pk)
        try:
            ends = end_channel(licence.life, terms_of(licence), row.ended_on, row.in_force_from, taken)
        except StepRefusedError as refused:
            raise RegisterError(refused.sentence, field=refused.field) from refused
        changes = {name: [_plain(getattr(row, name)), _plain(value)] for name, value in ends.items()}
        event = _note(licence, row, taken, changes, told, by)
        for name, value in ends.items():
            setattr(row, name, value)
        record.change(row, by=by, reason=str(event))
        record.touch(licence)
    return event


def correct_for_import(licence: Licence, *, by: Author, note: str) -> None:
    """Enter as a correction what an import is about to change of dates that steps have set."""
    stored = Licence.objects.filter(pk=licence.pk).first()
    if stored is None or not stored.events.filter(channel=None).exists():
        return
    changes = _changes(stored.life, licence.life)
    if changes:
        taken = Taken(step=Step.CORRECT, on=timezone.localdate())
        _note(stored, None, taken, changes, Told(note=note), by)


def _held(licence: Licence, expected_version: int | None) -> Licence:
    """The stored row, locked until the transaction ends."""
    record.lock(licence, licence.version if expected_version is None else expected_version)
    return Licence.objects.select_related("authority__renewal_policy", "holder").get(pk=licence.pk)


def _last_on(licence: Licence, fields: tuple[str, ...]) -> dt.date | None:
    """The day of the latest step that set one of these dates, corrections apart."""
    events = licence.events.filter(channel=None).exclude(step=Step.CORRECT)
    return max((e.on for e in events if any(name in e.changes for name in fields)), default=None)


def _changes(before: Life, after: Life) -> dict[str, list[Any]]:
    pairs = {name: (getattr(before, name), getattr(after, name)) for name in FIELDS}
    return {name: [_plain(old), _plain(new)] for name, (old, new) in pairs.items() if old != new}


def _plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, dt.date) else value


def _note(
    licence: Licence,
    channel: LicensedChannel | None,
    taken: Taken,
    changes: dict[str, list[Any]],
    told: Told,
    by: Author,
) -> LicenceEvent:
    event = LicenceEvent(
        licence=licence,
        number=1 + (licence.events.aggregate(last=Max("number"))["last"] or 0),
        channel=channel,
        step=taken.step.value,
        on=taken.on,
        proof=told.proof,
        note=told.note,
        changes=changes,
        entered_by=by.person,
        entered_by_name=by.name[:200],
    )
    return record.create(event, by=by)
