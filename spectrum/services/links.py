"""Writing links: a link and its stations are one thing, saved and recorded together.

A link of ours that is planned or filed holds the pair that it is set to. Whoever saves one so that it holds
a pair it did not hold before takes that pair: in turn, and not against what somebody else holds.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from sites.errors import RegisterError
from sites.services import acts, jobs, record, undo
from sites.services.record import Author
from spectrum.models import Link, Station
from spectrum.services import held_pairs


def save_link(
    link: Link,
    stations: Sequence[Station],
    *,
    by: Author,
    expected_version: int | None = None,
    reason: str = "",
    as_of: dt.date | None = None,
    clashes_are_findings: bool = False,
) -> Link:
    """Create or change a link together with all its stations, in one transaction; then its check is queued.

    ``stations`` is the whole list: stored stations that are missing from it are removed.
    ``expected_version`` is the link's version that the person saw; it guards the stations too.
    Raises ValidationError with keys such as ``"A.antenna_height_agl_m"`` for stations,
    StaleWriteError when somebody else saved first, PairHeldError when the link would take a pair against
    the reservation of another, RegisterBusyError when its turn to take one did not come; nothing is written
    then. ``clashes_are_findings`` enters a register as it stands: such a clash refuses nothing.
    """
    today = as_of or timezone.localdate()
    takes = not clashes_are_findings and held_pairs.holds_by_reservation(link, today)
    with acts.act(), _turn(link, today, takes=takes):
        return _save_link(link, stations, by, expected_version, reason)


@contextmanager
def _turn(link: Link, today: dt.date, *, takes: bool) -> Iterator[None]:
    """One transaction; where the link takes a pair in it, after all takers before, and refused if it clashes."""
    if not takes:
        with transaction.atomic():
            yield
        return
    with held_pairs.one_at_a_time(), transaction.atomic():
        held_pairs.wait_for_turn()
        before = held_pairs.held_now(link, today)
        yield
        if held_pairs.pair_of(list(Station.objects.filter(link=link))) - before:
            held_pairs.refuse_if_held(link, today)


def _save_link(
    link: Link, stations: Sequence[Station], by: Author, expected_version: int | None, reason: str
) -> Link:
    with transaction.atomic():
        if link._state.adding:
            record.create(link, by=by, reason=reason)
            stored: dict[int, Station] = {}
        else:
            seen = link.version if expected_version is None else expected_version
            record.lock(link, seen)
            record.change(link, by=by, expected_version=seen, reason=reason)
            stored = {s.pk: s for s in Station.objects.filter(link=link)}
            if _save_stations(link, stations, stored, by, reason) and link.version == seen:
                record.touch(link)
            _queue_check(link, by)
            return link
        _save_stations(link, stations, stored, by, reason)
        _queue_check(link, by)
    return link


def _save_stations(
    link: Link, stations: Sequence[Station], stored: dict[int, Station], by: Author, reason: str
) -> bool:
    """Write what differs; True if anything did."""
    if not stations:
        raise ValidationError(
            {"stations": gettext("A link needs its stations: two ends, or a hub and its remotes.")}
        )
    labels = [s.label for s in stations]
    if twice := next((label for label in labels if labels.count(label) > 1), None):
        raise ValidationError(
            {
                "stations": gettext(
                    "Two stations are labelled {label!r}; each label may stand once in a link."
                ).format(label=twice)
            }
        )
    kept = {s.pk for s in stations if not s._state.adding}
    if foreign := kept - stored.keys():
        raise RegisterError(
            gettext("Station {number} does not belong to {link}.").format(
                number=min(foreign), link=link.code
            ),
            field="stations",
        )
    problems: dict[str, list[str]] = {}
    changed = False
    for pk, gone in stored.items():
        if pk not in kept:
            record.remove(gone, by=by, reason=reason)
            changed = True
    for station in stations:
        station.link = link
        try:
            if station._state.adding:
                record.create(station, by=by, reason=reason)
                changed = True
            else:
                before = station.version
                record.change(station, by=by, reason=reason)
                changed = changed or station.version != before
        except ValidationError as error:
            for field, messages in error.message_dict.items():
                problems[f"{station.label}.{field}"] = messages
    if problems:
        raise ValidationError(problems)
    return changed


def set_status(
    link: Link, status: str, *, by: Author, expected_version: int | None = None, reason: str = ""
) -> Link:
    """Move a link to another status, and queue its check. One that is planned again takes its pair anew."""
    if status not in Link.Status.values:
        raise RegisterError(
            gettext("{status!r} is no status of a link; expected one of {names}.").format(
                status=status, names=", ".join(Link.Status.values)
            ),
            field="status",
        )
    today = timezone.localdate()
    link.status = status
    with _turn(link, today, takes=held_pairs.holds_by_reservation(link, today)):
        record.change(link, by=by, expected_version=expected_version, reason=reason)
        _queue_check(link, by)
    return link


def remove_link(link: Link, *, by: Author, reason: str = "") -> None:
    """Remove a link with its stations; the change record keeps what they were."""
    record.remove(link, by=by, reason=reason)


def _queue_check(link: Link, by: Author) -> None:
    jobs.submit("check_link", {"link": link.pk}, by=by.person, same_as=f"check_link:{link.pk}")


@undo.around("spectrum.link")
@contextmanager
def _around_undo(links: Sequence[int], by: Author) -> Iterator[None]:
    """A link that holds a pair again takes it: in turn, and not against what somebody else holds by now."""
    today = timezone.localdate()
    with held_pairs.one_at_a_time():
        held_pairs.wait_for_turn()
        before = {link.pk: held_pairs.held_now(link, today) for link in Link.objects.filter(pk__in=links)}
        yield
        for link in Link.objects.select_related("holder").filter(pk__in=links):
            holds = held_pairs.holds_by_reservation(link, today)
            pair = held_pairs.pair_of(list(link.stations.all())) if holds else held_pairs.NOTHING
            if pair - before.get(link.pk, held_pairs.NOTHING):
                held_pairs.refuse_if_held(link, today)
            _queue_check(link, by)
