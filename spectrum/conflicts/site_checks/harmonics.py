"""Harmonics of transmitters in receivers at the same site and near it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from sites.sentences import sentence
from sites.words import gettext_noop as _
from spectrum.conflicts.columns import IntArray
from spectrum.conflicts.drafts import Draft, Parties
from spectrum.conflicts.evidence import GIVEN, Row
from spectrum.conflicts.kinds import DECIDE, NOTE
from spectrum.conflicts.wording import ordinal
from spectrum.radio.harmonics import harmonics_in_passbands

from .records import together
from .surroundings import SAFE, Surroundings

HIGHEST: Final = 5
LEVEL_UNKNOWN: Final = _(
    "The level of the harmonic: neither its suppression nor the antennas so far off their band are entered."
)


def harmonic_drafts(around: Surroundings) -> Iterator[Draft]:
    """A finding for every transmitter with a harmonic that touches a receiver's channel here.

    The level of a harmonic is not known to the register: at the same site a person must decide, between
    near sites it is a note.
    """
    c, network = around.coupling, around.network
    if not len(c.tx) or not len(c.rx):
        return
    occupied, channel = widths(around)
    hits = harmonics_in_passbands(network.tx_hz[c.tx], occupied, network.rx_hz[c.rx], channel, HIGHEST)
    one_site = c.across_m < around.criteria.same_site_within_m
    seen: set[tuple[int, int]] = set()
    for hit in hits:
        t, r = int(hit["tx"]), int(hit["rx"])
        sender, victim = c.tx[t], c.rx[r]
        ours = network.own[sender] or network.own[victim]
        if (t, r) in seen or not ours or not together(network, sender, victim):
            continue
        seen.add((t, r))
        one, other = around.station(sender), around.station(victim)
        number, offset_khz = int(hit["harmonic"]), float(hit["offset_hz"] / 1e3)
        yield Draft(
            kind="harmonic",
            severity=DECIDE if one_site[t, r] else NOTE,
            headline=sentence(
                _("The {ordinal} harmonic of {sender} ({sent:.5f} MHz) falls on {victim} ({heard:.5f} MHz)"),
                ordinal=ordinal(number),
                sender=one.name,
                sent=network.tx_hz[sender] / 1e6,
                victim=other.name,
                heard=network.rx_hz[victim] / 1e6,
            ),
            cure=sentence(
                _("A low-pass or notch filter behind {sender}, or another channel. {caution}"),
                sender=one.name,
                caution=SAFE,
            ),
            parties=Parties(one.link.id, one.label, other.link.id, other.label, site_id=other.site_id),
            evidence=[
                Row(
                    _("Transmit frequency"),
                    float(network.tx_hz[sender] / 1e6),
                    "MHz",
                    _("the register"),
                    GIVEN,
                ),
                Row(
                    _("Harmonic"),
                    float(hit["harmonic_hz"] / 1e6),
                    "MHz",
                    sentence(_("{number} × the frequency"), number=number),
                    GIVEN,
                ),
                Row(
                    _("Width of the harmonic, at most"),
                    float(hit["width_hz"] / 1e3),
                    "kHz",
                    sentence(_("{number} × the occupied bandwidth"), number=number),
                    GIVEN,
                ),
                Row(
                    _("Receive frequency"),
                    float(network.rx_hz[victim] / 1e6),
                    "MHz",
                    _("the register"),
                    GIVEN,
                ),
                Row(_("Harmonic from the receiver's centre"), offset_khz, "kHz", _("difference"), GIVEN),
                Row(
                    _("Distance of the sites"), float(_apart(around, t)), "m", _("geodesic on WGS 84"), GIVEN
                ),
            ],
            not_judged=[LEVEL_UNKNOWN],
        )


def widths(around: Surroundings) -> tuple[IntArray, IntArray]:
    """Occupied bandwidth of every transmitter near, and channel width of every receiver here, Hz."""
    c, modes, mode = around.coupling, around.network.modes, around.network.mode
    occupied = [modes[number].occupied_bandwidth_hz for number in mode[c.tx].tolist()]
    channel = [modes[number].channel_width_hz for number in mode[c.rx].tolist()]
    return np.array(occupied, dtype=np.int64), np.array(channel, dtype=np.int64)


def _apart(around: Surroundings, t: int) -> float:
    return float(around.place.apart_m[around.place.near == around.coupling.tx[t]][0])
