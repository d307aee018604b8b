"""Checks of what our stations transmit against the licensed channel that is to allow it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from licences.limits import LimitResult, Transmission, compare
from licences.standing import WORDS, Standing
from sites.geodesy import inverse
from sites.sentences import sentence
from sites.words import gettext_noop as _

from .criteria import Criteria
from .drafts import Draft, Parties
from .evidence import GIVEN, LIMIT, MARGIN, TERM, Row
from .kinds import DECIDE, LIMIT_KINDS, MUST_FIX, NOTE
from .network import FAR_FUTURE, FAR_PAST, ChannelRecord, Network, StationRecord

TRANSMITTING = ("on_air", "granted")
NO_LICENCE = (
    Standing.APPLIED,
    Standing.SURRENDERED,
    Standing.CANCELLED,
    Standing.LAPSED,
    Standing.REFUSED,
    Standing.ENDED,
)


def licence_findings(network: Network, criteria: Criteria, *, link_id: int | None = None) -> list[Draft]:
    """Every way in which our stations leave their licences, or have none, and assignments that stand twice."""
    return [
        *station_licence_findings(network, link_id=link_id),
        *assignment_findings(network, criteria, link_id=link_id),
    ]


def station_licence_findings(network: Network, *, link_id: int | None = None) -> list[Draft]:
    """Each of our transmitting stations against its own licensed channel."""
    drafts: list[Draft] = []
    for station in network.stations:
        if not station.link.own or station.tx_frequency_hz is None or link_id not in (None, station.link.id):
            continue
        if station.channel is None:
            drafts.append(_without_licence(station))
            continue
        for result in compare_station(station, station.channel):
            drafts += _limit_draft(station, station.channel, result)
        drafts += _dates(network.as_of, station, station.channel)
    return drafts


def assignment_findings(network: Network, criteria: Criteria, *, link_id: int | None = None) -> list[Draft]:
    """Licensed channels that several links rely on, or that we hold twice; of stations, those that name one count."""
    twice = _licensed_twice(network, criteria) if link_id is None else ()
    return [*_used_twice(network, link_id), *twice]


def compare_station(station: StationRecord, channel: ChannelRecord) -> tuple[LimitResult, ...]:
    """Each limit of the licensed channel beside what the station does. The station must transmit."""
    return compare(transmission_of(station), channel.allowance)


def transmission_of(station: StationRecord) -> Transmission:
    """What a station sends, as licences.limits takes it. The station must transmit."""
    if station.tx_frequency_hz is None:
        raise ValueError(f"{station.name} does not transmit; there is nothing to compare with its licence.")
    return Transmission(
        frequency_hz=station.tx_frequency_hz,
        channel_width_hz=station.mode.channel_width_hz,
        occupied_bandwidth_hz=station.mode.occupied_bandwidth_hz,
        emission_designator=station.mode.emission_designator,
        modulation=station.mode.modulation,
        tx_power_dbm=station.tx_power_dbm,
        line_losses_db=station.line_losses_db,
        antenna_gain_dbi=station.antenna.gain_dbi,
        latitude_deg=station.latitude_deg,
        longitude_deg=station.longitude_deg,
        antenna_height_agl_m=station.antenna_height_agl_m,
        azimuth_deg=station.azimuth_deg,
        polarisation=station.polarisation,
    )


def _parties(station: StationRecord, channel: ChannelRecord) -> Parties:
    return Parties(
        link_id=station.link.id,
        station_label=station.label,
        licence_id=channel.licence.id,
        licensed_channel_id=channel.id,
    )


def _limit_draft(station: StationRecord, channel: ChannelRecord, result: LimitResult) -> Iterable[Draft]:
    if result.within is True:
        return
    judged = result.within is False
    rows = [Row(t.name, *_in_khz(t.value, t.unit), t.source, TERM) for t in result.terms]
    margin, unit = (None, "") if result.margin is None else _in_khz(result.margin, result.margin_unit)
    if margin is not None:
        rows.append(Row(_("Margin"), margin, unit, _("sum of the above"), MARGIN))
    yield Draft(
        kind=LIMIT_KINDS[result.kind],
        severity=MUST_FIX if judged else DECIDE,
        headline=sentence(
            _("{station} against {channel}: {verdict}"),
            station=station.name,
            channel=channel.name,
            verdict=result.sentence,
        ),
        cure=sentence(
            _("Change the station, or ask for a modified grant of {licence}."), licence=channel.licence.name
        )
        if judged
        else "",
        margin=margin if judged else None,
        margin_unit=unit if judged else "",
        parties=_parties(station, channel),
        evidence=rows if judged else [],
        not_judged=[] if judged else [result.sentence],
    )


def _in_khz(value: float, unit: str) -> tuple[float, str]:
    """Widths and offsets as people read them: in kHz."""
    return (value / 1e3, "kHz") if unit == "Hz" else (value, unit)


def _without_licence(station: StationRecord) -> Draft:
    transmits = station.link.status in TRANSMITTING
    return Draft(
        kind="station_without_licence",
        severity=MUST_FIX if transmits else NOTE,
        headline=sentence(
            _("{station} transmits {frequency:.5f} MHz without a licensed channel"),
            station=station.name,
            frequency=(station.tx_frequency_hz or 0) / 1e6,
        )
        if transmits
        else sentence(
            _("{station} has no licensed channel yet; it must not transmit before the grant"),
            station=station.name,
        ),
        cure=_("Name the licensed channel that covers it, or file an application."),
        parties=Parties(link_id=station.link.id, station_label=station.label, site_id=station.site_id),
    )


def _licence_gone(station: StationRecord, channel: ChannelRecord, state: Standing, transmits: bool) -> Draft:
    """A channel that was surrendered, cancelled, has lapsed or is not granted is no licence at all."""
    applied = state is Standing.APPLIED
    ends = [day for day in (channel.ended_on, channel.licence.ended_on) if day is not None]
    standing = sentence(WORDS[state])
    if ends:
        standing = sentence(_("{standing} since {day}"), standing=standing, day=min(ends))
    said = (
        _("{station} relies on {channel}, which is {standing}: it transmits without a licence")
        if transmits
        else _("{station} relies on {channel}, which is {standing}; it must not transmit before a grant")
    )
    return Draft(
        kind="station_without_licence",
        severity=MUST_FIX if transmits else NOTE if applied else DECIDE,
        headline=sentence(said, station=station.name, channel=channel.name, standing=standing),
        cure=_("Wait for the grant.")
        if applied
        else _("Stop transmitting; name another licensed channel, or file anew."),
        parties=_parties(station, channel),
    )


def _dates(as_of: dt.date, station: StationRecord, channel: ChannelRecord) -> Iterable[Draft]:
    transmits = station.link.status in TRANSMITTING
    state = channel.standing(as_of)
    if state in NO_LICENCE:
        yield _licence_gone(station, channel, state, transmits)
        return
    until = channel.last_day
    # Before its expiry a renewal that is filed may still be refused: the paper's last day counts.
    stated = until if state is Standing.CONTINUES else channel.stated_last_day
    starts = station.link.starts_on if station.link.starts_on != FAR_PAST else as_of
    if channel.in_force_from > max(starts, as_of):
        yield _days_draft(
            "not_yet_in_force",
            MUST_FIX,
            station,
            channel,
            sentence(
                _("{station} is to transmit from {start}; {channel} is in force from {day}"),
                station=station.name,
                start=max(starts, as_of),
                channel=channel.name,
                day=channel.in_force_from,
            ),
            _("Start later, or not at all."),
            _("Days without a licence"),
            (channel.in_force_from - max(starts, as_of)).days,
        )
    if until < as_of:
        yield _days_draft(
            "licence_expired",
            MUST_FIX if transmits else DECIDE,
            station,
            channel,
            sentence(
                _("{station} relies on {channel}, which ended on {day}"),
                station=station.name,
                channel=channel.name,
                day=until,
            ),
            _("Stop transmitting until a licence is in force, and file."),
            _("Days since the end"),
            (as_of - until).days,
        )
    elif station.link.ends_on != FAR_FUTURE and station.link.ends_on > stated:
        yield _days_draft(
            "link_outlives_licence",
            NOTE if stated.toordinal() - as_of.toordinal() > 365 else DECIDE,
            station,
            channel,
            sentence(
                _("{link} is to run until {end}; {channel} ends on {day}"),
                link=station.link.code,
                end=station.link.ends_on,
                channel=channel.name,
                day=stated,
            ),
            _("Plan the renewal, or end the link earlier."),
            _("Days beyond the licence"),
            (station.link.ends_on - stated).days,
        )


def _days_draft(
    kind: str,
    severity: str,
    station: StationRecord,
    channel: ChannelRecord,
    headline: str,
    cure: str,
    what: str,
    days: int,
) -> Draft:
    return Draft(
        kind=kind,
        severity=severity,
        headline=headline,
        cure=cure,
        margin=-float(days),
        margin_unit="days",
        parties=_parties(station, channel),
        evidence=[
            Row(what, float(days), "days", _("dates of link and licence"), TERM),
            Row(_("Permitted"), 0.0, "days", _("no transmission outside the licence's dates"), LIMIT),
            Row(_("Margin"), -float(days), "days", _("permitted less found"), MARGIN),
        ],
    )


def _used_twice(network: Network, link_id: int | None) -> Iterable[Draft]:
    """One licensed channel named by stations of two links that are live on the same days."""
    users: dict[int, list[StationRecord]] = {}
    for station in network.stations:
        if station.channel is not None and station.link.own and station.tx_frequency_hz is not None:
            users.setdefault(station.channel.id, []).append(station)
    for stations in users.values():
        for number, one in enumerate(stations):
            for other in stations[number + 1 :]:
                if one.link.id == other.link.id or not _overlap(one, other):
                    continue
                if link_id is not None and link_id not in (one.link.id, other.link.id):
                    continue
                channel = one.channel
                assert channel is not None  # noqa: S101 - users are grouped by it
                yield Draft(
                    kind="same_assignment_twice",
                    severity=DECIDE,
                    headline=sentence(
                        _("{one} and {other} both rely on {channel}"),
                        one=one.name,
                        other=other.name,
                        channel=channel.name,
                    ),
                    cure=_(
                        "Give one of them another licensed channel, or confirm that the licence covers both."
                    ),
                    parties=Parties(
                        link_id=one.link.id,
                        station_label=one.label,
                        other_link_id=other.link.id,
                        other_station_label=other.label,
                        licence_id=channel.licence.id,
                        licensed_channel_id=channel.id,
                    ),
                )


def _overlap(one: StationRecord, other: StationRecord) -> bool:
    return one.link.starts_on <= other.link.ends_on and other.link.starts_on <= one.link.ends_on


def _licensed_twice(network: Network, criteria: Criteria) -> Iterable[Draft]:
    """Two of our assignments in force on one frequency at one place, under two licences."""
    by_frequency: dict[int, list[ChannelRecord]] = {}
    for channel in network.channels:
        if (
            channel.licence.own
            and channel.allowance.latitude_deg is not None
            and _in_force(channel, network.as_of)
        ):
            by_frequency.setdefault(channel.allowance.frequency_hz, []).append(channel)
    for channels in by_frequency.values():
        for number, one in enumerate(channels):
            for other in channels[number + 1 :]:
                if one.licence.id == other.licence.id:
                    continue
                here, there = one.allowance, other.allowance
                distance_m = float(
                    inverse(
                        here.latitude_deg or 0.0,
                        here.longitude_deg or 0.0,
                        there.latitude_deg or 0.0,
                        there.longitude_deg or 0.0,
                    )[0]
                )
                if distance_m > criteria.same_assignment_within_m:
                    continue
                first, second = sorted((one, other), key=lambda c: c.id)
                yield Draft(
                    kind="same_assignment_twice",
                    severity=DECIDE,
                    headline=sentence(
                        _("{one} and {other} license {frequency:.5f} MHz at one place"),
                        one=first.name,
                        other=second.name,
                        frequency=here.frequency_hz / 1e6,
                    ),
                    cure=_("Surrender one of the two; it is paid for twice."),
                    parties=Parties(
                        licence_id=first.licence.id,
                        licensed_channel_id=first.id,
                        other_station_label=f"channel {second.id}"[:20],
                    ),
                    evidence=[
                        Row(
                            _("Frequency"), here.frequency_hz / 1e6, "MHz", _("both licensed channels"), GIVEN
                        ),
                        Row(
                            _("Distance between the two positions"),
                            distance_m,
                            "m",
                            _("geodesic on WGS 84"),
                            GIVEN,
                        ),
                    ],
                )


def _in_force(channel: ChannelRecord, day: dt.date) -> bool:
    return channel.in_force_from <= day <= channel.last_day
