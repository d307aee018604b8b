"""Drawing up an application: which links are filed together."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence

from django.db import transaction
from django.utils.translation import gettext

from licences.applying import State
from licences.models import Application
from sites.errors import RegisterError
from sites.services import record
from sites.services.record import Author
from spectrum.filing.sheet import to_be_filed
from spectrum.models import ApplicationLink, Link

from .state import DecidedError, held, open_application_of

#: Links that can be filed: those that hold a pair and are not granted, and those on the air without a licence.
FILEABLE = (Link.Status.PLANNED, Link.Status.FILED, Link.Status.ON_AIR)
MOST_LINKS = 200


def next_number(year: int) -> str:
    """The next number of ours in a year that nobody has used: A-2026-001, A-2026-002 …"""
    taken = Application.objects.filter(number__startswith=f"A-{year}-").values_list("number", flat=True)
    used = [int(found[1]) for number in taken if (found := re.fullmatch(rf"A-{year}-(\d{{1,6}})", number))]
    return f"A-{year}-{max(used, default=0) + 1:03d}"


def draw_up(
    application: Application, links: Sequence[Link], *, by: Author, today: dt.date, reason: str = ""
) -> Application:
    """Enter a new application for some links, all or nothing. Raises ValidationError, RegisterError."""
    with transaction.atomic():
        application.state, application.drawn_up_by = State.DRAFTING.value, by.person
        record.create(application, by=by, reason=reason)
        _add(application, links, by, today)
    return application


def change(
    application: Application, *, by: Author, expected_version: int | None = None, reason: str = ""
) -> Application:
    """Change what an application says of itself, while it is being drawn up."""
    with transaction.atomic():
        _drafting(held(application))
        return record.change(application, by=by, expected_version=expected_version, reason=reason)


def add_links(application: Application, links: Sequence[Link], *, by: Author, today: dt.date) -> Application:
    """Add links to an application that is being drawn up, all or nothing."""
    with transaction.atomic():
        stored = _drafting(held(application))
        _add(stored, links, by, today)
        record.touch(stored)
    return stored


def take_out(application: Application, link: Link, *, by: Author) -> Application:
    """Take a link out of an application that is being drawn up; the link itself stays as it is."""
    with transaction.atomic():
        stored = _drafting(held(application))
        row = ApplicationLink.objects.filter(application=stored, link=link).first()
        if row is None:
            raise RegisterError(
                gettext("{link} is not in application {application}.").format(
                    link=link.code, application=stored
                ),
                field="links",
            )
        record.remove(row, by=by)
        record.touch(stored)
    return stored


def _drafting(stored: Application) -> Application:
    if stored.state != State.DRAFTING:
        raise DecidedError(
            gettext(
                "Application {application} is {state}; only one that is being drawn up can be changed."
            ).format(application=stored, state=State(stored.state).words),
            field="state",
        )
    return stored


def _add(application: Application, links: Sequence[Link], by: Author, today: dt.date) -> None:
    if application.links.count() + len(links) > MOST_LINKS:
        raise RegisterError(
            gettext("An application takes {most} links at most; draw up another.").format(most=MOST_LINKS),
            field="links",
        )
    # Whoever adds a link holds its row, so that it cannot come into two applications at once.
    rows = {
        row.pk: row
        for row in Link.objects.select_for_update(of=("self",))
        .select_related("holder", "channel_plan")
        .filter(pk__in=[link.pk for link in links])
        .order_by("pk")
    }
    for link in links:
        stored = rows.get(link.pk)
        if stored is None:
            raise RegisterError(
                gettext("{link} is no longer in the register.").format(link=link.code), field="links"
            )
        _may_be_filed(application, stored, today)
        record.create(ApplicationLink(application=application, link=stored), by=by)


def _may_be_filed(application: Application, link: Link, today: dt.date) -> None:
    if link.status not in FILEABLE:
        sentence = (
            gettext(
                "{link} is {status}; a planned link can be filed, or one on the air without a licence. "
                "Take its pair again first."
            )
            if link.status == Link.Status.LAPSED
            else gettext(
                "{link} is {status}; a planned link can be filed, or one on the air without a licence."
            )
        )
        raise RegisterError(
            sentence.format(link=link.code, status=link.get_status_display()),
            field="links",
        )
    if link.holder_id != application.holder_id:
        raise RegisterError(
            gettext("{link} is a link of {holder}, the application is one of {its_holder}.").format(
                link=link.code, holder=link.holder, its_holder=application.holder
            ),
            field="links",
        )
    other = open_application_of(link)
    if other is not None:
        raise RegisterError(
            gettext("{link} is in application {other} already, which is {state}.").format(
                link=link.code, other=other, state=State(other.state).words
            ),
            field="links",
        )
    if not to_be_filed(link, today):
        raise RegisterError(
            gettext(
                "Every transmitting station of {link} has a licensed channel; there is nothing to apply for."
            ).format(link=link.code),
            field="links",
        )
