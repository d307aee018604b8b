"""Does this change of a link need filing? What its stations are to do against their licensed channels."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils import timezone
from django.utils.translation import gettext

from licences.filing import COMMON_PRACTICE, FilingRule, Reason, Verdict, gravest, judge_change, read_rules
from licences.selectors import policy_of
from spectrum.conflicts.gather import as_drafted
from spectrum.conflicts.licence_checks import NO_LICENCE, transmission_of
from spectrum.conflicts.network import StationRecord
from spectrum.models import Link, Station


@dataclass(frozen=True)
class StationVerdict:
    """What the change of one station needs, and why."""

    station: str
    channel: str
    reasons: list[Reason]

    @property
    def verdict(self) -> Verdict:
        return gravest(reason.verdict for reason in self.reasons)


@dataclass(frozen=True)
class FilingVerdict:
    """What the change of a link needs: the gravest of its stations. Without stations nothing licensed changes."""

    stations: list[StationVerdict]

    @property
    def verdict(self) -> Verdict:
        return gravest(one.verdict for one in self.stations)

    @property
    def needs_word(self) -> bool:
        """Whether somebody has to be told, or to look, before the change is made."""
        return self.verdict is not Verdict.WITHIN

    @property
    def digest(self) -> str:
        """Names this very verdict, so that a person confirms what they saw and nothing else."""
        said = [(one.station, one.channel, [r.sentence for r in one.reasons]) for one in self.stations]
        return hashlib.sha256(repr((self.verdict.value, said)).encode()).hexdigest()[:16]


def needs_filing(link: Link, stations: Sequence[Station], *, as_of: dt.date | None = None) -> FilingVerdict:
    """Judge a change of a link before it is saved. Nothing is written.

    ``stations`` are those of the link as they are to be, stored or not; the stored ones are read
    again and compared with them. Only stations that relied on a licensed channel, or are to rely on
    one, are judged, and only what changes.
    """
    day = as_of or timezone.localdate()
    stored = {} if link.pk is None else {row.pk: row for row in _stored(link)}
    if not link.holder.own or not any(row.licensed_channel_id for row in (*stored.values(), *stations)):
        return FilingVerdict([])
    for station in stations:
        station.link = link
    now = {record.label: record for record in as_drafted(list(stored.values()), day)}
    verdicts = []
    for row, record in zip(stations, as_drafted(stations, day), strict=True):
        before = now.get(stored[row.pk].label) if row.pk in stored else None
        reasons = _reasons(row, before, record, day)
        if reasons:
            name = record.channel.name if record.channel else gettext("no licensed channel")
            verdicts.append(StationVerdict(record.name, name, reasons))
    return FilingVerdict(verdicts)


def _stored(link: Link) -> list[Station]:
    rows = Station.objects.filter(link=link).select_related(
        "link__holder",
        "link__channel_plan",
        "site",
        "antenna_type",
        "licensed_channel__licence__authority__renewal_policy",
        "licensed_channel__licence__holder",
        "licensed_channel__site",
    )
    return list(rows.order_by("label"))


def _reasons(row: Station, before: StationRecord | None, after: StationRecord, day: dt.date) -> list[Reason]:
    relied = before is not None and before.channel is not None
    if after.tx_frequency_hz is None or (after.channel is None and not relied):
        return []
    if after.channel is None:
        sentence = gettext("It would no longer rely on a licensed channel, and transmits.")
        return [Reason("licence", Verdict.NEW_GRANT, sentence, COMMON_PRACTICE)]
    then = transmission_of(before) if before is not None and before.tx_frequency_hz is not None else None
    other = before is None or before.channel is None or before.channel.id != after.channel.id
    reasons = judge_change(
        then, transmission_of(after), after.channel.allowance, rules_of(row), other_channel=other
    )
    state = after.channel.standing(day)
    if reasons and state in NO_LICENCE:
        sentence = gettext("{channel} is {state}.").format(channel=after.channel.name, state=state.words)
        reasons.insert(0, Reason("licence", Verdict.NEW_GRANT, sentence, gettext("the dates of the licence")))
    return reasons


def rules_of(station: Station) -> tuple[FilingRule, ...]:
    """The rules of the authority whose licensed channel a station relies on."""
    channel = station.licensed_channel
    return () if channel is None else read_rules(policy_of(channel.licence.authority).filing_rules)
