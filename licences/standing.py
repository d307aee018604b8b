"""How a licence stands on a day, and the dates that follow from its authority's policy.

Pure: dates in, dates out. The words and the counting of days are ours (each authority sets its own
periods); dates are calendar days, and the day of expiry is still a day of
validity.

Whether a licence ends on its day while its renewal is not decided is the authority's rule too. 47 CFR
1.62(a)(1), for one, lets it continue in effect where a proper and timely renewal was pending when it
expired, until the final determination; 5 U.S.C. 558(c) says so of licences in general (the first read in a
stored copy of the 2017 edition, the second from memory). Elsewhere it ends on its day.
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
    CONTINUES = "continues"
    EXPIRED = "expired"
    SURRENDERED = "surrendered"
    CANCELLED = "cancelled"
    LAPSED = "lapsed"
    REFUSED = "refused"
    ENDED = "ended"

    @property
    def words(self) -> str:
        return gettext(WORDS[self])

    @property
    def allows_transmission(self) -> bool:
        """Whether the licence's dates allow transmission on that day."""
        return self in _VALID


class Ending(StrEnum):
    """How a licence or a channel ended otherwise than on its day of expiry."""

    SURRENDERED = "surrendered"
    CANCELLED = "cancelled"
    LAPSED = "lapsed"
    REFUSED = "refused"


WORDS = {
    Standing.APPLIED: _("applied for, not granted"),
    Standing.NOT_YET_IN_FORCE: _("granted, not yet in force"),
    Standing.IN_FORCE: _("in force"),
    Standing.RENEWAL_OPEN: _("in force, renewal may be filed"),
    Standing.FILED: _("in force, renewal filed"),
    Standing.FILING_MISSED: _("in force, last filing day passed"),
    Standing.CONTINUES: _("in force beyond its expiry while the renewal is decided"),
    Standing.EXPIRED: _("expired"),
    Standing.SURRENDERED: _("surrendered"),
    Standing.CANCELLED: _("cancelled"),
    Standing.LAPSED: _("lapsed for an unpaid fee"),
    Standing.REFUSED: _("ended by the refusal of its renewal"),
    Standing.ENDED: _("ended; how is not stated"),
}
_VALID = {
    Standing.IN_FORCE,
    Standing.RENEWAL_OPEN,
    Standing.FILED,
    Standing.FILING_MISSED,
    Standing.CONTINUES,
}


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
    ``continues_while_undecided``: what was filed in time keeps the licence in force until it is decided.
    """

    @property
    def renewable(self) -> bool: ...
    @property
    def window_opens_days(self) -> int: ...
    @property
    def last_filing_days(self) -> int: ...
    @property
    def continues_while_undecided(self) -> bool: ...


@dataclass(frozen=True)
class RenewalDates:
    """The days that matter for a renewal: the first and the last for filing, and the last of validity.

    ``continues``: the authority lets a licence continue beyond that day while what was filed is undecided.
    """

    window_opens_on: dt.date
    last_filing_on: dt.date
    expires_on: dt.date
    continues: bool = False


def renewal_dates(expires_on: dt.date, policy: Policy) -> RenewalDates:
    """The dates of the renewal of a licence that expires on this day."""
    return RenewalDates(
        window_opens_on=_days_before(expires_on, policy.window_opens_days),
        last_filing_on=_days_before(expires_on, policy.last_filing_days),
        expires_on=expires_on,
        continues=policy.continues_while_undecided,
    )


def continues(licence: Dated, renewal: RenewalDates | None) -> bool:
    """Whether it stays in force after ``expires_on`` until its renewal is decided.

    The renewal must have been filed by the last filing day and while the licence was in force: what has
    run out does not come back by a filing. A channel with an earlier end of its own ends on its day.
    """
    filed, expires_on = licence.renewal_filed_on, licence.expires_on
    if renewal is None or not renewal.continues or filed is None or expires_on is None:
        return False
    alone = isinstance(licence, ChannelDates) and licence.ends_alone
    return not alone and filed <= min(renewal.last_filing_on, expires_on)


def standing(licence: Dated, policy: Policy, on: dt.date) -> Standing:
    """How a licence stands on a day.

    ``ended_on`` is the first day without it, and so is the day after ``expires_on`` unless it
    :func:`continues`.
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
        return Standing.CONTINUES if continues(licence, renewal) else Standing.EXPIRED
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
    """When a licensed channel is valid: its own dates within its licence's.

    ``ends_alone``: its last day is its own and earlier than its licence's, so that no renewal moves it.
    """

    in_force_from: dt.date | None
    expires_on: dt.date | None
    renewal_filed_on: dt.date | None
    ended_on: dt.date | None
    ended_how: str = ""
    ends_alone: bool = False


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
        ends_alone=runs_out_before(expires_on, licence.expires_on),
    )


def runs_out_before(own: dt.date | None, licence: dt.date | None) -> bool:
    """Whether a channel's own last day is earlier than its licence's; None: no day of its own, no fixed end."""
    return own is not None and (licence is None or own < licence)


def _earlier(one: dt.date | None, other: dt.date | None) -> dt.date | None:
    return min((day for day in (one, other) if day is not None), default=None)


def _days_before(day: dt.date, days: int) -> dt.date:
    """``days`` days earlier (negative: later), held inside the calendar."""
    return dt.date.fromordinal(min(max(1, day.toordinal() - days), dt.date.max.toordinal()))
