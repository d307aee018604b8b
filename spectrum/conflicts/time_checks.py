"""What runs out when: licences of our own, channels that nobody uses, pairs held by planned links."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from sites.sentences import sentence
from sites.words import gettext_noop as _
from sites.words import ngettext_lazy

from .criteria import Criteria
from .drafts import Draft, Parties
from .evidence import LIMIT, MARGIN, TERM, Row
from .kinds import DECIDE, MUST_FIX, NOTE
from .link_checks import own_links
from .network import ChannelRecord, LicenceRecord, LinkRecord, Network

RESERVING = ("planned", "filed")


def reservation_findings(network: Network, criteria: Criteria, *, link_id: int | None = None) -> list[Draft]:
    """Pairs that planned links of ours will not hold for much longer."""
    return [
        draft
        for stations in own_links(network, link_id)
        for draft in _reservation(network.as_of, criteria, stations[0].link)
    ]


def licence_time_findings(network: Network, criteria: Criteria, *, link_id: int | None = None) -> list[Draft]:
    """What our licences need soon, and channels that nobody uses; of stations, those that name one count."""
    drafts: list[Draft] = []
    relied_on = {s.channel.licence.id for s in network.stations if s.channel and s.link.id == link_id}
    used = {s.channel.id for s in network.stations if s.channel is not None}
    on_air = {
        s.channel.licence.id for s in network.stations if s.channel is not None and s.link.status == "on_air"
    }
    for licence in network.licences:
        if not licence.own or (link_id is not None and licence.id not in relied_on):
            continue
        drafts += _licence(network.as_of, criteria, licence, in_use=licence.id in on_air)
    if link_id is None:
        for channel in network.channels:
            drafts += _unused(network.as_of, channel, used)
    return drafts


def _licence(as_of: dt.date, criteria: Criteria, licence: LicenceRecord, *, in_use: bool) -> Iterable[Draft]:
    if licence.granted_on is None or (licence.ended_on is not None and licence.ended_on <= as_of):
        return
    expires = licence.expires_on
    if expires is not None and expires < as_of and licence.continues:
        yield _dated(
            "renewal_undecided",
            DECIDE,
            licence,
            sentence(
                _(
                    "{licence} expired on {day} and stays in force while its renewal, filed on {filed}, is decided"
                ),
                licence=licence.name,
                day=expires,
                filed=licence.renewal_filed_on,
            ),
            _("Keep the proof of the filing with the licence; ask the authority, and enter what it decided."),
            _("Days left"),
            (expires - as_of).days,
        )
    elif expires is not None and expires < as_of:
        yield _dated(
            "licence_expired",
            MUST_FIX if in_use else DECIDE,
            licence,
            sentence(
                _("{licence} expired on {day} and stations on the air rely on it")
                if in_use
                else _("{licence} expired on {day}"),
                licence=licence.name,
                day=expires,
            ),
            _("Stop transmitting and file anew, or record that it was given up."),
            _("Days left"),
            (expires - as_of).days,
        )
    elif (
        licence.renewal_opens_on is not None
        and licence.last_filing_on is not None
        and licence.renewal_filed_on is None
        and licence.let_expire_on is None
        and as_of >= licence.renewal_opens_on
    ):
        late = as_of > licence.last_filing_on
        yield _dated(
            "renewal_due",
            MUST_FIX if late or (licence.last_filing_on - as_of).days <= 30 else DECIDE,
            licence,
            sentence(
                _("{licence}: the last filing day was {day}")
                if late
                else _("{licence}: file the renewal by {day}"),
                licence=licence.name,
                day=licence.last_filing_on,
            ),
            _("File the renewal and enter the filing date."),
            _("Days to the last filing day"),
            (licence.last_filing_on - as_of).days,
        )
    if licence.in_force_from > as_of:
        yield _dated(
            "not_yet_in_force",
            MUST_FIX if in_use else NOTE,
            licence,
            sentence(
                _("{licence} is in force from {day}, but stations on the air rely on it")
                if in_use
                else _("{licence} is in force from {day}"),
                licence=licence.name,
                day=licence.in_force_from,
            ),
            _("Do not transmit before that day."),
            _("Days in force so far"),
            -(licence.in_force_from - as_of).days,
        )
    deadline = licence.bring_into_use_by
    if (
        deadline is not None
        and licence.brought_into_use_on is None
        and (deadline - as_of).days <= criteria.bring_into_use_warning_days
    ):
        yield _dated(
            "bring_into_use_near",
            MUST_FIX if deadline < as_of else DECIDE,
            licence,
            sentence(
                _("{licence} must be brought into use by {day}")
                if deadline >= as_of
                else _("{licence} was to be brought into use by {day}"),
                licence=licence.name,
                day=deadline,
            ),
            _("Bring it into use and enter the date; the proof is kept with the licence."),
            _("Days left"),
            (deadline - as_of).days,
        )

    yield from _notice(as_of, criteria, licence)
    yield from _fee(as_of, criteria, licence)


def _notice(as_of: dt.date, criteria: Criteria, licence: LicenceRecord) -> Iterable[Draft]:
    """Brought into use and not notified: built in time is not enough where the notice comes late."""
    by = licence.use_notice_by
    if by is None or licence.brought_into_use_on is None or licence.use_notified_on is not None:
        return
    days = (by - as_of).days
    if days <= criteria.bring_into_use_warning_days:
        yield _dated(
            "use_notice_due",
            MUST_FIX if days < 0 else DECIDE,
            licence,
            sentence(
                _("{licence} was brought into use on {used}; the notice of it was due on {day}")
                if days < 0
                else _("{licence} was brought into use on {used}; the notice of it is due by {day}"),
                licence=licence.name,
                used=licence.brought_into_use_on,
                day=by,
            ),
            _("Send the notice, and enter its day and the proof."),
            _("Days left"),
            days,
        )


def _fee(as_of: dt.date, criteria: Criteria, licence: LicenceRecord) -> Iterable[Draft]:
    due, expires = licence.fee_due_on, licence.expires_on
    if due is None or (expires is not None and expires < due and not licence.continues):
        return
    days = (due - as_of).days
    if days <= criteria.fee_warning_days:
        said = sentence(
            _("{licence}: the fee was due on {day}") if days < 0 else _("{licence}: the fee is due on {day}"),
            licence=licence.name,
            day=due,
        )
        if licence.fee_lapses_on:
            said = sentence(_("{due}; it may lapse from {day}"), due=said, day=licence.fee_lapses_on)
        yield _dated(
            "fee_due",
            MUST_FIX if days < 0 else DECIDE,
            licence,
            said,
            _("Pay it, and enter the day and the receipt."),
            _("Days left"),
            days,
        )


def _dated(
    kind: str, severity: str, licence: LicenceRecord, headline: str, cure: str, what: str, days: int
) -> Draft:
    return Draft(
        kind=kind,
        severity=severity,
        headline=headline,
        cure=cure,
        margin=float(days),
        margin_unit="days",
        parties=Parties(licence_id=licence.id),
        evidence=_days_left(what, days),
    )


def _days_left(what: str, days: int) -> list[Row]:
    return [
        Row(what, -float(days), "days", _("sign turned: the date less today"), TERM),
        Row(_("Permitted"), 0.0, "days", _("the day itself"), LIMIT),
        Row(_("Margin"), float(days), "days", _("days left; negative when past"), MARGIN),
    ]


def _unused(as_of: dt.date, channel: ChannelRecord, used: set[int]) -> Iterable[Draft]:
    licence = channel.licence
    if not licence.own or channel.id in used:
        return
    idle_days = (as_of - channel.in_force_from).days
    if channel.last_day < as_of or idle_days < licence.unused_after_days:
        return
    said = sentence(
        ngettext_lazy(
            "{channel} has been in force for {count} day and no live link uses it",
            "{channel} has been in force for {count} days and no live link uses it",
        ),
        channel=channel.name,
        count=idle_days,
    )
    if licence.yearly_fee:
        said = sentence(_("{unused}; the licence costs {fee} a year"), unused=said, fee=licence.yearly_fee)
    yield Draft(
        kind="channel_unused",
        severity=NOTE,
        headline=said,
        cure=_("Use it, or surrender it."),
        margin=float(licence.unused_after_days - idle_days),
        margin_unit="days",
        parties=Parties(licence_id=licence.id, licensed_channel_id=channel.id),
        evidence=[
            Row(
                _("Days in force without a user"),
                float(idle_days),
                "days",
                _("dates of the licensed channel"),
                TERM,
            ),
            Row(
                _("Counts as unused after"),
                float(licence.unused_after_days),
                "days",
                _("the authority's renewal policy"),
                LIMIT,
            ),
            Row(
                _("Margin"),
                float(licence.unused_after_days - idle_days),
                "days",
                _("permitted less found"),
                MARGIN,
            ),
        ],
    )


def _reservation(as_of: dt.date, criteria: Criteria, link: LinkRecord) -> Iterable[Draft]:
    if link.status not in RESERVING or link.reserved_until is None:
        return
    days = (link.reserved_until - as_of).days
    if days > criteria.reservation_warning_days:
        return
    yield Draft(
        kind="reservation_lapsing",
        severity=DECIDE,
        headline=sentence(
            _("{link} holds its pair until {day}") if days >= 0 else _("{link} held its pair until {day}"),
            link=link.code,
            day=link.reserved_until,
        ),
        cure=_("File the application, or extend the reservation."),
        margin=float(days),
        margin_unit="days",
        parties=Parties(link_id=link.id),
        evidence=_days_left(_("Days left"), days),
    )
