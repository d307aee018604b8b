"""What a reminder says on a day, in words. The words follow the dates, not how late the mail is."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext, ngettext

from licences.life import Topic
from licences.life.days import lapses_on, renewal_of
from licences.models import Licence, Reminder
from licences.selectors import terms_of
from licences.standing import continues
from sites.reading import written_day
from sites.templatetags.figures import fixed

from .signed import Purpose, address, link


@dataclass(frozen=True)
class Line:
    """One reminder in a mail. ``by`` is the day that counts: to act by, or on which it expired.

    ``expired``: nothing may be transmitted under it; ``undecided``: it has expired, and continues in force
    until its renewal is decided.
    """

    licence: str
    holder: str
    topic: Topic
    expired: bool
    undecided: bool
    by: dt.date
    what: str
    told: str
    address: str
    acknowledge: str
    put_off: str


def line_of(reminder: Reminder, today: dt.date) -> Line:
    """What a reminder says on a day."""
    licence = reminder.licence
    by, what = said(reminder, today)
    past = reminder.topic is Topic.RENEWAL and today > reminder.about_on
    undecided = past and _goes_on(reminder)
    return Line(
        licence=str(licence),
        holder=licence.holder.name,
        topic=reminder.topic,
        expired=past and not undecided,
        undecided=undecided,
        by=by,
        what=what,
        told=_told(reminder),
        address=address(reverse("licence", args=[licence.pk])),
        acknowledge=link(Purpose.ACKNOWLEDGE, reminder, today),
        put_off=link(Purpose.PUT_OFF, reminder, today),
    )


def said(reminder: Reminder, today: dt.date) -> tuple[dt.date, str]:
    """The day that counts, and the sentences."""
    if reminder.topic is Topic.RENEWAL:
        return _renewal(reminder, today)
    return reminder.about_on, _OTHERS[reminder.topic](reminder.licence, reminder.about_on, today)


def _renewal(reminder: Reminder, today: dt.date) -> tuple[dt.date, str]:
    licence, expires_on = reminder.licence, reminder.about_on
    expiry = written_day(expires_on)
    if today > expires_on:
        return expires_on, _past_expiry(reminder)
    dates = renewal_of(licence.life, terms_of(licence))
    if dates is None:
        what = gettext(
            "It expires on {day} ({when}) and cannot be renewed: its terms say so. If it is still needed, "
            "apply anew."
        ).format(day=expiry, when=days_left(expires_on, today))
        return expires_on, what
    by = dates.last_filing_on
    if today > by:
        what = gettext(
            "The last filing day was {by} and no filing is entered; it expires on {expiry}. "
            "Ask the authority what can still be done."
        )
    elif today < dates.window_opens_on:
        what = gettext("The renewal may be filed from {opens} to {by}; it expires on {expiry}.")
    else:
        what = gettext("File the renewal by {by} ({when}); it expires on {expiry}.")
    said = what.format(
        by=written_day(by),
        when=days_left(by, today),
        opens=written_day(dates.window_opens_on),
        expiry=expiry,
    )
    return by, said


def _past_expiry(reminder: Reminder) -> str:
    licence, filed = reminder.licence, reminder.licence.renewal_filed_on
    if filed is None or licence.expires_on != reminder.about_on:
        what = gettext(
            "It expired on {day}. Nothing may be transmitted under it. If it was renewed, enter the new "
            "expiry; if it was given up, enter that; else file anew."
        )
        return what.format(day=written_day(reminder.about_on))
    if _goes_on(reminder):
        what = gettext(
            "It expired on {day} and its renewal, filed on {filed}, is not decided. By its authority's rule it "
            "stays in force until then. Keep the proof of the filing with it, ask the authority how it stands, "
            "and enter its decision."
        )
    else:
        what = gettext(
            "It expired on {day} and its renewal, filed on {filed}, is not decided. Nothing may be transmitted "
            "under it before the renewal. Ask the authority how it stands, and enter its decision."
        )
    return what.format(day=written_day(reminder.about_on), filed=written_day(filed))


def _goes_on(reminder: Reminder) -> bool:
    """Whether its licence continues beyond the expiry that the reminder is about."""
    life = reminder.licence.life
    return life.expires_on == reminder.about_on and continues(
        life, renewal_of(life, terms_of(reminder.licence))
    )


def _use(_licence: Licence, by: dt.date, today: dt.date) -> str:
    if today > by:
        what = gettext(
            "It was to be brought into use by {by} and no such day is entered. If it was, enter the day; "
            "if not, ask the authority what can still be done."
        )
    else:
        what = gettext("Bring it into use by {by} ({when}), and enter the day.")
    return what.format(by=written_day(by), when=days_left(by, today))


def _notice(_licence: Licence, by: dt.date, today: dt.date) -> str:
    if today > by:
        what = gettext(
            "The notice of the bringing into use was due by {by} and none is entered. Send it, and enter the day."
        )
    else:
        what = gettext("Send the authority the notice of the bringing into use by {by} ({when}).")
    return what.format(by=written_day(by), when=days_left(by, today))


def _fee(licence: Licence, by: dt.date, today: dt.date) -> str:
    amount = f"{fixed(licence.yearly_fee, 2)} {licence.fee_currency}".rstrip() if licence.yearly_fee else ""
    if today > by and amount:
        what = gettext("The fee of {amount} was due on {by} and no payment is entered.")
    elif today > by:
        what = gettext("The fee was due on {by} and no payment is entered.")
    elif amount:
        what = gettext("Pay the fee of {amount} by {by} ({when}), and enter the payment.")
    else:
        what = gettext("Pay the fee by {by} ({when}), and enter the payment.")
    said = what.format(amount=amount, by=written_day(by), when=days_left(by, today))
    lapses = lapses_on(licence.life, terms_of(licence))
    if today > by and lapses:
        then = gettext("The authority may let the licence lapse from {day}.")
        said = f"{said} {then.format(day=written_day(lapses))}"
    return said


_OTHERS = {Topic.USE: _use, Topic.NOTICE: _notice, Topic.FEE: _fee}


def _told(reminder: Reminder) -> str:
    if not reminder.escalated:
        return ""
    responsible = reminder.licence.responsible
    if responsible is None:
        return gettext(
            "Nobody is responsible for it and nobody has acknowledged the reminder. As a manager you are told now."
        )
    return gettext(
        "{person} is responsible for it and nobody has acknowledged the reminder. As a manager you are told now."
    ).format(person=responsible)


def days_left(by: dt.date, today: dt.date) -> str:
    days = (by - today).days
    if days in (0, 1):
        return gettext("tomorrow") if days else gettext("today")
    return ngettext("in {days} day", "in {days} days", days).format(days=days)
