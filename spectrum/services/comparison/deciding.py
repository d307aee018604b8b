"""Which of register and regulator is believed: carried out, and written into the change record."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext, ngettext

from licences.models import Licence, LicensedChannel
from licences.services.life import correct_for_import
from sites.errors import RegisterError, StaleWriteError
from sites.models import Registered, Site
from sites.reading import neutral
from sites.services import record as register
from sites.services.acts import act
from sites.services.record import Author, as_register_error
from spectrum.models import Difference, ExtractMapping, RegulatorRecord

from .keeping import compare_again, object_of, register_values
from .values import POSITION, shown, words_of

State, What = Difference.State, Difference.What
LONGEST_REASON = 2000


def distinct(difference: Difference) -> str:
    """A mark of the two values that a person sees, so that nobody decides about others."""
    values = json.dumps([difference.what, difference.register, difference.now], sort_keys=True)
    return hashlib.sha256(values.encode()).hexdigest()[:16]


def decide(difference: Difference, choice: str, *, reason: str, by: Author, seen: str) -> Difference:
    """Decide one difference. ``seen`` is :func:`distinct` of what the person saw.

    Raises RegisterError with the sentence why it cannot be carried out, StaleWriteError when either side
    changed in the meantime; nothing is written then.
    """
    if choice not in Difference.DECIDED:
        raise RegisterError(
            gettext("Say which is believed: the register, the regulator, or neither for now (set aside)."),
            field="choice",
        )
    if len(reason) > LONGEST_REASON:
        raise RegisterError(
            ngettext(
                "The reason has {count} character; at most {most} are kept.",
                "The reason has {count} characters; at most {most} are kept.",
                len(reason),
            ).format(count=len(reason), most=LONGEST_REASON),
            field="reason",
        )
    if choice == State.ASIDE and not reason.strip():
        raise RegisterError(gettext("Setting a difference aside needs a reason."), field="reason")
    try:
        # One act: what a decision writes is taken back together, and is asked again then.
        with act(), transaction.atomic():
            return _decided(difference, choice, reason.strip(), by, seen)
    except ValidationError as error:
        raise as_register_error(error) from error


def _decided(difference: Difference, choice: str, reason: str, by: Author, seen: str) -> Difference:
    ExtractMapping.objects.select_for_update().get(pk=difference.record.mapping_id)
    row = Difference.objects.select_related("record__mapping", "run").filter(pk=difference.pk).first()
    if row is None:
        raise StaleWriteError(
            gettext("Register and regulator agree by now; there is nothing left to decide.")
        )
    record = row.record
    if row.state == State.FOLLOWED:
        raise RegisterError(
            gettext("The register followed the extract here; change the object itself if that is wrong.")
        )
    obj = object_of(record)
    _still_as_seen(row, obj, seen)
    with neutral():  # what is recorded does not depend on who decides
        because = f"{row.get_what_display()}, extract {record.mapping.code}, {row.run.file_name}"
        because = f"{because}: {reason}" if reason else because
        told = str(State(choice).label)
        said = [shown(row.field, row.now) if row.field else row.get_what_display(), told]
    if choice == State.REGULATOR:
        obj = _follow(row, record, obj, by, because)
    else:
        about: Any = obj or record.mapping
        register.note(about, {f"regulator: {row.field or record.key}": said}, by=by, reason=because)
    row.state, row.reason = choice, reason
    row.decided_by, row.decided_by_name, row.decided_at = by.person, by.name[:200], timezone.now()
    row.save()
    if choice == State.REGULATOR:
        compare_again([record], row.run)
    return row


def _still_as_seen(row: Difference, obj: Registered | None, seen: str) -> None:
    current = register_values(row.record, obj).get(row.field) if row.field else None
    if seen != distinct(row) or (row.what == What.CHANGED and current != row.register):
        raise StaleWriteError(
            gettext(
                "{record}: what is compared has changed since you opened it. Load the page again and decide "
                "once more."
            ).format(record=row.record)
        )


def _follow(
    row: Difference, record: RegulatorRecord, obj: Registered | None, by: Author, because: str
) -> Registered:
    if row.what == What.NEW and obj is None:
        channel = register.create(_channel_of(record), by=by, reason=because)
        record.object_id = channel.pk
        record.save(update_fields=["object_id"])
        return channel
    if row.what == What.GONE or obj is None:
        raise RegisterError(
            gettext(
                "What the regulator no longer lists is ended on its own page, with the day and the way it ended: "
                "a licence or channel by a step of its life, a link by its status. The difference closes by itself then."
            ),
            field="choice",
        )
    _set(obj, row.field, row.now)
    if isinstance(obj, Licence):
        if obj.ended_on is None:
            obj.ended_how = ""
        correct_for_import(obj, by=by, note=because)
    return register.change(obj, by=by, reason=because)


def _set(obj: Any, name: str, value: Any) -> None:
    if name == POSITION:
        obj.latitude_deg, obj.longitude_deg = value
        if isinstance(obj, Site):
            obj.position_typed, obj.position_notation = shown(name, value), ""
            obj.position_epsg, obj.position_source = 4326, Site.PositionSource.REGULATOR
            obj.position_accuracy_m = None
        return
    column: Any = obj._meta.get_field(name)
    if column.is_relation:
        # by the object, so that a reference that is at hand is not kept beside it
        setattr(obj, name, column.related_model._default_manager.get(pk=value["id"]) if value else None)
    else:
        setattr(obj, name, column.to_python(value) if value is not None else None)


def _channel_of(record: RegulatorRecord) -> LicensedChannel:
    """The channel that the regulator has under a licence of ours and the register has not."""
    number, _, label = record.key.partition("/")
    licence = Licence.objects.get(authority=record.mapping.authority, number=number)
    said = dict(record.now)
    latitude_deg, longitude_deg = said.pop(POSITION)
    channel = LicensedChannel(
        licence=licence,
        label=label,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        channel_width_hz=_width_hz(record),
    )
    for name, value in said.items():
        _set(channel, name, value)
    return channel


def _width_hz(record: RegulatorRecord) -> int:
    """The width that the extract states, or the one that its mapping assumes for the band."""
    stated = record.now.get("channel_width_hz")
    if stated:
        return int(stated)
    band = record.mapping.mapping().stand_ins.band_of(record.now["frequency_hz"])
    if band is None:
        raise RegisterError(
            gettext("No band of the mapping holds {name} of {record}.").format(
                name=words_of("frequency_hz"), record=record
            )
        )
    return round(band[0].channel_width_khz * 1e3)
