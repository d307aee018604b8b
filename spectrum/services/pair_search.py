"""Searching channel pairs for a link of the register, or for one that is not stored yet. Nothing is written."""

from __future__ import annotations

import copy
import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from django.utils import timezone
from django.utils.translation import gettext, ngettext

from sites.errors import RegisterError
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.gather import (
    criteria_in_force,
    drafted_network,
    links_near,
    terrain_in_force,
    unused_channels,
)
from spectrum.conflicts.network import Network, PlanRecord, StationRecord
from spectrum.conflicts.pair_search.at_sites import fitting_way
from spectrum.conflicts.pair_search.pairs import Offer
from spectrum.conflicts.pair_search.search import Found, search
from spectrum.models import ChannelPlan, Link, RadioMode, Station
from spectrum.radio.capacity import Mode, narrowest_mode
from spectrum.services.register_columns import register_at, revision_now
from spectrum.services.register_reading import read_register
from spectrum.services.site_surroundings import documented_exceptions

FITTING, GO, RETURN = "fitting", "go", "return"
WAYS: Final = (FITTING, GO, RETURN)
MOST_STATIONS: Final = 60_000
# A database takes so many keys in one question; for more, the whole register is read and kept.
MOST_LINKS_NAMED: Final = 20_000
# The first side of a link: end A, or the hub.
FIRST_ROLES: Final = (Station.Role.A, Station.Role.HUB)


@dataclass(frozen=True)
class NarrowerMode:
    """A mode of a station's radio that carries the service in less width than the one it has."""

    station: str
    mode: RadioMode
    sentence: str


@dataclass(frozen=True)
class Setting:
    """How a link is set in a plan: the mode of each station in order, and which half the first end sends."""

    modes: Sequence[RadioMode]
    first_sends_go: bool


@dataclass(frozen=True)
class PairSearch:
    """What was asked and found.

    ``modes`` has, for each plan, the mode of each station in order; ``holders`` the people who are responsible
    for the links that hold pairs, by the link's key.
    """

    link: Link
    stations: Sequence[Station]
    plans: Sequence[ChannelPlan]
    modes: Sequence[Sequence[RadioMode]]
    found: Found
    narrower: Sequence[NarrowerMode]
    holders: dict[int, str]
    decide_within_db: float


def search_pairs(
    link: Link,
    stations: Sequence[Station],
    plans: Sequence[ChannelPlan],
    *,
    polarisations: Collection[str] = (),
    first_sends: str = FITTING,
    as_of: dt.date | None = None,
) -> PairSearch:
    """Try every pair of the plans, in every polarisation, for a link's stations.

    ``stations`` need sites, antennas, heights, radios and modes; their frequencies are not looked at, except to
    keep the way round that the link has. ``polarisations`` are those of the stations when none are named.
    ``first_sends`` is which half end A (or the hub) transmits: go, return, or what fits both sites. In a plan
    whose channels are narrower than a station's mode the narrowest mode of its radio that carries the service
    is tried instead. Raises RegisterError when there is nothing to search.
    """
    wanted = list(dict.fromkeys(polarisations)) or list(dict.fromkeys(s.polarisation for s in stations))
    _searchable(stations, plans, len(wanted), first_sends)
    as_of = as_of or timezone.localdate()
    criteria = criteria_in_force()
    radio_modes = _modes_of_radios(stations)
    modes, others, offers = _prepared(
        link, stations, plans, wanted, first_sends, as_of, criteria, radio_modes
    )
    found = search(
        others,
        offers,
        criteria,
        terrain=terrain_in_force(),
        unused=unused_channels([span for plan in plans for span in _ranges(plan)], as_of),
        reserving=Link.RESERVING,
        exceptions=documented_exceptions(),
    )
    narrower = [n for s in stations if (n := _narrower(link, s, radio_modes[s.radio_type_id])) is not None]
    holding = {held.id for links in found.reserved.values() for held in links}
    people = Link.objects.filter(pk__in=holding, responsible__isnull=False).select_related("responsible")
    holders = {held.pk: str(held.responsible) for held in people}
    return PairSearch(link, stations, plans, modes, found, narrower, holders, criteria.decide_within_db)


def setting_in(
    link: Link,
    stations: Sequence[Station],
    plan: ChannelPlan,
    *,
    first_sends: str = FITTING,
    as_of: dt.date | None = None,
) -> Setting:
    """How a search would set the stations in a plan."""
    _searchable(stations, [plan], 1, first_sends)
    as_of = as_of or timezone.localdate()
    if first_sends == FITTING:
        modes, _, offers = _prepared(
            link, stations, [plan], ["V"], first_sends, as_of, criteria_in_force(), _modes_of_radios(stations)
        )
        return Setting(modes[0], offers[0].first_sends_go)
    radio_modes = _modes_of_radios(stations)
    return Setting(
        [_mode_for(link, s, plan, radio_modes[s.radio_type_id]) for s in stations], first_sends == GO
    )


def _prepared(
    link: Link,
    stations: Sequence[Station],
    plans: Sequence[ChannelPlan],
    polarisations: Sequence[str],
    first_sends: str,
    as_of: dt.date,
    criteria: Criteria,
    radio_modes: dict[int, list[RadioMode]],
) -> tuple[list[list[RadioMode]], Network, list[Offer]]:
    """The modes in each plan, the other links, and the offers to search."""
    modes = [[_mode_for(link, s, plan, radio_modes[s.radio_type_id]) for s in stations] for plan in plans]
    drafted = _drafted(link, stations, modes, as_of)
    others = _others(stations, plans, {mode.pk for row in modes for mode in row}, as_of)
    offers = []
    for plan, records in zip(plans, drafted, strict=True):
        record = PlanRecord(
            plan.code, plan.first_go_hz, plan.spacing_hz, plan.channel_count, plan.duplex_spacing_hz
        )
        offer = Offer(record, plan.channel_width_hz, records, tuple(polarisations))
        way = first_sends == GO
        if first_sends == FITTING:
            way = fitting_way(
                others, offer, records[0].link.id, criteria, now=_now_sends_go(stations, plan),
                exceptions=documented_exceptions(),
            )  # fmt: skip
        offers.append(replace(offer, first_sends_go=way))
    return modes, others, offers


def _others(
    stations: Sequence[Station], plans: Sequence[ChannelPlan], modes: Collection[int], as_of: dt.date
) -> Network:
    """The live links that a pair of the plans could meet, read column by column."""
    links = links_near(
        [span for plan in plans for span in _ranges(plan)],
        modes,
        {(s.site.latitude_deg, s.site.longitude_deg) for s in stations},
    )
    if len(links) > MOST_LINKS_NAMED:
        whole = register_at(revision_now().name)
        if whole is not None:
            return whole.part(np.isin(whole.columns.link_id, links)).network(as_of)
    return read_register(0, links).network(as_of)


def stations_to_search(link: Link) -> list[Station]:
    """A stored link's stations with all that a search needs, first end first."""
    rows = Station.objects.filter(link=link).select_related(
        "link__holder",
        "link__channel_plan",
        "site",
        "antenna_type",
        "radio_type",
        "mode__radio_type",
        "licensed_channel__licence__authority__renewal_policy",
        "licensed_channel__licence__holder",
        "licensed_channel__site",
    )
    return sorted(rows, key=lambda s: (s.role not in FIRST_ROLES, len(s.label), s.label))


def _searchable(
    stations: Sequence[Station], plans: Sequence[ChannelPlan], polarisations: int, first_sends: str
) -> None:
    if not plans:
        raise RegisterError(gettext("Name at least one channel plan to search."), field="plans")
    if first_sends not in WAYS:
        raise RegisterError(
            gettext("{first_sends!r} is no way round; expected one of {names}.").format(
                first_sends=first_sends, names=", ".join(WAYS)
            ),
            field="first_sends",
        )
    if len(stations) < 2 or not any(s.role in FIRST_ROLES for s in stations):
        raise RegisterError(
            gettext("A search needs both ends of the link: end A and end B, or the hub and its remotes."),
            field="stations",
        )
    pairs = polarisations * sum(plan.channel_count for plan in plans)
    if pairs * len(stations) > MOST_STATIONS:
        raise RegisterError(
            ngettext(
                "{pairs} pairs for {count} station are more than one search takes ({most} pairs "
                "times stations). Name fewer plans.",
                "{pairs} pairs for {count} stations are more than one search takes ({most} pairs "
                "times stations). Name fewer plans.",
                len(stations),
            ).format(pairs=pairs, count=len(stations), most=MOST_STATIONS),
            field="plans",
        )


def _ranges(plan: ChannelPlan) -> list[tuple[int, int]]:
    """First and last frequency of each half."""
    last = plan.first_go_hz + (plan.channel_count - 1) * plan.spacing_hz
    return [
        (plan.first_go_hz + shift, last + shift) for shift in sorted({0, plan.duplex_spacing_hz})
    ]  # fmt: skip


def _now_sends_go(stations: Sequence[Station], plan: ChannelPlan) -> bool:
    """Whether the first end sends the lower or upper frequency as go does; go where it is not set."""
    first = next(s for s in stations if s.role in FIRST_ROLES)
    if first.tx_frequency_hz is None or first.rx_frequency_hz is None:
        return True
    return (first.rx_frequency_hz >= first.tx_frequency_hz) == (plan.duplex_spacing_hz >= 0)


def _modes_of_radios(stations: Sequence[Station]) -> dict[int, list[RadioMode]]:
    found: dict[int, list[RadioMode]] = {s.radio_type_id: [] for s in stations}
    for mode in RadioMode.objects.filter(radio_type__in=found).select_related("radio_type"):
        found[mode.radio_type_id].append(mode)
    return found


def _mode_for(link: Link, station: Station, plan: ChannelPlan, modes: Sequence[RadioMode]) -> RadioMode:
    """The station's own mode where it fits the plan's channel, else the narrowest that fits and serves."""
    own = station.mode
    if own.channel_width_hz <= plan.channel_width_hz:
        return own
    return _narrowest(link, own, [m for m in modes if m.channel_width_hz <= plan.channel_width_hz])[0] or own


def _narrower(link: Link, station: Station, modes: Sequence[RadioMode]) -> NarrowerMode | None:
    """A narrower mode than the station has that carries what the service needs; None where need or mode lacks."""
    if link.required_bit_rate_kbps is None:
        return None
    mode, sentence = _narrowest(link, station.mode, modes)
    if mode is None or mode.channel_width_hz >= station.mode.channel_width_hz:
        return None
    return NarrowerMode(station.label, mode, sentence)


def _narrowest(link: Link, own: RadioMode, modes: Sequence[RadioMode]) -> tuple[RadioMode | None, str]:
    """By the service's rate and round trip; where the link states no rate, the rate of the mode it has."""
    choice = narrowest_mode(
        [Mode(m.label, m.channel_width_hz / 1e3, m.bit_rate_kbps, m.one_way_delay_ms) for m in modes],
        link.required_bit_rate_kbps or own.bit_rate_kbps,
        link.required_round_trip_ms / 2 if link.required_round_trip_ms else 1e9,
    )
    chosen = next((m for m in modes if choice.mode is not None and m.label == choice.mode.name), None)
    return chosen, choice.sentence


def _drafted(
    link: Link, stations: Sequence[Station], modes: Sequence[Sequence[RadioMode]], as_of: dt.date
) -> list[tuple[StationRecord, ...]]:
    """Records of the stations in the modes of each plan; the link's number is its own, 0 where it has none."""
    drafts = []
    for row in modes:
        drafted = []
        for station, mode in zip(stations, row, strict=True):
            one = copy.copy(station)
            one.mode = mode
            drafted.append(one)
        drafts.append((copy.copy(link), drafted))
    records = list(drafted_network(drafts, as_of).stations)
    number = link.pk or 0
    count = len(stations)
    return [
        tuple(replace(r, link=replace(r.link, id=number)) for r in records[i * count : (i + 1) * count])
        for i in range(len(modes))
    ]
