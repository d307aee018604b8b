"""Which of our own channels, entered by a person under a label of their own, a row of the extract speaks of."""

from __future__ import annotations

import re
from collections import defaultdict

from licences.models import Authority, LicensedChannel
from sites.geodesy import inverse
from spectrum.extracts.entries import Entry
from spectrum.extracts.quality import ONE_TOWER_WITHIN_M

EXTRACT_LABEL = re.compile(r"\d+\.\d{5} .+")
SAME_CHANNEL_WITHIN_M = 20_000.0
"""A licensed position is mistyped by up to a digit of a minute (1.9 km) or ten (18.5 km); further off is another place."""


def channels_of_ours(entries: list[Entry], authority: Authority) -> dict[int, LicensedChannel]:
    """The channel of each own row that has one, by row number.

    Within a licence a row belongs to the nearest channel of its frequency within 20 km; of what is
    left, to the one channel within 100 m when it is the only one there: its frequency differs.
    """
    if authority._state.adding or not entries:
        return {}
    stored: dict[str, list[LicensedChannel]] = defaultdict(list)
    numbers = {entry.licence_number for entry in entries}
    rows = LicensedChannel.objects.filter(
        licence__authority=authority, licence__number__in=numbers
    ).select_related("licence__authority", "site")
    for channel in rows.order_by("pk"):
        if not EXTRACT_LABEL.fullmatch(channel.label):
            stored[channel.licence.number].append(channel)
    by_licence: dict[str, list[Entry]] = defaultdict(list)
    for entry in entries:
        by_licence[entry.licence_number].append(entry)
    found: dict[int, LicensedChannel] = {}
    for number, channels in stored.items():
        found |= _matched(by_licence[number], channels)
    return found


def _matched(entries: list[Entry], channels: list[LicensedChannel]) -> dict[int, LicensedChannel]:
    # One assignment may stand in several rows: each frequency at a place once.
    first: dict[tuple[int, str], Entry] = {}
    for entry in entries:
        first.setdefault((entry.frequency_hz, entry.tx.key), entry)
    pairs = sorted(
        (metres, entry.row, channel.pk)
        for entry in first.values()
        for channel in channels
        if (metres := _apart_m(entry, channel)) <= SAME_CHANNEL_WITHIN_M
        and channel.frequency_hz == entry.frequency_hz
    )
    of, taken = {}, set()
    by_pk = {channel.pk: channel for channel in channels}
    for _, row, pk in pairs:
        if row not in of and pk not in taken:
            of[row] = by_pk[pk]
            taken.add(pk)
    left = [entry for entry in first.values() if entry.row not in of]
    for entry in left:
        near = [c for c in channels if c.pk not in taken and _apart_m(entry, c) <= ONE_TOWER_WITHIN_M]
        rivals = [other for other in left if other.tx.key == entry.tx.key]
        if len(near) == 1 and len(rivals) == 1:
            of[entry.row] = near[0]
            taken.add(near[0].pk)
    leader = {(e.frequency_hz, e.tx.key): of.get(e.row) for e in first.values()}
    matched = ((entry.row, leader[entry.frequency_hz, entry.tx.key]) for entry in entries)
    return {row: channel for row, channel in matched if channel is not None}


def _apart_m(entry: Entry, channel: LicensedChannel) -> float:
    """How far the row's transmitter lies from the channel's licensed position; a channel of an area: nothing fits."""
    if channel.site is None:
        return float("inf")
    at = (channel.site.latitude_deg, channel.site.longitude_deg)
    if channel.latitude_deg is not None and channel.longitude_deg is not None:
        at = (channel.latitude_deg, channel.longitude_deg)
    return float(inverse(entry.tx.latitude_deg, entry.tx.longitude_deg, *at)[0])
