"""Drawing up a variant: its name and date, and one planned change a link."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.db import transaction
from django.utils.translation import gettext

from sites.errors import RegisterError, StaleWriteError
from sites.models import Person
from sites.reading import written_day
from sites.services import record
from sites.services.record import Author
from spectrum.models import Link, PlannedChange, Station, Variant

from .planned import as_planned, validate
from .state import held_open


def draw_up(variant: Variant, *, by: Person) -> Variant:
    """Begin a variant. Raises ValidationError for what is wrong with its name or date."""
    variant.drawn_up_by = by
    return record.create(variant, by=Author.of(by))


def rename(variant: Variant, *, by: Person, expected_version: int | None = None, reason: str = "") -> Variant:
    """Save the changed name, purpose or date of an open variant; the planned changes stay."""
    with transaction.atomic():
        held_open(variant)
        return record.change(variant, by=Author.of(by), expected_version=expected_version, reason=reason)


def add_link(variant: Variant, link: Link, stations: Sequence[Station], *, by: Person) -> PlannedChange:
    """Plan a new link. One without a first day on the air starts on the variant's date.

    ``link`` and ``stations`` are not saved. Raises ValidationError as saving the link would.
    """
    if not link._state.adding:
        raise RegisterError(
            gettext("{link} is in the register; plan a change of it instead of a new link.").format(
                link=link.code
            )
        )
    if link.starts_on is None:
        link.starts_on = variant.as_of
    validate(link, stations)
    with transaction.atomic():
        held_open(variant)
        _once(variant, link.code)
        change = PlannedChange(
            variant=variant,
            kind=PlannedChange.Kind.ADD,
            code=link.code,
            planned=as_planned(link, stations),
        )
        return record.create(change, by=Author.of(by))


def change_link(
    variant: Variant,
    link: Link,
    stations: Sequence[Station],
    *,
    by: Person,
    expected_version: int | None = None,
) -> PlannedChange:
    """Plan what a link of the register would be: other channels, power, antennas, stations, dates.

    ``link`` and ``stations`` carry the planned values and are not saved; a stored station that is
    missing from the list would be removed. An earlier planned change of the link is replaced.
    ``expected_version`` is the link's version that the planner saw.
    """
    stored = _stored(link)
    seen = link.version if expected_version is None else expected_version
    if stored.version != seen:
        raise StaleWriteError(
            gettext(
                "{link} was changed by somebody after you opened it. Load it again and plan the change "
                "once more."
            ).format(link=stored)
        )
    validate(link, stations)
    kept = {station.pk for station in stations if station.pk is not None}
    if foreign := kept - set(stored.stations.values_list("pk", flat=True)):
        raise RegisterError(
            gettext("Station {number} does not belong to {link}.").format(number=min(foreign), link=stored),
            field="stations",
        )
    with transaction.atomic():
        held_open(variant)
        _replace(variant, stored, by)
        change = PlannedChange(
            variant=variant,
            kind=PlannedChange.Kind.CHANGE,
            link=stored,
            link_version=seen,
            code=stored.code,
            planned=as_planned(link, stations),
        )
        return record.create(change, by=Author.of(by))


def retire_link(
    variant: Variant, link: Link, *, by: Person, last_day: dt.date | None = None
) -> PlannedChange:
    """Plan the last day of a link on the air, by default the day before the variant's date."""
    stored = _stored(link)
    last_day = last_day or variant.as_of - dt.timedelta(days=1)
    if stored.status not in Link.LIVE:
        raise RegisterError(
            gettext("{link} is {status}; there is nothing to retire.").format(
                link=stored, status=stored.get_status_display()
            )
        )
    if stored.starts_on is not None and last_day < stored.starts_on:
        raise RegisterError(
            gettext("{last_day} lies before {starts_on}, the first day of {link} on the air.").format(
                last_day=written_day(last_day), starts_on=written_day(stored.starts_on), link=stored
            ),
            field="last_day",
        )
    with transaction.atomic():
        held_open(variant)
        _replace(variant, stored, by)
        change = PlannedChange(
            variant=variant,
            kind=PlannedChange.Kind.RETIRE,
            link=stored,
            link_version=stored.version,
            code=stored.code,
            last_day=last_day,
        )
        return record.create(change, by=Author.of(by))


def take_out(change: PlannedChange, *, by: Person) -> None:
    """Take a planned change out of its variant; the change record keeps it."""
    with transaction.atomic():
        held_open(change.variant)
        record.remove(change, by=Author.of(by))


def _stored(link: Link) -> Link:
    stored = Link.objects.filter(pk=link.pk).first()
    if stored is None:
        raise StaleWriteError(
            gettext("{link} is no longer in the register; somebody removed it in the meantime.").format(
                link=link
            )
        )
    return stored


def _once(variant: Variant, code: str) -> None:
    if variant.changes.filter(code__iexact=code).exists():
        raise RegisterError(
            gettext("The variant {variant} plans a link {code} already; take that out first.").format(
                variant=variant, code=code
            ),
            field="code",
        )


def _replace(variant: Variant, link: Link, by: Person) -> None:
    for earlier in variant.changes.filter(link=link):
        record.remove(earlier, by=Author.of(by), reason="replaced by a later plan")
    _once(variant, link.code)
