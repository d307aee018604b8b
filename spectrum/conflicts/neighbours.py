"""Which transmitters could disturb which receivers.

Frequency prunes, space confirms. A pair is left out only for one of these reasons:

1. the emission and the pass band share no frequency (the masks end there; outside
   its last point a mask holds no power, see spectrum.radio.masks);
2. the two links are never live on the same day, are one and the same link, or
   neither is ours;
3. even with both antennas pointing at each other, equal polarisation and free space over
   the straight chord, the interference stays below what is reported. Every term left out
   of that bound (off-axis loss, cross-polarisation, diffraction) is zero or a loss, and the
   chord is never longer than the path, so the bound is on the safe side.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from sites.geodesy import ecef
from spectrum.radio.propagation.free_space import free_space_loss_db
from spectrum.radio.rejection import rejection_table

from .criteria import Criteria
from .network import FloatArray, IntArray, Network

RECEPTIONS_PER_BLOCK = 4096
Tick = Callable[[int, int], None]


def pairs_that_could_matter(
    network: Network,
    noise_dbm: FloatArray,
    criteria: Criteria,
    *,
    link_id: int | None = None,
    tick: Tick | None = None,
) -> tuple[IntArray, IntArray, FloatArray]:
    """Station numbers (transmitter, receiver) of every pair to be computed, and their FDR in dB.

    ``link_id`` restricts to pairs in which that link is the disturber or the victim.
    ``tick(done, total)`` is called after each block of receivers.
    """
    emitters = np.flatnonzero(network.tx_hz > 0)
    receivers = np.flatnonzero(network.rx_hz > 0)
    emitters = emitters[np.argsort(network.tx_hz[emitters], kind="stable")]
    position = ecef(network.latitude_deg, network.longitude_deg)
    own = np.array([s.link.own for s in network.stations], dtype=bool)
    found: list[tuple[IntArray, IntArray, FloatArray]] = []
    total = len(receivers)
    for start in range(0, total, RECEPTIONS_PER_BLOCK):
        block = receivers[start : start + RECEPTIONS_PER_BLOCK]
        tx, rx = _frequency_neighbours(network, emitters, block)
        keep = (network.link_id[tx] != network.link_id[rx]) & (own[tx] | own[rx])
        keep &= (network.starts[tx] <= network.ends[rx]) & (network.starts[rx] <= network.ends[tx])
        if link_id is not None:
            keep &= (network.link_id[tx] == link_id) | (network.link_id[rx] == link_id)
        tx, rx = tx[keep], rx[keep]
        # A cheap first bound without FDR, then the exact FDR on what is left.
        keep = _strongest_i_over_n(network, tx, rx, position, noise_dbm, criteria) >= _reported_from(criteria)
        tx, rx = tx[keep], rx[keep]
        fdr = fdr_db(network, tx, rx)
        keep = _strongest_i_over_n(network, tx, rx, position, noise_dbm, criteria) - fdr >= _reported_from(
            criteria
        )
        found.append((tx[keep], rx[keep], fdr[keep]))
        if tick is not None:
            tick(min(start + RECEPTIONS_PER_BLOCK, total), total)
    if not found:
        empty = np.zeros(0, dtype=np.int64)
        return empty, empty, np.zeros(0)
    tx, rx, fdr = (np.concatenate(column) for column in zip(*found, strict=True))
    return tx, rx, fdr


def _reported_from(criteria: Criteria) -> float:
    """The smallest I/N that is reported: within the decision band below the limit."""
    return criteria.i_over_n_limit_db - criteria.decide_within_db


def _frequency_neighbours(
    network: Network, emitters: IntArray, receivers: IntArray
) -> tuple[IntArray, IntArray]:
    """Pairs whose masks share at least one frequency; ``emitters`` are sorted by frequency."""
    tx_parts: list[IntArray] = []
    rx_parts: list[IntArray] = []
    emitter_modes = network.mode[emitters]
    receiver_modes = network.mode[receivers]
    for tx_mode in np.unique(emitter_modes):
        senders = emitters[emitter_modes == tx_mode]
        sent_hz = network.tx_hz[senders]
        low_e, high_e = network.modes[tx_mode].emission.span_khz
        for rx_mode in np.unique(receiver_modes):
            listeners = receivers[receiver_modes == rx_mode]
            heard_hz = network.rx_hz[listeners]
            low_s, high_s = network.modes[rx_mode].selectivity.span_khz
            first = np.searchsorted(
                sent_hz, heard_hz + np.int64(np.floor((low_s - high_e) * 1e3)), side="left"
            )
            last = np.searchsorted(
                sent_hz, heard_hz + np.int64(np.ceil((high_s - low_e) * 1e3)), side="right"
            )
            count = last - first
            if not count.any():
                continue
            within = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
            tx_parts.append(senders[np.repeat(first, count) + within])
            rx_parts.append(np.repeat(listeners, count))
    if not tx_parts:
        empty = np.zeros(0, dtype=np.int64)
        return empty, empty
    return np.concatenate(tx_parts), np.concatenate(rx_parts)


def _strongest_i_over_n(
    network: Network,
    tx: IntArray,
    rx: IntArray,
    position: npt.NDArray[np.float64],
    noise_dbm: FloatArray,
    criteria: Criteria,
) -> FloatArray:
    """An I/N (before FDR) that no real path between the two can exceed, in dB."""
    chord_m = np.linalg.norm(position[tx] - position[rx], axis=-1)
    # The computed slant path is never shorter than this chord, nor than the assumed spacing at one site.
    distance_km = np.maximum(chord_m, criteria.same_site_spacing_m) / 1e3
    loss = free_space_loss_db(network.tx_hz[tx] / 1e6, distance_km)
    return (
        network.tx_power_dbm[tx]
        - network.line_losses_db[tx]
        + network.gain_dbi[tx]
        - loss
        + network.gain_dbi[rx]
        - network.line_losses_db[rx]
        - noise_dbm[rx]
    )


def fdr_db(network: Network, tx: IntArray, rx: IntArray) -> FloatArray:
    """FDR of each pair from the emission mask of one and the selectivity of the other (ITU-R SM.337), dB."""
    result = np.zeros(len(tx))
    offset_hz = network.tx_hz[tx] - network.rx_hz[rx]
    combination = network.mode[tx] * len(network.modes) + network.mode[rx]
    for code in np.unique(combination):
        of_code = combination == code
        emission = network.modes[code // len(network.modes)].emission
        selectivity = network.modes[code % len(network.modes)].selectivity
        result[of_code] = rejection_table(emission, selectivity, offset_hz[of_code]).fdr_db
    return result
