"""Which transmitters could disturb which receivers.

Frequency prunes, space confirms. A pair is left out only for one of these reasons:

1. the emission and the pass band share no frequency (the masks end there; outside
   its last point a mask holds no power, see spectrum.radio.masks);
2. the two links are never live on the same day, are one and the same link, or
   neither is ours;
3. the two are further apart, by the straight chord, than the policy radius of the check;
4. even with equal polarisation, what both antennas give in that direction at the most and the least loss that
   any path of that length can have, the interference stays below everything that is
   reported or summed. The term left out of that bound, cross-polarisation, is zero or a loss.

The least loss is that of :mod:`.least_loss`, which proves it: over level ground (no terrain in use) all
of P.452-18 counts, over terrain line of sight alone, for a horizon may stand right before an antenna.
The distance is the straight chord through the earth, which is never longer than the path. What the antennas
give at the most is that of :mod:`.off_boresight`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sites.geodesy import ecef
from spectrum.radio.propagation.free_space import free_space_loss_db
from spectrum.radio.rejection import NO_OVERLAP_FDR_DB, rejection_table

from .columns import FloatArray, IntArray
from .criteria import Criteria, Limits
from .least_loss import least_loss_db, line_of_sight_allowance_db
from .network import ModeRecord, Network, expanded
from .off_boresight import OffBoresight
from .path_loss import LEAST_HEIGHT_M, heights_over_lower

RECEPTIONS_PER_BLOCK = 4096
# For sums of bounds against sums of levels.
ROUNDING_DB = 1e-6
Tick = Callable[[int, int], None]


@dataclass(frozen=True)
class Candidates:
    """Pairs to be computed, with their FDR in dB."""

    tx: IntArray
    rx: IntArray
    fdr_db: FloatArray

    def __len__(self) -> int:
        return len(self.tx)


@dataclass(frozen=True)
class Meeting(Candidates):
    """Pairs that share a frequency and a day within the policy radius; ``chord_km`` between them."""

    chord_km: FloatArray

    def part(self, chosen: npt.NDArray[np.bool_]) -> Meeting:
        """The pairs that are chosen."""
        return Meeting(self.tx[chosen], self.rx[chosen], self.fdr_db[chosen], self.chord_km[chosen])


@dataclass(frozen=True)
class Bounded(Candidates):
    """Pairs that could matter; ``long_dbm`` and ``short_dbm`` are levels that they do not exceed."""

    long_dbm: FloatArray
    short_dbm: FloatArray


def candidates(
    network: Network,
    receivers: IntArray,
    noise_dbm: FloatArray,
    wanted_dbm: FloatArray,
    limits: Limits,
    criteria: Criteria,
    *,
    over_terrain: bool = False,
    tick: Tick | None = None,
) -> Iterator[Candidates]:
    """Every pair with one of the receivers named that could matter, in blocks of receivers.

    ``over_terrain`` says that some paths may be computed over a profile of the terrain.
    ``tick(done, total)`` is called before each block.
    """
    emitters = emitters_by_frequency(network)
    filter_ = Filter(network, noise_dbm, limits, criteria, over_terrain=over_terrain)
    total = len(receivers)
    for start in range(0, total, RECEPTIONS_PER_BLOCK):
        if tick is not None:
            tick(start, total)
        block = receivers[start : start + RECEPTIONS_PER_BLOCK]
        meeting = filter_.meeting(*frequency_neighbours(network, emitters, block))
        yield filter_.to_be_reported(filter_.that_matter(meeting, wanted_dbm), wanted_dbm)
    if tick is not None:
        tick(total, total)


def emitters_by_frequency(network: Network) -> IntArray:
    """All stations that transmit, by rising frequency."""
    emitters = np.flatnonzero(network.tx_hz > 0)
    return np.asarray(emitters[np.argsort(network.tx_hz[emitters], kind="stable")])


class Filter:
    """Leaves out the pairs that cannot matter; the reasons stand at the head of this module."""

    def __init__(
        self,
        network: Network,
        noise_dbm: FloatArray,
        limits: Limits,
        criteria: Criteria,
        *,
        over_terrain: bool,
    ) -> None:
        self.network, self.limits, self.criteria = network, limits, criteria
        self.over_terrain = over_terrain
        self.position = ecef(network.latitude_deg, network.longitude_deg)
        self.off_boresight = OffBoresight(network)
        # The level below which an interferer is neither reported nor summed, and those that are reported.
        depth = max(criteria.decide_within_db, criteria.aggregate_depth_db)
        self.by_noise = noise_dbm + limits.i_over_n_db - depth
        self.single = noise_dbm + limits.i_over_n_db - criteria.decide_within_db
        self.summed = noise_dbm + limits.aggregate_db - criteria.decide_within_db
        # Where all are ours, or all live on one day, no pair needs to be asked.
        self._all_own = bool(network.own.all())
        self._one_day = bool(len(network)) and int(network.starts.max()) <= int(network.ends.min())

    def by_wanted(self, wanted_dbm: FloatArray, rx: IntArray) -> FloatArray:
        """Level at receivers from which C/I is reported; NaN where the wanted level is not known."""
        return wanted_dbm[rx] - self.network.required_ci_db[rx] - self.criteria.decide_within_db

    def meeting(self, tx: IntArray, rx: IntArray) -> Meeting:
        """Of pairs whose masks may share a frequency those that do, on one day, within the policy radius."""
        network = self.network
        keep = network.link_id[tx] != network.link_id[rx]
        if not self._all_own:
            keep &= network.own[tx] | network.own[rx]
        if not self._one_day:
            keep &= (network.starts[tx] <= network.ends[rx]) & (network.starts[rx] <= network.ends[tx])
        tx, rx = tx[keep], rx[keep]
        chord_km = np.linalg.norm(self.position[tx] - self.position[rx], axis=-1) / 1e3
        near = chord_km <= self.criteria.policy_radius_km
        tx, rx, chord_km = tx[near], rx[near], chord_km[near]
        fdr = fdr_db(network, tx, rx)
        chord_km = np.maximum(chord_km, self.criteria.same_site_spacing_m / 1e3)
        return Meeting(tx, rx, fdr, chord_km).part(fdr < NO_OVERLAP_FDR_DB)

    def that_matter(self, pairs: Meeting, wanted_dbm: FloatArray) -> Bounded:
        """Of pairs that meet, those that could be reported or summed; without a wanted level, by noise alone."""
        network, limits = self.network, self.limits
        strongest = _strongest_without_loss(network, pairs.tx, pairs.rx) - pairs.fdr_db
        # By line of sight first: it costs little and leaves few for the rest of the bound.
        seen = strongest - free_space_loss_db(network.tx_hz[pairs.tx] / 1e6, pairs.chord_km)
        long = seen + line_of_sight_allowance_db(limits.long_percent[pairs.rx])
        short = seen + line_of_sight_allowance_db(limits.short_percent[pairs.rx])
        pairs, strongest, long, short = self._reaching(pairs, strongest, long, short, wanted_dbm)
        lost = self.off_boresight.lost_by_both_db(pairs.tx, pairs.rx)
        pairs, strongest, long, short = self._reaching(
            pairs, strongest - lost, long - lost, short - lost, wanted_dbm
        )
        if not self.over_terrain:
            long, short = self._over_level_ground(pairs, strongest)
            pairs, strongest, long, short = self._reaching(pairs, strongest, long, short, wanted_dbm)
        return Bounded(pairs.tx, pairs.rx, pairs.fdr_db, long, short)

    def _reaching(
        self,
        pairs: Meeting,
        strongest: FloatArray,
        long: FloatArray,
        short: FloatArray,
        wanted_dbm: FloatArray,
    ) -> tuple[Meeting, FloatArray, FloatArray, FloatArray]:
        """The pairs whose levels at the two percentages of time reach one of the limits, with their levels."""
        # NaN, no wanted level known, compares as False: nothing to be protected by C/I.
        keep = (long >= self.by_noise[pairs.rx]) | (short >= self.by_wanted(wanted_dbm, pairs.rx))
        return pairs.part(keep), strongest[keep], long[keep], short[keep]

    def to_be_reported(self, pairs: Bounded, wanted_dbm: FloatArray) -> Bounded:
        """Pairs of the receivers at which something may be reported: one interferer, or the sum of all.

        ``pairs`` must hold every interferer of its receivers that matters.
        """
        alone = (pairs.long_dbm >= self.single[pairs.rx]) | (
            pairs.short_dbm >= self.by_wanted(wanted_dbm, pairs.rx)
        )
        counted = pairs.long_dbm >= self.by_noise[pairs.rx]
        milliwatts = np.where(counted, 10.0 ** (pairs.long_dbm / 10.0), 0.0)
        sums = np.bincount(pairs.rx, weights=milliwatts, minlength=len(self.network))
        many = np.bincount(pairs.rx, weights=counted, minlength=len(self.network)) >= 2
        with np.errstate(divide="ignore"):
            of_receiver = many & (10.0 * np.log10(sums) + ROUNDING_DB >= self.summed)
        of_receiver[pairs.rx[alone]] = True
        keep = of_receiver[pairs.rx]
        return Bounded(
            pairs.tx[keep], pairs.rx[keep], pairs.fdr_db[keep], pairs.long_dbm[keep], pairs.short_dbm[keep]
        )

    def _over_level_ground(self, pairs: Meeting, strongest: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Levels that P.452-18 over level ground at the height of the lower site does not exceed."""
        network, tx, rx = self.network, pairs.tx, pairs.rx
        height_tx, height_rx = heights_over_lower(network, tx, rx)
        north, other = network.latitude_deg[tx], network.latitude_deg[rx]
        # A great circle between two places of one hemisphere does not come nearer to the equator than they;
        # half a degree covers the ellipsoid.
        nearest = np.where(north * other > 0.0, np.minimum(np.abs(north), np.abs(other)) - 0.5, 0.0)
        loss = least_loss_db(
            network.tx_hz[tx] / 1e6,
            pairs.chord_km,
            np.stack((self.limits.long_percent[rx], self.limits.short_percent[rx])),
            np.maximum(height_tx, LEAST_HEIGHT_M),
            np.maximum(height_rx, LEAST_HEIGHT_M),
            np.maximum(nearest, 0.0),
            self.criteria.climate,
        )
        return strongest - loss[0], strongest - loss[1]


class LinkSearch:
    """A network sorted once, so that the pairs of one link are found in about a millisecond."""

    def __init__(self, network: Network, filter_: Filter) -> None:
        self.network, self._filter = network, filter_
        self._of_link = np.argsort(network.link_id, kind="stable")
        self._link_id = network.link_id[self._of_link]
        modes = range(len(network.modes))
        sends, hears = network.tx_hz > 0, network.rx_hz > 0
        self._senders = [_sorted_by(network.tx_hz, sends & (network.mode == m)) for m in modes]
        self._listeners = [_sorted_by(network.rx_hz, hears & (network.mode == m)) for m in modes]

    def meeting(self, link_id: int) -> Meeting:
        """Every pair in which the link has a part and whose masks, days and distance let it meet, both ways."""
        network = self.network
        first, last = np.searchsorted(self._link_id, [link_id, link_id + 1])
        own = self._of_link[first:last]
        found: list[tuple[IntArray, IntArray]] = []
        for station in own.tolist():
            mode, alone = network.modes[network.mode[station]], np.array([station])
            for m, other in enumerate(network.modes):
                if network.rx_hz[station] > 0:
                    low, high = window_hz(other, mode)
                    heard_hz = network.rx_hz[station]
                    order, hertz = self._senders[m]
                    span = np.searchsorted(hertz, [heard_hz + low, heard_hz + high + 1])
                    found.append(expanded(order, span[:1], span[1:], alone))
                if network.tx_hz[station] > 0:
                    low, high = window_hz(mode, other)
                    sent_hz = network.tx_hz[station]
                    order, hertz = self._listeners[m]
                    span = np.searchsorted(hertz, [sent_hz - high, sent_hz - low + 1])
                    rx, tx = expanded(order, span[:1], span[1:], alone)
                    found.append((tx, rx))
        return self._filter.meeting(*joined_pairs(found))


def joined_pairs(parts: list[tuple[IntArray, IntArray]]) -> tuple[IntArray, IntArray]:
    """Pairs found part by part."""
    if not parts:
        return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
    return np.concatenate([tx for tx, _ in parts]), np.concatenate([rx for _, rx in parts])


def _sorted_by(hertz: IntArray, member: npt.NDArray[np.bool_]) -> tuple[IntArray, IntArray]:
    stations = np.flatnonzero(member)
    stations = stations[np.argsort(hertz[stations], kind="stable")]
    return stations, hertz[stations]


def window_hz(emission: ModeRecord, selectivity: ModeRecord) -> tuple[int, int]:
    """Offsets, transmit less receive frequency, between which two masks share a frequency."""
    low_e, high_e = emission.emission.span_khz
    low_s, high_s = selectivity.selectivity.span_khz
    return int(np.floor((low_s - high_e) * 1e3)), int(np.ceil((high_s - low_e) * 1e3))


def _strongest_without_loss(network: Network, tx: IntArray, rx: IntArray) -> FloatArray:
    """Level at the receiver with both antennas at their full gain and no path loss, dBm."""
    return (
        network.tx_power_dbm[tx]
        - network.line_losses_db[tx]
        + network.gain_dbi[tx]
        + network.gain_dbi[rx]
        - network.line_losses_db[rx]
    )


def frequency_neighbours(
    network: Network, emitters: IntArray, receivers: IntArray
) -> tuple[IntArray, IntArray]:
    """Pairs whose masks share at least one frequency; ``emitters`` are sorted by frequency."""
    return joined_pairs(
        [
            expanded(senders, first, last, listeners)
            for senders, listeners, first, last in _windows(network, emitters, receivers)
        ]
    )


def emissions_heard(network: Network, receivers: IntArray) -> IntArray:
    """How many emissions share a frequency with each receiver: what its search costs."""
    emitters = emitters_by_frequency(network)
    count = np.zeros(len(network), dtype=np.int64)
    for _, listeners, first, last in _windows(network, emitters, receivers):
        count[listeners] += np.maximum(last - first, 0)
    return count[receivers]


def _windows(
    network: Network, emitters: IntArray, receivers: IntArray
) -> Iterator[tuple[IntArray, IntArray, IntArray, IntArray]]:
    """For each two modes: senders by frequency, listeners, and the first and last sender of each listener."""
    emitter_modes = network.mode[emitters]
    receiver_modes = network.mode[receivers]
    for tx_mode in np.unique(emitter_modes):
        senders = emitters[emitter_modes == tx_mode]
        sent_hz = network.tx_hz[senders]
        for rx_mode in np.unique(receiver_modes):
            listeners = receivers[receiver_modes == rx_mode]
            heard_hz = network.rx_hz[listeners]
            low, high = window_hz(network.modes[tx_mode], network.modes[rx_mode])
            yield (
                senders,
                listeners,
                np.searchsorted(sent_hz, heard_hz + low, side="left"),
                np.searchsorted(sent_hz, heard_hz + high, side="right"),
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
