"""Gathers what the report on one path of a link is made from."""

from __future__ import annotations

from collections.abc import Sequence

from django.conf import settings

from spectrum.conflicts.gather import criteria_in_force, terrain_in_force
from spectrum.conflicts.network import Network
from spectrum.conflicts.path_report import Fading, PathReport, Receiver, path_report
from spectrum.models import Station


def report_between(network: Network, one: Station, other: Station) -> PathReport:
    """The path between two stations of a link; the network holds both."""
    records = {record.id: record for record in network.stations}
    ends: Sequence[Station] = (one, other)
    path = Network(as_of=network.as_of, stations=[records[station.pk] for station in ends])
    receivers = [
        Receiver(s.mode.receiver_threshold_dbm, s.mode.bit_rate_kbps, s.mode.one_way_delay_ms) for s in ends
    ]
    fading = Fading(**settings.RADIO_FADING) if settings.RADIO_FADING else None
    return path_report(path, receivers, criteria_in_force(), terrain_in_force(), fading)
