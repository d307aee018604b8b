"""What is licensed, to whom, until when: reads, each with the rows it needs fetched at once."""

from __future__ import annotations

from django.db.models import QuerySet

from licences.models import Authority, Holder, Licence, LicensedChannel, Reminder, RenewalPolicy


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


def all_licensed_channels() -> QuerySet[LicensedChannel]:
    """Every licensed channel with its licence and site."""
    return LicensedChannel.objects.select_related(
        "licence__authority", "licence__holder", "site", "paired_with"
    ).order_by("licence__authority__code", "licence__number", "label", "id")


def channels_of(licence: Licence) -> QuerySet[LicensedChannel]:
    """The channels of one licence, by label."""
    return all_licensed_channels().filter(licence=licence)


def all_reminders() -> QuerySet[Reminder]:
    """Every reminder, sent and to be sent, with its licence and recipient."""
    return Reminder.objects.select_related("licence__authority", "recipient").order_by("due_on", "id")
