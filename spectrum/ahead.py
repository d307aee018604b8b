"""What links become by their own dates on a day to come, if nothing else is entered."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from django.db.models import Q

from spectrum.models import Link


def status_on(
    status: str,
    starts_on: dt.date | None,
    ends_on: dt.date | None,
    reserved_until: dt.date | None,
    day: dt.date,
) -> str:
    """The status of a link on a day, by its status and dates today.

    A reservation lapses after its last day; what is granted is on the air from its first day; what is on the
    air or granted is retired after its last. A link that is planned or filed is not on the air by the calendar
    alone, whatever day was planned: it waits for its licence.
    """
    if status in Link.RESERVING and reserved_until is not None and reserved_until < day:
        return Link.Status.LAPSED
    if status in (Link.Status.GRANTED, Link.Status.ON_AIR) and ends_on is not None and ends_on < day:
        return Link.Status.RETIRED
    if status == Link.Status.GRANTED and starts_on is not None and starts_on <= day:
        return Link.Status.ON_AIR
    return status


def links_becoming(day: dt.date) -> Iterator[Link]:
    """The links whose status will differ on a coming day, as they will be; nothing is saved."""
    lapsing = Q(status__in=Link.RESERVING, reserved_until__lt=day)
    ending = Q(status__in=(Link.Status.GRANTED, Link.Status.ON_AIR), ends_on__lt=day)
    starting = Q(status=Link.Status.GRANTED, starts_on__lte=day)
    for link in Link.objects.filter(lapsing | ending | starting).order_by("id"):
        link.status = status_on(link.status, link.starts_on, link.ends_on, link.reserved_until, day)
        yield link
