"""Harmonics of transmitters in receivers at the same site and near it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from spectrum.conflicts.columns import IntArray
from spectrum.conflicts.drafts import Draft, Parties
from spectrum.conflicts.evidence import GIVEN, Row
from spectrum.conflicts.kinds import DECIDE, NOTE
from spectrum.radio.harmonics import harmonics_in_passbands

from .records import together
from .surroundings import SAFE, Surroundings

HIGHEST: Final = 5
LEVEL_UNKNOWN: Final = (
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
            headline=f"The {_ordinal(number)} harmonic of {one.name} ({network.tx_hz[sender] / 1e6:.5f} MHz) falls on "
            f"{other.name} ({network.rx_hz[victim] / 1e6:.5f} MHz)",
            cure=f"A low-pass or notch filter behind {one.name}, or another channel. {SAFE}",
            parties=Parties(one.link.id, one.label, other.link.id, other.label, site_id=other.site_id),
            evidence=[
                Row("Transmit frequency", float(network.tx_hz[sender] / 1e6), "MHz", "the register", GIVEN),
                Row("Harmonic", float(hit["harmonic_hz"] / 1e6), "MHz", f"{number} × the frequency", GIVEN),
                Row(
                    "Width of the harmonic, at most",
                    float(hit["width_hz"] / 1e3),
                    "kHz",
                    f"{number} × the occupied bandwidth",
                    GIVEN,
                ),
                Row("Receive frequency", float(network.rx_hz[victim] / 1e6), "MHz", "the register", GIVEN),
                Row("Harmonic from the receiver's centre", offset_khz, "kHz", "difference", GIVEN),
                Row("Distance of the sites", float(_apart(around, t)), "m", "geodesic on WGS 84", GIVEN),
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


def _ordinal(number: int) -> str:
    return {2: "2nd", 3: "3rd"}.get(number, f"{number}th")
