"""The days that follow from a licence's dates and its authority's terms."""

from __future__ import annotations

import calendar
import datetime as dt
from dataclasses import dataclass

from licences.standing import RenewalDates, continues, renewal_dates
from sites.words import gettext

from .records import Life, Terms


def months_after(day: dt.date, months: int) -> dt.date:
    """The same day of the month so many months later; the month's last day where it is shorter.

    >>> months_after(dt.date(2024, 2, 29), 12)
    datetime.date(2025, 2, 28)
    """
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    if not dt.MINYEAR <= year <= dt.MAXYEAR:
        return dt.date.max if months > 0 else dt.date.min
    return dt.date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def days_after(day: dt.date, days: int) -> dt.date:
    """So many days later, held inside the calendar."""
    return dt.date.fromordinal(min(max(1, day.toordinal() + days), dt.date.max.toordinal()))


def renewal_of(life: Life, terms: Terms) -> RenewalDates | None:
    """The dates of the renewal; None where there is no expiry or no renewal."""
    if life.expires_on is None or not terms.renewable:
        return None
    return renewal_dates(life.expires_on, terms)


def runs_out_before_fee(life: Life, terms: Terms) -> bool:
    """Whether it will have run out when the next fee is due, so that none is asked."""
    if life.fee_due_on is None or life.expires_on is None or life.fee_due_on <= life.expires_on:
        return False
    return not continues(life, renewal_of(life, terms))


def lapses_on(life: Life, terms: Terms) -> dt.date | None:
    """The first day on which the authority may let the licence lapse for the fee that is due next."""
    return days_after(life.fee_due_on, terms.fee_grace_days + 1) if life.fee_due_on else None


@dataclass(frozen=True)
class ComingDay:
    """A day on which something has to be done or ends. ``kind`` names it for the machine, ``what`` in words."""

    kind: str
    what: str
    on: dt.date


def coming_days(life: Life, terms: Terms) -> list[ComingDay]:
    """The days that still ask for something, in order; none for what is done and none after an end.

    These are the days to be reminded of. Whether a day is past is for the caller to see.
    """
    days: list[ComingDay] = []

    def add(kind: str, what: str, on: dt.date | None) -> None:
        if on is not None and (life.ended_on is None or on < life.ended_on):
            days.append(ComingDay(kind, what, on))

    if life.granted_on is None:
        return days
    if life.brought_into_use_on is None:
        add("bring_into_use", gettext("bring into use by"), life.bring_into_use_by)
    if life.use_notified_on is None:
        add("use_notice", gettext("notice of use by"), life.use_notice_by)
    renewal = renewal_of(life, terms)
    goes_on = continues(life, renewal)
    if life.fee_due_on and not runs_out_before_fee(life, terms):
        add("fee", gettext("fee due"), life.fee_due_on)
    if renewal is not None and life.renewal_filed_on is None and life.let_expire_on is None:
        add("window_opens", gettext("renewal window opens"), renewal.window_opens_on)
        add("last_filing", gettext("last filing day"), renewal.last_filing_on)
    what = gettext("expires; stays in force until the renewal is decided") if goes_on else gettext("expires")
    add("expires", what, life.expires_on)
    return sorted(days, key=lambda day: day.on)
