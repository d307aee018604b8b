"""What is on the air and planned, and what was found about it: reads with the rows they need fetched at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db import models
from django.db.models import Count, OuterRef, Prefetch, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from licences.models import Licence, LicensedChannel
from sites.models import ChangeRecord, Job, Person, Site
from sites.selectors import all_changes
from spectrum.conflicts.kinds import SITE_KINDS
from spectrum.models import (
    ChannelPlan,
    Check,
    CommissioningRecord,
    Difference,
    ExtractMapping,
    ExtractRun,
    Finding,
    InterferenceEntry,
    Link,
    ProtectionCriterion,
    RadioMask,
    RadioMode,
    RadioType,
    Station,
)


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


def all_protection_criteria() -> QuerySet[ProtectionCriterion]:
    """Every protection criterion with the authority it is for, lowest band first."""
    return ProtectionCriterion.objects.select_related("authority").order_by("frequency_min_mhz", "name", "id")


def all_extract_mappings() -> QuerySet[ExtractMapping]:
    """Every way in which extracts are read, with the authority that publishes them."""
    return ExtractMapping.objects.select_related("authority").order_by("code", "id")


def all_extract_runs() -> QuerySet[ExtractRun]:
    """Every import of an extract, latest first."""
    return ExtractRun.objects.select_related("mapping").order_by("-id")


def all_differences() -> QuerySet[Difference]:
    """Every difference between the register and the extracts, with the record and the import it stands in."""
    return Difference.objects.select_related("record__mapping__authority", "run").order_by("-id")


def open_differences() -> tuple[int, int]:
    """How many wait for a decision: of our own, and of other parties."""
    found = Difference.objects.filter(state=Difference.State.OPEN).aggregate(
        ours=Count("pk", filter=Q(record__own=True)), others=Count("pk", filter=Q(record__own=False))
    )
    return found["ours"], found["others"]


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


def all_commissioning_records() -> QuerySet[CommissioningRecord]:
    """What was found at stations, the latest first."""
    return CommissioningRecord.objects.select_related("station__link").order_by("-found_on", "-id")


def all_interference() -> QuerySet[InterferenceEntry]:
    """The interference log of all links, the latest first."""
    return InterferenceEntry.objects.select_related(
        "link", "station__link", "other_party", "finding"
    ).order_by("-began_on", "-id")


def open_interference_first() -> models.expressions.OrderBy:
    """The order in which open entries stand before closed ones, on every database."""
    return models.F("closed_on").desc(nulls_first=True)


def all_checks() -> QuerySet[Check]:
    """Every run of a check, latest first."""
    return Check.objects.select_related("link", "asked_by").order_by("-started_at", "-id")


def all_findings() -> QuerySet[Finding]:
    """Every finding ever made, worst first, with its parties."""
    return Finding.objects.select_related(
        "link",
        "other_link",
        "licence__authority",
        "licensed_channel__licence__authority",
        "site",
        "accepted_by",
    )


def with_places(findings: QuerySet[Finding]) -> QuerySet[Finding]:
    """Findings with what their place on a map needs: the stations of their links and the sites of these."""
    return findings.select_related("licensed_channel__site").prefetch_related(
        "link__stations__site", "other_link__stations__site"
    )


def current_findings() -> QuerySet[Finding]:
    """What stands as of the latest checks, worst first."""
    return all_findings().filter(gone_at__isnull=True)


def findings_of_link(link: Link) -> QuerySet[Finding]:
    """Current findings in which a link takes part, on either side or as one of many at its sites, worst first."""
    at_its_sites = Q(kind__in=SITE_KINDS, site__in=link.stations.values("site"))
    return current_findings().filter(Q(link=link) | Q(other_link=link) | at_its_sites)


def open_findings() -> QuerySet[Finding]:
    """Current findings that nobody has accepted, worst first."""
    return current_findings().filter(accepted_at__isnull=True)


def open_of_rank(rank: int) -> QuerySet[Finding]:
    """Current findings of one weight that nobody has accepted: 0 must fix, 1 decide, 2 note."""
    return Finding.objects.filter(gone_at=None, accepted_at=None, rank=rank).order_by()


def party_to(findings: QuerySet[Finding]) -> Q:
    """The condition on links that one of the findings is about, on either side."""
    return Q(pk__in=findings.filter(link__isnull=False).values("link")) | Q(
        pk__in=findings.filter(other_link__isnull=False).values("other_link")
    )


def worst_open_of(links: Sequence[int]) -> dict[int, int]:
    """The rank of the worst open finding in which each of some links takes part; without an entry: none."""
    worst: dict[int, int] = {}
    still_open = Finding.objects.filter(gone_at=None, accepted_at=None).order_by()
    parties = still_open.filter(Q(link__in=links) | Q(other_link__in=links))
    for link, other, rank in parties.values_list("link_id", "other_link_id", "rank"):
        for party in (link, other):
            if party is not None:
                worst[party] = min(rank, worst.get(party, rank))
    return worst


def links_with_counts() -> QuerySet[Link]:
    """Every link with its holder and stations, and how many open findings of each weight it has."""
    return all_links().annotate(must_fix=_open_findings(rank=0), to_decide=_open_findings(rank=1))


def links_with_open_findings(*ranks: int) -> QuerySet[Finding, Any]:
    """The links that have an open finding of one of these ranks, for a condition ``pk__in``."""
    still_open = Finding.objects.filter(gone_at=None, accepted_at=None, rank__in=ranks, link__isnull=False)
    return still_open.order_by().values("link")


def _open_findings(rank: int) -> Coalesce:
    """How many open findings a link has; counted for the rows that are shown and not for all of them."""
    of_link = Finding.objects.filter(
        link=OuterRef("pk"), rank=rank, gone_at=None, accepted_at=None
    ).order_by()
    counted = of_link.values("link").annotate(number=Count("pk")).values("number")
    return Coalesce(Subquery(counted), 0)


def changes_of_link(link: Link) -> QuerySet[ChangeRecord]:
    """What was changed on a link and on its stations, those that were removed included, latest first."""
    of_link = Q(object_type="spectrum.link", object_id=link.pk)
    of_stations = Q(object_type="spectrum.station", object_label__startswith=f"{link.code}/")
    return all_changes().filter(of_link | of_stations)


def check_under_way(link: Link) -> Job | None:
    """The job that will check a link, while it waits or runs."""
    return Job.objects.filter(
        same_as=f"check_link:{link.pk}", state__in=(Job.State.WAITING, Job.State.RUNNING)
    ).first()


def last_check_of(link: Link) -> Check | None:
    """The latest finished check that looked at a link: its own, or one of the whole network."""
    return all_checks().filter(Q(link=link) | Q(scope=Check.Scope.NETWORK), ended_at__isnull=False).first()


@dataclass
class ChannelUse:
    """Who is on one channel of a plan: stations that send go or return, and licensed channels."""

    stations: list[Station] = field(default_factory=list)
    licensed: list[LicensedChannel] = field(default_factory=list)


def use_of_channel_plan(plan: ChannelPlan) -> dict[int, ChannelUse]:
    """Channel number to its use, for the channels whose go or return frequency somebody sends or is licensed for."""
    last = plan.first_go_hz + (plan.channel_count - 1) * plan.spacing_hz
    halves = {offset: (plan.first_go_hz + offset, last + offset) for offset in (0, plan.duplex_spacing_hz)}
    use: dict[int, ChannelUse] = {}

    def numbers(frequency_hz: int) -> set[int]:
        found = set()
        for low, high in halves.values():
            steps, rest = divmod(frequency_hz - low, plan.spacing_hz)
            if low <= frequency_hz <= high and rest == 0:
                found.add(steps + 1)
        return found

    sent = Q(pk__in=[])
    licensed = Q(pk__in=[])
    for low_high in halves.values():
        sent |= Q(tx_frequency_hz__range=low_high)
        licensed |= Q(frequency_hz__range=low_high)
    for station in all_stations().filter(sent, link__status__in=Link.LIVE):
        for number in numbers(station.tx_frequency_hz or 0):
            use.setdefault(number, ChannelUse()).stations.append(station)
    rows = LicensedChannel.objects.select_related("licence__authority", "site").filter(
        licensed, ended_on=None
    )
    for channel in rows.filter(licence__ended_on=None).order_by("licence__number", "label"):
        for number in numbers(channel.frequency_hz):
            use.setdefault(number, ChannelUse()).licensed.append(channel)
    return use


def lapsing_reservations(until: dt.date) -> QuerySet[Link]:
    """Links whose pair is free for others after a day not later than ``until``."""
    return all_links().filter(
        status__in=Link.RESERVING, reserved_until__isnull=False, reserved_until__lte=until
    )


def is_responsible(person: Person) -> bool:
    """Whether a person looks after any link or licence, so that there is something to call theirs."""
    return person.links.exists() or person.licences.exists()


def stations_on(frequency_hz: int) -> QuerySet[Station]:
    """Stations of live links whose transmit or receive channel covers a frequency."""
    half = models.F("mode__channel_width_hz") / 2
    on = Q(tx_frequency_hz__gte=frequency_hz - half, tx_frequency_hz__lte=frequency_hz + half)
    on |= Q(rx_frequency_hz__gte=frequency_hz - half, rx_frequency_hz__lte=frequency_hz + half)
    return all_stations().filter(on, link__status__in=Link.LIVE)


def on_the_air_under(about: Licence | LicensedChannel) -> QuerySet[Station]:
    """Stations of links on the air that a licence, or one of its channels, allows to transmit."""
    under = (
        {"licensed_channel": about}
        if isinstance(about, LicensedChannel)
        else {"licensed_channel__licence": about}
    )
    return all_stations().filter(**under, link__status=Link.Status.ON_AIR)


def licensed_channels_on(frequency_hz: int) -> QuerySet[LicensedChannel]:
    """Licensed channels that cover a frequency."""
    half = models.F("channel_width_hz") / 2
    return (
        LicensedChannel.objects.select_related("licence__authority", "licence__holder", "site")
        .filter(frequency_hz__gte=frequency_hz - half, frequency_hz__lte=frequency_hz + half)
        .order_by("licence__authority__code", "licence__number", "label", "id")
    )


def about_link_code(code: str) -> Q:
    """The condition on findings in which the link of this code has a part."""
    return Q(link__code__iexact=code) | Q(other_link__code__iexact=code)


def looked_after_by(person: Person) -> Q:
    """The condition on findings about a link or a licence that a person is responsible for."""
    return (
        Q(link__responsible=person.pk)
        | Q(other_link__responsible=person.pk)
        | Q(licence__responsible=person.pk)
    )


def findings_at_site(site: Site) -> QuerySet[Finding]:
    """Current findings about a site, or about a station that stands there, worst first."""
    here = all_stations().filter(site=site).values("link")
    return current_findings().filter(Q(site=site) | Q(link__in=here) | Q(other_link__in=here))


@dataclass(frozen=True)
class NetworkSize:
    """How much a check of the whole network looks at."""

    sites: int
    live_links: int
    stations: int
    licences: int


def network_size() -> NetworkSize:
    """Sites, live links with their stations, and licences in the register."""
    live = Link.objects.filter(status__in=Link.LIVE)
    return NetworkSize(
        sites=Site.objects.count(),
        live_links=live.count(),
        stations=Station.objects.filter(link__in=live).count(),
        licences=Licence.objects.count(),
    )
