"""Paid for and unused, transmitting without a licence, granted and not built, built and abandoned."""

from __future__ import annotations

import datetime as dt

from django.db.models import Prefetch
from django.utils.translation import gettext, ngettext

from licences.models import Licence, LicensedChannel
from licences.selectors import all_licences, all_licensed_channels, in_force_on
from licences.standing import runs_out_before
from sites.reading import written_day
from spectrum.models import CommissioningRecord, Link, Station
from spectrum.selectors import all_stations

from .parts import UNUSED, Gap, Part


def licensed_and_built(day: dt.date) -> list[Part]:
    """What we pay for beside what we have built."""
    licences = list(
        in_force_on(all_licences().filter(holder__own=True), day).prefetch_related(
            Prefetch("channels", queryset=all_licensed_channels())
        )
    )
    stations = list(all_stations().filter(link__holder__own=True))
    in_force = {licence.pk for licence in licences}
    running = [channel for licence in licences for channel in licence.channels.all() if _runs(channel, day)]
    users: dict[int, list[Station]] = {}
    for station in stations:
        if station.licensed_channel_id is not None:
            users.setdefault(station.licensed_channel_id, []).append(station)
    used = {key for key, rows in users.items() if any(s.link.status in Link.LIVE for s in rows)}
    built = {key for key, rows in users.items() if any(s.link.status == Link.Status.ON_AIR for s in rows)}
    return [
        Part(
            "unused",
            UNUSED,
            gettext("channels paid for and unused"),
            gettext(
                "No live link relies on them. A fee belongs to a whole licence and is counted where none of its "
                "channels is used."
            ),
            _unused(licences, running, used),
        ),
        Part(
            "unlicensed",
            UNUSED,
            gettext("stations on the air without a licence in force"),
            gettext("They transmit without permission: switch off, or enter the licence that covers them."),
            _unlicensed(stations, in_force, day),
        ),
        Part(
            "not_built",
            UNUSED,
            gettext("granted and not built"),
            gettext("A licence that is not brought into use in time ends by itself."),
            _not_built(licences, running, built, day),
        ),
        Part(
            "abandoned",
            UNUSED,
            gettext("built and abandoned: the link is retired, the licence runs on"),
            gettext("They block the frequency and cost their fee."),
            _abandoned(running, users, used),
        ),
        Part(
            "unseen",
            UNUSED,
            gettext("stations on the air without a commissioning record"),
            gettext("Nothing in the register shows that they exist."),
            _unseen(stations),
        ),
    ]


def _runs(channel: LicensedChannel, day: dt.date) -> bool:
    """Whether the channel itself holds on a day; its licence is known to."""
    return (
        (channel.in_force_from is None or channel.in_force_from <= day)
        and not (
            channel.expires_on is not None
            and channel.expires_on < day
            and runs_out_before(channel.expires_on, channel.licence.expires_on)
        )
        and (channel.ended_on is None or channel.ended_on > day)
    )


def _unused(licences: list[Licence], running: list[LicensedChannel], used: set[int]) -> list[Gap]:
    idle: dict[int, list[LicensedChannel]] = {}
    busy: set[int] = set()
    for channel in running:
        if channel.pk in used:
            busy.add(channel.licence_id)
        else:
            idle.setdefault(channel.licence_id, []).append(channel)
    gaps = []
    for licence in licences:
        channels = idle.get(licence.pk, [])
        if channels and licence.pk not in busy:
            said = ngettext(
                "its only channel is unused", "none of its {count} channels is used", len(channels)
            ).format(count=len(channels))
            gaps.append(
                Gap(
                    licence,
                    said,
                    fee=licence.yearly_fee,
                    currency=licence.fee_currency,
                    step=("licence-step", (licence.pk, "surrender")),
                )
            )
        else:
            gaps += [
                Gap(
                    c,
                    gettext("unused; other channels of the licence are used"),
                    step=("licensed-channel-step", (c.pk, "surrender")),
                )
                for c in channels
            ]
    return gaps


def _unlicensed(stations: list[Station], in_force: set[int], day: dt.date) -> list[Gap]:
    gaps = []
    for station in stations:
        if station.link.status != Link.Status.ON_AIR or station.tx_frequency_hz is None:
            continue
        channel = station.licensed_channel
        if channel is None:
            gaps.append(Gap(station, gettext("no licensed channel is named")))
        elif channel.licence_id not in in_force or not _runs(channel, day):
            gaps.append(
                Gap(
                    station,
                    gettext("{channel} is not in force on {day}").format(
                        channel=channel, day=written_day(day)
                    ),
                )
            )
    return gaps


def _not_built(
    licences: list[Licence], running: list[LicensedChannel], built: set[int], day: dt.date
) -> list[Gap]:
    holding = {channel.licence_id for channel in running if channel.pk in built}
    gaps = []
    for licence in licences:
        if licence.brought_into_use_on is not None or licence.pk in holding:
            continue
        until = licence.bring_into_use_by
        said = gettext("not brought into use, and no date by which it has to be")
        if until is not None:
            days = (until - day).days
            sentence = (
                ngettext(
                    "to be in use by {until}, {days} day from now",
                    "to be in use by {until}, {days} days from now",
                    days,
                )
                if days >= 0
                else ngettext(
                    "to be in use by {until}, {days} day ago",
                    "to be in use by {until}, {days} days ago",
                    -days,
                )
            )
            said = sentence.format(until=written_day(until), days=abs(days))
        gaps.append(
            Gap(
                licence,
                said,
                fee=licence.yearly_fee,
                currency=licence.fee_currency,
                step=("licence-step", (licence.pk, "surrender")),
            )
        )
    return gaps


def _abandoned(running: list[LicensedChannel], users: dict[int, list[Station]], used: set[int]) -> list[Gap]:
    gaps = []
    for channel in running:
        left = [s.link for s in users.get(channel.pk, ()) if s.link.status == Link.Status.RETIRED]
        if left and channel.pk not in used:
            sentence = (
                gettext("link {link} is retired since {ends_on}")
                if left[0].ends_on
                else gettext("link {link} is retired")
            )
            gaps.append(
                Gap(
                    channel,
                    sentence.format(
                        link=left[0].code, ends_on=written_day(left[0].ends_on) if left[0].ends_on else ""
                    ),
                    step=("licensed-channel-step", (channel.pk, "surrender")),
                )
            )
    return gaps


def _unseen(stations: list[Station]) -> list[Gap]:
    seen = set(CommissioningRecord.objects.values_list("station_id", flat=True))
    return [
        Gap(
            s,
            gettext("on the air from {starts_on}").format(starts_on=written_day(s.link.starts_on))
            if s.link.starts_on
            else gettext("on the air from an unknown day"),
        )
        for s in stations
        if s.link.status == Link.Status.ON_AIR and s.tx_frequency_hz is not None and s.pk not in seen
    ]
