"""Which day is asked for, and which day the register is being shown on."""

from __future__ import annotations

import datetime as dt
from contextvars import ContextVar
from typing import Final

from django.utils.translation import gettext

from sites.reading import day_here, written_day

PARAMETER: Final = "as_of"
FIRST_DAY: Final = dt.date(1900, 1, 1)
LAST_DAY: Final = dt.date(2200, 12, 31)
_shown: ContextVar[dt.date | None] = ContextVar("day_shown", default=None)


def day_shown() -> dt.date | None:
    """The day on which the register is being shown; None: as it stands."""
    return _shown.get()


def day_or_today() -> dt.date:
    """The day on which the register is being shown, by which standings are told: that asked for, or the reader's today."""
    return _shown.get() or day_here()


def read_day(text: str) -> dt.date:
    """A day as it is typed. ValueError, with a sentence, for what is none."""
    try:
        day = dt.date.fromisoformat(text.strip())
    except ValueError:
        raise ValueError(
            gettext(
                "“{typed}” was given as a day; year, month and day were expected, for example 2026-03-01."
            ).format(typed=text.strip()[:40])
        ) from None
    if not FIRST_DAY <= day <= LAST_DAY:
        raise ValueError(
            gettext("{day} was given as a day; one from {first} to {last} was expected.").format(
                day=written_day(day), first=written_day(FIRST_DAY), last=written_day(LAST_DAY)
            )
        )
    return day


def end_of(day: dt.date) -> dt.datetime:
    """The moment at which a day has ended (UTC)."""
    return dt.datetime.combine(day + dt.timedelta(days=1), dt.time(), dt.UTC)
