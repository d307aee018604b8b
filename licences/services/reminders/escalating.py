"""Telling the managers what nobody has acknowledged."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence

from licences.models import Reminder
from licences.selectors import policy_of

from .recipients import People, clock_of
from .wishes import Round, State, Wish, acknowledged_until, key_of, round_of


def add_escalations(wish: Wish, stored: Sequence[Reminder], people: People, now: dt.datetime) -> None:
    """Wish for a reminder to each manager about what was sent long ago and nobody acknowledged.

    The days count from the first mail of the round that stands unanswered; the manager is told of the
    latest step that was sent. Somebody who put it off has seen it: the days begin anew with the next
    mail. A manager who was reminded in the first place is not told again.
    """
    known = acknowledged_until(stored)
    rounds: dict[Round, list[Reminder]] = defaultdict(list)
    for row in stored:
        if round_of(row) in wish.open_rounds and not row.escalated:
            rounds[round_of(row)].append(row)
    for about, rows in rounds.items():
        days = policy_of(wish.open_rounds[about].authority).escalate_after_days
        if days is None or any(row.state == State.SNOOZED for row in rows):
            continue
        seen = max((row.due_on for row in rows if row.rounds), default=dt.date.min)
        unanswered = [
            row
            for row in rows
            if row.state == State.SENT and row.sent_at and row.due_on > known[about] and row.due_on >= seen
        ]
        if not unanswered:
            continue
        since = min(row.sent_at for row in unanswered if row.sent_at)
        latest = max(unanswered, key=lambda row: row.due_on)
        told = {row.recipient_id for row in rows if row.state != State.OVERTAKEN}
        for manager in people.managers:
            if manager.pk in told or not people.wants(manager, latest.topic):
                continue
            ready_on = (clock_of(manager, since) + dt.timedelta(days=days)).date()
            if ready_on > clock_of(manager, now).date():
                continue
            row = Reminder(
                licence=latest.licence,
                recipient=manager,
                step=latest.step,
                days_before=latest.days_before,
                about_on=latest.about_on,
                act_by=latest.act_by,
                due_on=latest.due_on,
                ready_on=ready_on,
                escalated=True,
            )
            wish.waiting[key_of(row)] = row
