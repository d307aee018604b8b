"""What is licensed, to whom, until when: reads, each with the rows it needs fetched at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from django.db.models import F, Q, QuerySet
from django.utils.translation import gettext

from licences.areas import AreaError, covers
from licences.life import ComingDay, Entered, Life, Step, Terms, as_of, coming_days
from licences.life.days import renewal_of
from licences.life.history import read
from licences.life.records import FIELDS
from licences.models import (
    Authority,
    Holder,
    Licence,
    LicenceEvent,
    LicensedChannel,
    Reminder,
    RenewalPolicy,
)
from licences.standing import Ending, Standing, continues, standing
from sites.models import Person, Site


def all_authorities() -> QuerySet[Authority]:
    """Every authority, by code."""
    return Authority.objects.order_by("code", "id")


def all_renewal_policies() -> QuerySet[RenewalPolicy]:
    """Every authority's renewal policy."""
    return RenewalPolicy.objects.select_related("authority").order_by("authority__code", "id")


def all_holders() -> QuerySet[Holder]:
    """Every holder, our own and others, by name."""
    return Holder.objects.order_by("name", "id")


def all_licences() -> QuerySet[Licence]:
    """Every licence with its authority, holder and the person responsible."""
    return Licence.objects.select_related("authority", "holder", "responsible").order_by(
        "authority__code", "number", "id"
    )


#: The order of licences on a page of something else: what expires first, and last what never does.
EXPIRING_FIRST: Final = (F("expires_on").asc(nulls_last=True), "number")


def in_force_on(licences: QuerySet[Licence], day: dt.date) -> QuerySet[Licence]:
    """Those of some licences whose dates allowed transmission on a day (licences.standing says why)."""
    runs = Q(expires_on__isnull=True) | Q(expires_on__gte=day) | _continuing(before=day)
    allowed = Q(in_force_from__lte=day) & runs
    allowed &= Q(ended_on__isnull=True) | Q(ended_on__gt=day)
    return licences.filter(_as_it_stood(allowed, day, lambda it: it.allows_transmission))


def all_licensed_channels() -> QuerySet[LicensedChannel]:
    """Every licensed channel with its licence and site."""
    return LicensedChannel.objects.select_related("licence__authority", "licence__holder", "site").order_by(
        "licence__authority__code", "licence__number", "label", "id"
    )


def licences_covering(site: Site, on: dt.date) -> QuerySet[Licence]:
    """Licences not ended by a day that have a channel at a site, or one whose area holds it."""
    there = channels_covering(site).order_by().values("licence")
    return all_licences().filter(Q(ended_on__isnull=True) | Q(ended_on__gt=on), pk__in=there)


def channels_covering(site: Site) -> QuerySet[LicensedChannel]:
    """Licensed channels at a site, and those whose area holds it, with their licences.

    Every licensed area is read: of an area that cannot be read nothing is said.
    """
    areas = LicensedChannel.objects.filter(area__isnull=False).values_list("id", "area")
    inside = [number for number, area in areas if _holds(area, site)]
    return all_licensed_channels().filter(Q(site=site) | Q(pk__in=inside))


def _holds(area: Any, site: Site) -> bool:
    try:
        return covers(area, site.latitude_deg, site.longitude_deg)
    except AreaError:
        return False


def channels_of(licence: Licence) -> QuerySet[LicensedChannel]:
    """The channels of one licence, by label."""
    return all_licensed_channels().filter(licence=licence)


_NOT_OVER = (Reminder.State.WAITING, Reminder.State.SENDING, Reminder.State.SENT)
#: How a reminder stands for people, whatever its state in the mail.
REMINDER_STANDS: Final = {
    "open": Q(state__in=_NOT_OVER, acknowledged_at=None),
    "acknowledged": Q(acknowledged_at__isnull=False),
    "put_off": Q(state=Reminder.State.SNOOZED),
    "over": Q(state=Reminder.State.OVERTAKEN, acknowledged_at=None),
}


def all_reminders() -> QuerySet[Reminder]:
    """Every reminder, sent and to be sent, with its licence, its recipient and who acknowledged it."""
    return Reminder.objects.select_related("licence__authority", "recipient", "acknowledged_by").order_by(
        "due_on", "id"
    )


def unanswered(person: Person) -> QuerySet[Reminder]:
    """What a person was reminded of and has neither acknowledged nor put off, the most pressing first."""
    sent = all_reminders().filter(recipient=person, state=Reminder.State.SENT, acknowledged_at=None)
    return sent.order_by("act_by", "id")


def policy_of(authority: Authority) -> RenewalPolicy:
    """The authority's renewal policy, or the usual periods where none was entered."""
    policy: RenewalPolicy | None = getattr(authority, "renewal_policy", None)
    return policy if policy is not None else RenewalPolicy(authority=authority)


def terms_of(licence: Licence) -> Terms:
    """What its authority sets for a licence, with what the licence itself says about its renewal."""
    terms = policy_of(licence.authority).terms
    if licence.renewal == Licence.Renewal.NOT_RENEWABLE:
        terms = replace(terms, renewable=False)
    if licence.while_undecided != Licence.WhileUndecided.AS_AUTHORITY:
        goes_on = licence.while_undecided == Licence.WhileUndecided.CONTINUES
        terms = replace(terms, continues_while_undecided=goes_on)
    if licence.renewal_conditions:
        terms = replace(terms, conditions=licence.renewal_conditions)
    return terms


def events_of(licence: Licence) -> QuerySet[LicenceEvent]:
    """The steps of a licence and of its channels, the newest entry first."""
    return licence.events.select_related("channel__licence__authority").order_by("-on", "-id")


Later = Mapping[int, Sequence[Entered]]


def later_steps(day: dt.date) -> Later:
    """The steps of whole licences that came after a day, by the licence's id, in the order of entry."""
    later: dict[int, list[Entered]] = {}
    rows = LicenceEvent.objects.filter(on__gt=day, channel=None).exclude(step=Step.CORRECT).order_by("pk")
    for number, step, on, changes in rows.values_list("licence_id", "step", "on", "changes"):
        before = {name: read(name, old) for name, (old, _) in changes.items() if name in FIELDS}
        later.setdefault(number, []).append(Entered(Step(step), on, before))
    return later


def life_on(licence: Licence, day: dt.date, later: Later | None = None) -> Life:
    """A licence's dates as they stood on a day; ``later`` are the :func:`later_steps` of that day."""
    steps = later_steps(day) if later is None else later
    return as_of(licence.life, steps.get(licence.pk, ()), day)


def standing_on(licence: Licence, on: dt.date, later: Later | None = None) -> Standing:
    """How a licence stands on a day; its authority and the policy should have been fetched with it.

    For a day that is past give the :func:`later_steps` of it; without them the day counts as today or later.
    """
    return standing(life_on(licence, on, later or {}), terms_of(licence), on)


@dataclass(frozen=True)
class Held:
    """Who held a licence from when to when; None: from its beginning, or until now."""

    holder: Holder
    since: dt.date | None
    until: dt.date | None


def said_of_licence(licence: Licence, day: dt.date) -> list[tuple[str, str]]:
    """What follows from a licence's dates and steps on a day, for the page of a day."""
    return [(gettext("standing"), standing_on(licence, day).words)]


def holders_of(licence: Licence) -> list[Held]:
    """The holders of a licence over time, the first one first."""
    moves = [e for e in licence.events.order_by("pk") if "holder_id" in e.changes]
    names = Holder.objects.in_bulk({pk for e in moves for pk in e.changes["holder_id"]})
    held: list[Held] = []
    since: dt.date | None = licence.granted_on
    for event in moves:
        before = event.changes["holder_id"][0]
        if event.step == Step.CORRECT:
            continue
        if before in names:
            held.append(Held(names[before], since, event.on))
        since = event.on
    return [*held, Held(licence.holder, since, None)]


def coming_days_of(licence: Licence) -> list[ComingDay]:
    """The days on which something has to be done about a licence, or it ends: what reminders are about."""
    return coming_days(licence.life, terms_of(licence))


def fees_due(until: dt.date) -> QuerySet[Licence]:
    """Our own licences whose fee is due not later than a day, the earliest first."""
    return (
        all_licences()
        .filter(holder__own=True, fee_due_on__lte=until)
        .filter(Q(ended_on=None) | Q(ended_on__gt=F("fee_due_on")))
        .filter(Q(expires_on=None) | Q(expires_on__gte=F("fee_due_on")) | _continuing(before=until))
        .order_by("fee_due_on", "id")
    )


def _as_it_stood(now: Q, day: dt.date, fits: Callable[[Standing], bool]) -> Q:
    """A condition on a licence's dates, and by its steps where some of them are later than the day."""
    later = later_steps(day)
    if not later:
        return now
    rows = Licence.objects.filter(pk__in=later).select_related("authority__renewal_policy")
    stood = [row.pk for row in rows if fits(standing_on(row, day, later))]
    return (now & ~Q(pk__in=later)) | Q(pk__in=stood)


def has_standing(wanted: Standing, on: dt.date) -> Q:
    """The condition on licences that agrees with :func:`standing_on`.

    Dates less days differ between databases, and policies are few: each contributes a comparison of dates.
    """
    return _as_it_stood(_by_dates(wanted, on), on, lambda found: found is wanted)


def _continuing(before: dt.date) -> Q:
    """Those that expired before a day and continue while their renewal is undecided, whatever has ended since.

    Few are undecided after their expiry, so each is judged by the rule itself.
    """
    asked = (
        Licence.objects.filter(expires_on__lt=before, renewal_filed_on__lte=F("expires_on"))
        .filter(
            Q(authority__renewal_policy__continues_while_undecided=True)
            | Q(while_undecided=Licence.WhileUndecided.CONTINUES)
        )
        .select_related("authority__renewal_policy")
    )
    found = [row.pk for row in asked if continues(row.life, renewal_of(row.life, terms_of(row)))]
    return Q(pk__in=found)


def _by_dates(wanted: Standing, on: dt.date) -> Q:
    ended = Q(ended_on__lte=on)
    applied = Q(in_force_from=None) & ~ended
    later = Q(in_force_from__gt=on) & ~ended
    past = Q(expires_on__lt=on) & ~ended & ~later & ~applied
    undecided = _continuing(before=on) if wanted in (Standing.CONTINUES, Standing.EXPIRED) else Q(pk__in=[])
    live = ~ended & ~applied & ~later & ~past
    kept = ~Q(renewal=Licence.Renewal.NOT_RENEWABLE)
    filed = Q(expires_on__isnull=False, renewal_filed_on__lte=on)
    opened, missed = Q(pk__in=[]), Q(pk__in=[])
    usual = RenewalPolicy()
    policies: list[tuple[Q, RenewalPolicy]] = [(Q(authority__renewal_policy=None), usual)]
    policies += [(Q(authority=policy.authority_id), policy) for policy in RenewalPolicy.objects.all()]
    for theirs, policy in policies:
        if not policy.renewable:
            continue
        last_open = on + dt.timedelta(days=min(policy.window_opens_days, 100_000))
        first_open = on + dt.timedelta(days=max(min(policy.last_filing_days, 100_000), 0))
        opened |= theirs & kept & Q(expires_on__range=(first_open, last_open))
        missed |= theirs & kept & Q(expires_on__lt=first_open)
    return {
        Standing.SURRENDERED: ended & Q(ended_how=Ending.SURRENDERED),
        Standing.CANCELLED: ended & Q(ended_how=Ending.CANCELLED),
        Standing.LAPSED: ended & Q(ended_how=Ending.LAPSED),
        Standing.REFUSED: ended & Q(ended_how=Ending.REFUSED),
        Standing.ENDED: ended & Q(ended_how=""),
        Standing.APPLIED: applied,
        Standing.NOT_YET_IN_FORCE: later,
        Standing.CONTINUES: past & undecided,
        Standing.EXPIRED: past & ~undecided,
        Standing.FILED: live & filed,
        Standing.RENEWAL_OPEN: live & ~filed & opened,
        Standing.FILING_MISSED: live & ~filed & missed,
        Standing.IN_FORCE: live & ~filed & ~opened & ~missed,
    }[wanted]
