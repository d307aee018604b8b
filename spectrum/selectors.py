"""What is on the air and planned, and what was found about it: reads with the rows they need fetched at once."""

from __future__ import annotations

from django.db.models import Prefetch, Q, QuerySet

from spectrum.models import ChannelPlan, Check, Finding, Link, RadioMask, RadioMode, RadioType, Station


def all_channel_plans() -> QuerySet[ChannelPlan]:
    """Every channel plan, by code."""
    return ChannelPlan.objects.order_by("code", "id")


def all_radio_types() -> QuerySet[RadioType]:
    """Every radio type with its modes and masks."""
    return RadioType.objects.prefetch_related(
        Prefetch("modes", queryset=all_radio_modes()), Prefetch("masks", queryset=all_radio_masks())
    ).order_by("name", "id")


def all_radio_modes() -> QuerySet[RadioMode]:
    """Every mode of every radio type."""
    return RadioMode.objects.select_related("radio_type").order_by(
        "radio_type__name", "channel_width_hz", "bit_rate_kbps", "id"
    )


def all_radio_masks() -> QuerySet[RadioMask]:
    """Every emission and selectivity mask of every radio type."""
    return RadioMask.objects.select_related("radio_type").order_by(
        "radio_type__name", "channel_width_hz", "kind", "id"
    )


def all_stations() -> QuerySet[Station]:
    """Every station with its link, site, equipment and the channel that allows it to transmit."""
    return Station.objects.select_related(
        "link",
        "site",
        "antenna_type",
        "radio_type",
        "mode__radio_type",
        "licensed_channel__licence__authority",
    ).order_by("link__code", "label", "id")


def all_links() -> QuerySet[Link]:
    """Every link with its holder, channel plan and stations."""
    return (
        Link.objects.select_related("holder", "channel_plan", "responsible")
        .prefetch_related(Prefetch("stations", queryset=all_stations()))
        .order_by("code", "id")
    )


def all_checks() -> QuerySet[Check]:
    """Every run of a check, latest first."""
    return Check.objects.select_related("link", "asked_by").order_by("-started_at", "-id")


def all_findings() -> QuerySet[Finding]:
    """Every finding ever made, worst first, with its parties."""
    return Finding.objects.select_related(
        "link", "other_link", "licence__authority", "licensed_channel", "site", "accepted_by"
    ).order_by("rank", "margin", "id")


def current_findings() -> QuerySet[Finding]:
    """What stands as of the latest checks, worst first."""
    return all_findings().filter(gone_at__isnull=True)


def findings_of_link(link: Link) -> QuerySet[Finding]:
    """Current findings in which a link takes part, on either side, worst first."""
    return current_findings().filter(Q(link=link) | Q(other_link=link))
