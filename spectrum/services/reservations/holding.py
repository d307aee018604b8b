"""Extending and releasing a pair that a planned link holds."""

from __future__ import annotations

import datetime as dt
from typing import Final

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from sites.errors import NotAllowedError, RegisterError
from sites.models import Person
from sites.reading import written_day
from sites.services import record
from sites.services.record import Author
from spectrum.models import Link
from spectrum.services import links

from .applied import filed_application
from .taking import check_last_day

# Whoever may remove links may decide about the reservations of others.
BY_ROLE: Final = "spectrum.delete_link"


def extend(
    link: Link,
    until: dt.date,
    *,
    by: Author,
    expected_version: int | None = None,
    as_of: dt.date | None = None,
) -> Link:
    """Hold a pair that is held until a later (or earlier) day. What has ended must be taken anew."""
    today = as_of or timezone.localdate()
    with transaction.atomic():
        stored = _held(link, by)
        if stored.reserved_until is not None and stored.reserved_until < today:
            raise RegisterError(
                gettext(
                    "The reservation of {link} ended on {reserved_until}, and others may have taken the pair "
                    "since. Take it again."
                ).format(link=stored.code, reserved_until=written_day(stored.reserved_until)),
                field="until",
            )
        check_last_day(until, today)
        before, stored.reserved_until = stored.reserved_until, until
        reason = f"Reservation until {until} instead of {before or 'without an end'}."
        return record.change(stored, by=by, expected_version=expected_version, reason=reason)


def release(link: Link, *, by: Author, reason: str = "", expected_version: int | None = None) -> Link:
    """Give a held pair back: the link lapses, and its check is queued."""
    with transaction.atomic():
        stored = _held(link, by)
        said = reason.strip() or "The pair was released."
        return links.set_status(
            stored, Link.Status.LAPSED, by=by, expected_version=expected_version, reason=said
        )


def give_back(link: Link, *, by: Author, reason: str) -> Link:
    """Let a link lapse whose application came to nothing, whoever it belongs to: recording that decides it."""
    return links.set_status(link, Link.Status.LAPSED, by=by, reason=reason)


def may_decide(link: Link, person: Person) -> bool:
    """Whether a person may extend or release a link's reservation: it is theirs, or their role includes it.

    A link that nobody is responsible for is every planner's.
    """
    if person.has_perm(BY_ROLE):
        return True
    if not person.has_perm("spectrum.add_link"):
        return False
    return link.responsible_id is None or link.responsible_id == person.pk


def _held(link: Link, by: Author) -> Link:
    stored = Link.objects.select_for_update().get(pk=link.pk)
    if stored.status not in Link.RESERVING:
        raise RegisterError(
            gettext("{link} is {status}; it holds no pair by reservation.").format(
                link=stored.code, status=stored.get_status_display()
            ),
            field="status",
        )
    if by.person is not None and not may_decide(stored, by.person):
        raise NotAllowedError(
            gettext(
                "Only the person responsible for the link or an administrator can extend or release its "
                "reservation."
            )
        )
    filed = filed_application(stored)
    if filed is not None:
        raise RegisterError(
            gettext(
                "{link} is filed in application {application}; its pair is held until the authority decides. "
                "Withdraw the application to give the pair back."
            ).format(link=stored.code, application=filed),
            field="status",
        )
    return stored
