"""How a licence stands on a day, and the dates that follow from its authority's policy.

Pure: dates in, dates out. The words and the counting of days are ours (each authority sets its own
periods); dates are calendar days, and the day of expiry is still a day of
validity.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from sites.words import gettext
from sites.words import gettext_noop as _


class Standing(StrEnum):
    """How a licence or a licensed channel stands on a day."""

    APPLIED = "applied"
    NOT_YET_IN_FORCE = "not_yet_in_force"
    IN_FORCE = "in_force"
    RENEWAL_OPEN = "renewal_open"
    FILED = "filed"
    FILING_MISSED = "filing_missed"
    EXPIRED = "expired"
    SURRENDERED = "surrendered"
    CANCELLED = "cancelled"
    LAPSED = "lapsed"
    ENDED = "ended"

    @property
    def words(self) -> str:
        return gettext(WORDS[self])

    @property
    def allows_transmission(self) -> bool:
        """Whether the licence's dates allow transmission on that day."""
        return self in _VALID


class Ending(StrEnum):
    """How a licence or a channel ended before its expiry."""

    SURRENDERED = "surrendered"
    CANCELLED = "cancelled"
    LAPSED = "lapsed"


WORDS = {
    Standing.APPLIED: _("applied for, not granted"),
    Standing.NOT_YET_IN_FORCE: _("granted, not yet in force"),
    Standing.IN_FORCE: _("in force"),
    Standing.RENEWAL_OPEN: _("in force, renewal may be filed"),
    Standing.FILED: _("in force, renewal filed"),
    Standing.FILING_MISSED: _("in force, last filing day passed"),
    Standing.EXPIRED: _("expired"),
    Standing.SURRENDERED: _("surrendered"),
    Standing.CANCELLED: _("cancelled"),
    Standing.LAPSED: _("lapsed for an unpaid fee"),
    Standing.ENDED: _("ended; how is not stated"),
}
_VALID = {Standing.IN_FORCE, Standing.RENEWAL_OPEN, Standing.FILED, Standing.FILING_MISSED}


class Dated(Protocol):
    """The dates of a licence, as the model names them.

    ``in_force_from`` None: applied for and not granted. ``expires_on`` None: no fixed end.
    ``ended_how`` is one of :class:`Ending`, or empty where it is not stated.
    """

    @property
    def in_force_from(self) -> dt.date | None: ...
    @property
    def expires_on(self) -> dt.date | None: ...
    @property
    def renewal_filed_on(self) -> dt.date | None: ...
    @property
    def ended_on(self) -> dt.date | None: ...
    @property
    def ended_how(self) -> str: ...


class Policy(Protocol):
    """An authority's periods in days, as the model names them.

    ``last_filing_days`` is negative where a renewal may still be filed after the expiry.
    """

    @property
    def renewable(self) -> bool: ...
    @property
    def window_opens_days(self) -> int: ...
    @property
    def last_filing_days(self) -> int: ...


@dataclass(frozen=True)
class RenewalDates:
    """The days that matter for a renewal: the first and the last for filing, and the last of validity."""

    window_opens_on: dt.date
    last_filing_on: dt.date
    expires_on: dt.date


def renewal_dates(expires_on: dt.date, policy: Policy) -> RenewalDates:
    """The dates of the renewal of a licence that expires on this day."""
    return RenewalDates(
        window_opens_on=_days_before(expires_on, policy.window_opens_days),
        last_filing_on=_days_before(expires_on, policy.last_filing_days),
        expires_on=expires_on,
    )


def standing(licence: Dated, policy: Policy, on: dt.date) -> Standing:
    """How a licence stands on a day.

    ``ended_on`` and the day after ``expires_on`` are the first days without it.
    """
    dates = renewal_dates(licence.expires_on, policy) if licence.expires_on and policy.renewable else None
    return standing_by_dates(licence, dates, on)


def standing_by_dates(licence: Dated, renewal: RenewalDates | None, on: dt.date) -> Standing:
    """The same where the dates of the renewal are known already; None: it cannot be renewed."""
    if licence.ended_on is not None and licence.ended_on <= on:
        return Standing(licence.ended_how) if licence.ended_how else Standing.ENDED
    if licence.in_force_from is None:
        return Standing.APPLIED
    if on < licence.in_force_from:
        return Standing.NOT_YET_IN_FORCE
    if licence.expires_on is not None and on > licence.expires_on:
        return Standing.EXPIRED
    return _renewal_standing(licence, renewal, on)


def _renewal_standing(licence: Dated, dates: RenewalDates | None, on: dt.date) -> Standing:
    if licence.renewal_filed_on is not None and licence.expires_on and licence.renewal_filed_on <= on:
        return Standing.FILED
    if dates is None:
        return Standing.IN_FORCE
    if on > dates.last_filing_on:
        return Standing.FILING_MISSED
    return Standing.RENEWAL_OPEN if on >= dates.window_opens_on else Standing.IN_FORCE


@dataclass(frozen=True)
class ChannelDates:
    """When a licensed channel is valid: its own dates within its licence's."""

    in_force_from: dt.date | None
    expires_on: dt.date | None
    renewal_filed_on: dt.date | None
    ended_on: dt.date | None
    ended_how: str = ""


def channel_dates(
    licence: Dated,
    *,
    in_force_from: dt.date | None = None,
    expires_on: dt.date | None = None,
    ended_on: dt.date | None = None,
    ended_how: str = "",
) -> ChannelDates:
    """The dates of a channel of a licence: the later beginning and the earlier end of the two.

    A channel of a licence that is not granted is not in force. Feed the result to :func:`standing`
    for the channel's standing. A renewal that was filed for the licence counts for its channels.
    """
    first = licence.in_force_from
    alone = ended_on is not None and (licence.ended_on is None or ended_on < licence.ended_on)
    return ChannelDates(
        in_force_from=max(in_force_from or first, first) if first is not None else None,
        expires_on=_earlier(expires_on, licence.expires_on),
        renewal_filed_on=licence.renewal_filed_on,
        ended_on=_earlier(ended_on, licence.ended_on),
        ended_how=ended_how if alone else licence.ended_how,
    )


def _earlier(one: dt.date | None, other: dt.date | None) -> dt.date | None:
    return min((day for day in (one, other) if day is not None), default=None)


def _days_before(day: dt.date, days: int) -> dt.date:
    """``days`` days earlier (negative: later), held inside the calendar."""
    return dt.date.fromordinal(min(max(1, day.toordinal() - days), dt.date.max.toordinal()))
