"""What a reminder says on a day, in words. The words follow the dates, not how late the mail is."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.urls import reverse

from licences.life import Topic
from licences.life.days import lapses_on, renewal_of
from licences.models import Licence, Reminder
from licences.selectors import terms_of

from .signed import Purpose, address, link


@dataclass(frozen=True)
class Line:
    """One reminder in a mail. ``by`` is the day that counts: to act by, or on which it expired."""

    licence: str
    holder: str
    topic: Topic
    expired: bool
    by: dt.date
    what: str
    told: str
    address: str
    acknowledge: str
    put_off: str


def line_of(reminder: Reminder, today: dt.date) -> Line:
    """What a reminder says on a day."""
    licence = reminder.licence
    expired, by, what = said(reminder, today)
    return Line(
        licence=str(licence),
        holder=licence.holder.name,
        topic=reminder.topic,
        expired=expired,
        by=by,
        what=what,
        told=_told(reminder),
        address=address(reverse("licence", args=[licence.pk])),
        acknowledge=link(Purpose.ACKNOWLEDGE, reminder, today),
        put_off=link(Purpose.PUT_OFF, reminder, today),
    )


def said(reminder: Reminder, today: dt.date) -> tuple[bool, dt.date, str]:
    """Whether the licence has expired, the day that counts, and the sentences."""
    if reminder.topic is Topic.RENEWAL:
        return _renewal(reminder, today)
    return False, reminder.about_on, _OTHERS[reminder.topic](reminder.licence, reminder.about_on, today)


def _renewal(reminder: Reminder, today: dt.date) -> tuple[bool, dt.date, str]:
    licence, expires_on = reminder.licence, reminder.about_on
    if today > expires_on:
        return (
            True,
            expires_on,
            f"It expired on {expires_on}. Nothing may be transmitted under it. If it was renewed, enter the new "
            "expiry; if it was given up, enter that; else file anew.",
        )
    dates = renewal_of(licence.life, terms_of(licence))
    if dates is None:
        what = f"It expires on {expires_on} ({days_left(expires_on, today)}) and cannot be renewed: its terms say so."
        return False, expires_on, f"{what} If it is still needed, apply anew."
    by = dates.last_filing_on
    if today > by:
        what = (
            f"The last filing day was {by} and no filing is entered; it expires on {expires_on}. "
            "Ask the authority what can still be done."
        )
    elif today < dates.window_opens_on:
        what = f"The renewal may be filed from {dates.window_opens_on} to {by}; it expires on {expires_on}."
    else:
        what = f"File the renewal by {by} ({days_left(by, today)}); it expires on {expires_on}."
    return False, by, what


def _use(_licence: Licence, by: dt.date, today: dt.date) -> str:
    if today > by:
        return (
            f"It was to be brought into use by {by} and no such day is entered. If it was, enter the day; "
            "if not, ask the authority what can still be done."
        )
    return f"Bring it into use by {by} ({days_left(by, today)}), and enter the day."


def _notice(_licence: Licence, by: dt.date, today: dt.date) -> str:
    if today > by:
        return f"The notice of the bringing into use was due by {by} and none is entered. Send it, and enter the day."
    return f"Send the authority the notice of the bringing into use by {by} ({days_left(by, today)})."


def _fee(licence: Licence, by: dt.date, today: dt.date) -> str:
    fee = f" of {licence.yearly_fee} {licence.fee_currency}".rstrip() if licence.yearly_fee else ""
    lapses = lapses_on(licence.life, terms_of(licence))
    if today > by:
        then = f" The authority may let the licence lapse from {lapses}." if lapses else ""
        return f"The fee{fee} was due on {by} and no payment is entered.{then}"
    return f"Pay the fee{fee} by {by} ({days_left(by, today)}), and enter the payment."


_OTHERS = {Topic.USE: _use, Topic.NOTICE: _notice, Topic.FEE: _fee}


def _told(reminder: Reminder) -> str:
    if not reminder.escalated:
        return ""
    responsible = reminder.licence.responsible
    who = f"{responsible} is responsible for it" if responsible else "Nobody is responsible for it"
    return f"{who} and nobody has acknowledged the reminder. As a manager you are told now."


def days_left(by: dt.date, today: dt.date) -> str:
    days = (by - today).days
    return {0: "today", 1: "tomorrow"}.get(days, f"in {days} days")
