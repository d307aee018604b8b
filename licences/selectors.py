"""What is licensed, to whom, until when: reads, each with the rows it needs fetched at once."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db.models import Q, QuerySet

from licences.areas import AreaError, covers
from licences.models import Authority, Holder, Licence, LicensedChannel, Reminder, RenewalPolicy
from licences.standing import Standing, standing
from sites.models import Site


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


def in_force_on(licences: QuerySet[Licence], day: dt.date) -> QuerySet[Licence]:
    """Those of some licences whose dates allow transmission on a day (licences.standing says why)."""
    return licences.filter(
        Q(expires_on__isnull=True) | Q(expires_on__gte=day),
        Q(ended_on__isnull=True) | Q(ended_on__gt=day),
        in_force_from__lte=day,
    )


def all_licensed_channels() -> QuerySet[LicensedChannel]:
    """Every licensed channel with its licence and site."""
    return LicensedChannel.objects.select_related("licence__authority", "licence__holder", "site").order_by(
        "licence__authority__code", "licence__number", "label", "id"
    )


def licences_covering(site: Site, on: dt.date) -> QuerySet[Licence]:
    """Licences not ended by a day that have a channel at a site, or one whose area holds it.

    Every licensed area is read: of an area that cannot be read nothing is said.
    """
    areas = LicensedChannel.objects.filter(area__isnull=False).values_list("id", "area")
    inside = [number for number, area in areas if _holds(area, site)]
    there = LicensedChannel.objects.filter(Q(site=site) | Q(pk__in=inside)).values("licence")
    return all_licences().filter(Q(ended_on__isnull=True) | Q(ended_on__gt=on), pk__in=there)


def _holds(area: Any, site: Site) -> bool:
    try:
        return covers(area, site.latitude_deg, site.longitude_deg)
    except AreaError:
        return False


def channels_of(licence: Licence) -> QuerySet[LicensedChannel]:
    """The channels of one licence, by label."""
    return all_licensed_channels().filter(licence=licence)


def all_reminders() -> QuerySet[Reminder]:
    """Every reminder, sent and to be sent, with its licence and recipient."""
    return Reminder.objects.select_related("licence__authority", "recipient").order_by("due_on", "id")


def policy_of(authority: Authority) -> RenewalPolicy:
    """The authority's renewal policy, or the usual periods where none was entered."""
    policy: RenewalPolicy | None = getattr(authority, "renewal_policy", None)
    return policy if policy is not None else RenewalPolicy(authority=authority)


def standing_on(licence: Licence, on: dt.date) -> Standing:
    """How a licence stands on a day; its authority and the policy should have been fetched with it."""
    return standing(licence, policy_of(licence.authority), on)


def has_standing(wanted: Standing, on: dt.date) -> Q:
    """The condition on licences that agrees with :func:`standing_on`.

    Dates less days differ between databases, and policies are few: each contributes a comparison of dates.
    """
    ended = Q(ended_on__lte=on)
    later = Q(in_force_from__gt=on) & ~ended
    expired = Q(expires_on__lt=on) & ~ended & ~later
    live = ~ended & ~later & ~expired
    filed = Q(expires_on__isnull=False, renewal_filed_on__lte=on)
    opened, missed = Q(pk__in=[]), Q(pk__in=[])
    usual = RenewalPolicy()
    policies: list[tuple[Q, RenewalPolicy]] = [(Q(authority__renewal_policy=None), usual)]
    policies += [(Q(authority=policy.authority_id), policy) for policy in RenewalPolicy.objects.all()]
    for theirs, policy in policies:
        last_open = on + dt.timedelta(days=min(policy.window_opens_days, 100_000))
        first_open = on + dt.timedelta(days=min(policy.last_filing_days, 100_000))
        opened |= theirs & Q(expires_on__range=(first_open, last_open))
        missed |= theirs & Q(expires_on__lt=first_open)
    return {
        Standing.ENDED: ended,
        Standing.NOT_YET_IN_FORCE: later,
        Standing.EXPIRED: expired,
        Standing.FILED: live & filed,
        Standing.RENEWAL_OPEN: live & ~filed & opened,
        Standing.FILING_MISSED: live & ~filed & missed,
        Standing.IN_FORCE: live & ~filed & ~opened & ~missed,
    }[wanted]
