"""An application that comes to nothing: refused by the authority or withdrawn by us. Its pairs are given back."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext

from licences.applying import Act
from licences.models import Application
from sites.errors import RegisterError
from sites.reading import neutral, written_day
from sites.services import record
from sites.services.record import Author
from spectrum.models import Link
from spectrum.services import reservations

from .state import held, rows_of, step


def refuse(
    application: Application,
    *,
    by: Author,
    on: dt.date,
    today: dt.date,
    remarks: str = "",
    expected_version: int | None = None,
) -> Application:
    """Record that the authority refused on a day; the links lapse and their pairs are free for others."""
    return _end(application, Act.REFUSE, by, on, today, remarks, expected_version)


def withdraw(
    application: Application,
    *,
    by: Author,
    on: dt.date,
    today: dt.date,
    remarks: str = "",
    expected_version: int | None = None,
) -> Application:
    """Record that we withdrew it on a day; the links lapse and their pairs are free for others."""
    return _end(application, Act.WITHDRAW, by, on, today, remarks, expected_version)


def check_decided_on(application: Application, on: dt.date, today: dt.date, *, field: str) -> None:
    """A decision falls between the day of filing and today. Raises RegisterError."""
    first = application.filed_on or on
    if not first <= on <= today:
        raise RegisterError(
            gettext(
                "{on} was given; the decision falls between the day of filing, {first}, and today, {today}."
            ).format(on=written_day(on), first=written_day(first), today=written_day(today)),
            field=field,
        )


def _end(
    application: Application,
    act: Act,
    by: Author,
    on: dt.date,
    today: dt.date,
    remarks: str,
    expected_version: int | None,
) -> Application:
    with transaction.atomic():
        stored = held(application)
        state = step(stored, act)
        stored = held(stored, expected_version=expected_version)
        check_decided_on(stored, on, today, field="decided_on")
        stored.state, stored.decided_on, stored.decision_remarks = state.value, on, remarks.strip()
        record.change(stored, by=by, reason=remarks)
        with neutral():  # what is recorded does not depend on who reads
            reason = f"Application {stored} was {state.words}."
        for row in rows_of(stored):
            if row.link.status in Link.RESERVING:
                reservations.give_back(row.link, by=by, reason=reason)
        return stored
