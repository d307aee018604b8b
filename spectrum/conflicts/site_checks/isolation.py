"""Isolation of every receiver at a site from every transmitter near it: found, needed, and what it is needed against.

The margins are those of the checks: of a station from itself by :mod:`.duplex`, of the others by :mod:`.carriers`
against blocking and against transmitter noise, whichever leaves less. What is found between two stations is their
feeders and duplexers, the isolation of their antennas and the filter that counts: the receiver's against a carrier,
the transmitter's against its noise. What is needed is what is found less the margin.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from spectrum.conflicts.columns import FloatArray, IntArray

from .carriers import SUMMED_WITHIN_DB, Arriving, carriers_at, noise_at
from .coupling import isolation_of_itself_db
from .duplex import BLOCKING, NOISE, isolation_needs
from .surroundings import Surroundings

#: Why a cell has no judgement: nothing counts there, a figure or what is entered about filters is missing.
JUDGED, NOT_COUNTED, FIGURE_MISSING, FILTERS_UNKNOWN = 0, 1, 2, 3
#: The kinds of finding that judge what arrives from others.
ARRIVING_KINDS: Final = {BLOCKING: "receiver_blocking", NOISE: "transmitter_noise"}


@dataclass(frozen=True)
class IsolationMatrix:
    """Transmitters ``tx`` (rows) and receivers ``rx`` (columns), by their number in the network; dB, NaN not known.

    ``against`` is what the margin is least against, ``assumed`` where the spacing of the antennas is not entered.
    """

    tx: IntArray
    rx: IntArray
    itself: npt.NDArray[np.bool_]
    found_db: FloatArray
    needed_db: FloatArray
    margin_db: FloatArray
    against: npt.NDArray[np.object_]
    standing: npt.NDArray[np.int64]
    assumed: npt.NDArray[np.bool_]


def isolation_matrix(around: Surroundings) -> IsolationMatrix:
    """The isolation of every receiver at a site from every transmitter near it."""
    c, network = around.coupling, around.network
    shape = (len(c.tx), len(c.rx))
    between = network.line_losses_db[c.tx][:, None] + c.isolation_db + network.line_losses_db[c.rx][None, :]
    found, margin = np.full(shape, np.nan), np.full(shape, np.nan)
    standing = np.full(shape, NOT_COUNTED)
    against = np.full(shape, "", dtype=object)
    ways: Sequence[tuple[str, Arriving, FloatArray]] = (
        (BLOCKING, carriers_at(around), between + c.receiver_filter_db),
        (NOISE, noise_at(around), between + c.sender_filter_db),
    )
    for what, arriving, isolation in ways:
        here = arriving.margin_db
        no_figure = np.isnan(here)
        said = np.where(no_figure, FIGURE_MISSING, np.where(arriving.known, JUDGED, FILTERS_UNKNOWN))
        said = np.where(arriving.counted, said, NOT_COUNTED)
        # A judgement goes before a figure that is not one; of two alike the one that leaves less.
        better = _rank(said) < _rank(standing)
        better |= (said == standing) & (here < margin)
        found, margin = np.where(better, isolation, found), np.where(better, here, margin)
        against = np.where(better & ~no_figure, what, against)
        standing = np.where(better, said, standing)
    _of_themselves(around, found, margin, against, standing)
    return IsolationMatrix(
        tx=c.tx,
        rx=c.rx,
        itself=c.itself,
        found_db=found,
        needed_db=found - margin,
        margin_db=margin,
        against=against,
        standing=standing,
        assumed=c.assumed,
    )


def _rank(standing: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Judged, then filters unknown, then a figure missing, then nothing that counts."""
    order = np.empty(4, dtype=np.int64)
    order[[JUDGED, FILTERS_UNKNOWN, FIGURE_MISSING, NOT_COUNTED]] = range(4)
    return order[standing]


def _of_themselves(
    around: Surroundings,
    found: FloatArray,
    margin: FloatArray,
    against: npt.NDArray[np.object_],
    standing: npt.NDArray[np.int64],
) -> None:
    """Fill in the stations that transmit and receive at once."""
    network = around.network
    for t, r in np.argwhere(around.coupling.itself):
        number = int(around.coupling.rx[r])
        if not network.own[number] or network.tx_hz[number] == network.rx_hz[number]:
            continue
        equipment = around.equipment(number)
        needs = isolation_needs(network, around.noise, around.limits, number, equipment)
        isolation = isolation_of_itself_db(network, number, equipment)
        found[t, r] = isolation
        standing[t, r] = FIGURE_MISSING
        if needs:
            needed, what, _rows = max(needs, key=lambda need: need[0])
            margin[t, r], against[t, r] = isolation - needed, what
            standing[t, r] = FIGURE_MISSING if np.isnan(isolation) else JUDGED


@dataclass(frozen=True)
class Arrived:
    """One transmitter at a receiver: level at its output (noise: in the receiver's bandwidth) and at the receiver, dBm."""

    station: int
    sent_dbm: float
    arrives_dbm: float
    judged: bool


def arrived(
    around: Surroundings, kind: str, receiver: int, sender: int | None = None
) -> tuple[list[Arrived], float]:
    """What arrives at a receiver from one transmitter or from all that are summed, strongest first; the limit, dBm.

    ``receiver`` and ``sender`` are numbers in the network. Levels that are not known are left out.
    """
    arriving = noise_at(around) if kind == ARRIVING_KINDS[NOISE] else carriers_at(around)
    c = around.coupling
    r = int(np.flatnonzero(c.rx == receiver)[0])
    margin = arriving.margin_db[:, r]
    wanted = margin <= SUMMED_WITHIN_DB if sender is None else c.tx == sender
    chosen = np.flatnonzero(arriving.counted[:, r] & ~np.isnan(margin) & wanted)
    found = [
        Arrived(
            int(c.tx[t]),
            _sent_dbm(arriving, int(t), r),
            float(arriving.level_dbm[t, r]),
            bool(arriving.known[t, r]),
        )
        for t in chosen
    ]
    found.sort(key=lambda one: (not one.judged, -one.arrives_dbm))
    return found, float(arriving.limit[r] + arriving.reference_dbm[r])


def _sent_dbm(arriving: Arriving, t: int, r: int) -> float:
    """The power at the output, in the receiver's bandwidth where it is noise: the terms before any loss."""
    return sum(
        float(row.value)
        for row in arriving.terms(t, r)
        if row.name in ("Transmitter output power", "Transmitter noise density", "Receiver's bandwidth")
    )
