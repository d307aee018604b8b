"""Intermodulation of two and three signals: which products fall into which receivers.

A product has the frequency Σ aᵢ·fᵢ with whole coefficients aᵢ, the order Σ|aᵢ| and, since each
signal's width is multiplied by its coefficient, a width of up to Σ|aᵢ|·wᵢ. Frequencies are whole Hz.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from math import factorial
from typing import Final

import numpy as np
import numpy.typing as npt

from spectrum.radio.passbands import Integers, Passbands, spread, whole_hz
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

#: One row per product and receiver; see :func:`products_in_passbands`.
PRODUCT: Final = np.dtype(
    [
        ("rx", np.int64),
        ("tx", np.int64, (3,)),
        ("coefficients", np.int64, (3,)),
        ("order", np.int64),
        ("product_hz", np.int64),
        ("width_hz", np.int64),
        ("offset_hz", np.int64),
        ("on_own_signal", np.bool_),
    ]
)
_HIGHEST_ORDER: Final = 7
# Keeps the memory of a search bounded, however many signals meet.
_LOOK_UPS_AT_A_TIME: Final = 300_000


def products_in_passbands(
    tx_frequency_hz: npt.ArrayLike,
    tx_width_hz: npt.ArrayLike,
    rx_frequency_hz: npt.ArrayLike,
    rx_width_hz: npt.ArrayLike,
    orders: Sequence[int] = (3, 5, 7),
    signals: Sequence[int] = (2, 3),
    coefficient_sums: Sequence[int] | None = None,
    greatest_product_width_hz: npt.ArrayLike | None = None,
) -> npt.NDArray[np.void]:
    """Find the intermodulation products that touch a receiver's passband.

    A product of width w touches a passband of width b when their centres lie at most (w + b)/2 apart;
    edges that meet count. All products are considered that the orders, numbers of signals and sums of
    coefficients allow, whatever band they fall into, each once: 2A−B and the mirrored −2A+B are one
    product, of which the one with positive frequency is kept. Products that fall on the frequency of
    one of the signals that make them, as A+B−C does when A+B = 2C, **are reported** and marked
    ``on_own_signal``, for the caller to keep or drop.

    The search sorts the signals and, for every pattern of coefficients and every choice of all signals
    but one, looks up the range of the last signal that can reach the receivers; patterns of one order whose
    signals are chosen alike are looked up together.

    Parameters
    ----------
    tx_frequency_hz : array_like, shape (n,)
        Frequencies of the transmitters, whole Hz.
    tx_width_hz : array_like, shape (n,) or scalar
        Width of each emission, whole Hz; 0 counts product centres only.
    rx_frequency_hz : array_like, shape (m,)
        Frequencies of the receivers, whole Hz.
    rx_width_hz : array_like, shape (m,) or scalar
        Width of each passband, whole Hz.
    orders : sequence of int
        Orders to consider, 2 to 7.
    signals : sequence of int
        Numbers of different signals in a product, 2 and 3.
    coefficient_sums : sequence of int, optional
        Keep only products whose coefficients sum to one of these; (1,) are the products that fall
        near the band of the signals. None keeps all.
    greatest_product_width_hz : array_like, shape (m,) or scalar, optional
        Leave out, at each receiver, products wider than this, whole Hz. None keeps all.

    Returns
    -------
    structured array, shape (hits,)
        Fields ``rx`` (index of the receiver), ``tx`` (3 indices of transmitters, −1 unused),
        ``coefficients`` (3, descending, 0 unused), ``order``, ``product_hz``, ``width_hz``,
        ``offset_hz`` (product less receiver), ``on_own_signal``; sorted by receiver, order, distance.

    Raises
    ------
    ValueError
        When frequencies or widths are not whole Hz, or orders or signals are out of range.

    Source
    ------
    ITU-R SM.1134-1 (scope and terms read). That width and order add by |coefficient| is arithmetic.

    Range
    -----
    Orders 2 to 7, two or three signals. Two transmitters on the same frequency are two signals.

    Examples
    --------
    >>> hits = products_in_passbands([410_100_000, 420_100_000], 0, [430_100_000], 12_500, orders=(3,))
    >>> hits["coefficients"].tolist(), hits["tx"].tolist(), hits["product_hz"].tolist()
    ([[2, -1, 0]], [[1, 0, -1]], [430100000])
    >>> products_in_passbands([410_012_500, 410_025_000], 12_500, [420_000_000], 12_500).size
    0
    """
    given = whole_hz("tx_frequency_hz", tx_frequency_hz, least=1)
    given_width = whole_hz("tx_width_hz", tx_width_hz, given.size)
    receivers = Passbands(rx_frequency_hz, rx_width_hz)
    most = None
    if greatest_product_width_hz is not None:
        most = whole_hz("greatest_product_width_hz", greatest_product_width_hz, receivers.order.size)
    order = np.argsort(given, kind="stable")
    signal = _Signals(given[order], given_width[order], order)
    found = [np.empty(0, PRODUCT)]
    sums = None if coefficient_sums is None else frozenset(coefficient_sums)
    for alike in _alike(tuple(orders), tuple(signals), sums):
        found += _hits_of(alike, signal, receivers, most)
    hits = np.concatenate(found)
    return hits[np.lexsort((np.abs(hits["offset_hz"]), hits["order"], hits["rx"]))]


def coefficient_patterns(orders: Sequence[int], signals: Sequence[int]) -> list[tuple[int, ...]]:
    """List the coefficient patterns of products, both signs, coefficients descending.

    Parameters
    ----------
    orders : sequence of int
        Orders, 2 to 7.
    signals : sequence of int
        Numbers of signals, 2 and 3.

    Returns
    -------
    list of tuple of int
        Each pattern once: (2, −1) stands for 2A−B with any A and B.

    Raises
    ------
    ValueError
        When an order or a number of signals is out of range.

    Source
    ------
    Enumeration.

    Range
    -----
    Orders 2 to 7, two or three signals.

    Examples
    --------
    >>> coefficient_patterns([3], [2])
    [(2, 1), (2, -1), (1, -2), (-1, -2)]
    >>> [p for p in coefficient_patterns([3], [3]) if sum(p) == 1]
    [(1, 1, -1)]
    """
    for argument, values, low, high in (("orders", orders, 2, _HIGHEST_ORDER), ("signals", signals, 2, 3)):
        for value in values:
            if not low <= value <= high:
                raise ValueError(
                    f"{argument} holds {value}; whole numbers from {low} to {high} were expected."
                )
    patterns: dict[tuple[int, ...], None] = {}
    for order, count in product(dict.fromkeys(orders), dict.fromkeys(signals)):
        magnitudes = (m for m in product(range(order, 0, -1), repeat=count) if sum(m) == order)
        for magnitude in magnitudes:
            for signs in product((1, -1), repeat=count):
                signed = sorted((m * s for m, s in zip(magnitude, signs, strict=True)), reverse=True)
                patterns.setdefault(tuple(signed))
    return list(patterns)


@dataclass(frozen=True)
class _Signals:
    """Signals by rising frequency, and the place of each as given."""

    frequency_hz: Integers
    width_hz: Integers
    order: Integers


@dataclass(frozen=True)
class _Alike:
    """Patterns of one order, whose signals are chosen in the same way; one row a pattern.

    The signal at ``last`` is looked up, those at ``others`` are chosen first. ``ascending`` says that the chosen
    ones have equal coefficients, ``all_equal`` that the looked-up one has it too: each choice counts once.
    """

    patterns: Integers
    others: Integers
    last: Integers
    ascending: bool
    all_equal: bool

    def part(self, chosen: npt.NDArray[np.bool_]) -> _Alike:
        return replace(
            self, patterns=self.patterns[chosen], others=self.others[chosen], last=self.last[chosen]
        )


@lru_cache(maxsize=64)
def _alike(
    orders: tuple[int, ...], signals: tuple[int, ...], sums: frozenset[int] | None
) -> tuple[_Alike, ...]:
    """The patterns of some orders, put together that can be searched together."""
    rows: dict[tuple[int, int, bool, bool], list[tuple[tuple[int, ...], list[int], int]]] = {}
    for pattern in coefficient_patterns(orders, signals):
        if sums is not None and sum(pattern) not in sums:
            continue
        count = len(pattern)
        # The looked-up signal is the one whose coefficient is unlike the others, where there is one.
        last = next((i for i in reversed(range(count)) if pattern.count(pattern[i]) == 1), count - 1)
        others = [i for i in range(count) if i != last]
        ascending = count > 2 and pattern[others[0]] == pattern[others[1]]
        key = (count, sum(map(abs, pattern)), ascending, len(set(pattern)) == 1)
        rows.setdefault(key, []).append((pattern, others, last))
    found = []
    for (*_, ascending, all_equal), alike in rows.items():
        columns = [np.array(column, dtype=np.int64) for column in zip(*alike, strict=True)]
        found.append(_Alike(columns[0], columns[1], columns[2], ascending, all_equal))
    return tuple(found)


def _hits_of(
    alike: _Alike, signal: _Signals, receivers: Passbands, most: Integers | None
) -> Iterator[npt.NDArray[np.void]]:
    """Products of some patterns at the receivers, a bounded number of look-ups at a time."""
    frequency = signal.frequency_hz
    order = int(np.abs(alike.patterns[0]).sum())
    windows = np.array(receivers.windows((order * int(signal.width_hz.max(initial=0)) + 1) // 2))
    if frequency.size < alike.patterns.shape[1] or not windows.size:
        return
    reaching = _can_reach(alike.patterns, frequency, windows)
    if not reaching.any():
        return
    if not reaching.all():
        alike = alike.part(reaching)
    chosen = _choices(frequency.size, alike.others.shape[1], ascending=alike.ascending)
    at_a_time = max(_LOOK_UPS_AT_A_TIME // (len(alike.patterns) * len(windows)), 1)
    for first in range(0, len(chosen), at_a_time):
        number, members = _members(alike, chosen[first : first + at_a_time], frequency, windows)
        if len(members):
            yield _hits(alike.patterns[number], members, signal, receivers, most)


def _can_reach(patterns: Integers, frequency: Integers, windows: Integers) -> npt.NDArray[np.bool_]:
    """Which patterns, with every signal at its best end, come into any of the windows."""
    lowest, highest = int(frequency[0]), int(frequency[-1])
    least = np.where(patterns > 0, patterns * lowest, patterns * highest).sum(axis=1)
    greatest = np.where(patterns > 0, patterns * highest, patterns * lowest).sum(axis=1)
    within = (least[:, None] <= windows[:, 1]) & (greatest[:, None] >= windows[:, 0])
    return np.asarray(within.any(axis=1))


def _choices(count: int, signals: int, *, ascending: bool) -> Integers:
    """All choices of one or two different places, of two in ascending order only where that is asked for."""
    if signals == 1:
        return np.arange(count)[:, None]
    first, second = np.divmod(np.arange(count * count), count)
    keep = first < second if ascending else first != second
    return np.column_stack([first[keep], second[keep]])


def _members(
    alike: _Alike, chosen: Integers, frequency: Integers, windows: Integers
) -> tuple[Integers, Integers]:
    """The pattern of every product in the windows, and the places (in sorted order) of its signals."""
    coefficients = np.take_along_axis(alike.patterns, alike.others, axis=1)
    factor = np.take_along_axis(alike.patterns, alike.last[:, None], axis=1)[:, 0]
    partial = frequency[chosen] @ coefficients.T
    # c·f between L and U, for every choice, pattern and window; for c < 0 the bounds change places.
    up = (factor > 0)[:, None]
    from_hz = np.where(up, windows[:, 0] - partial[..., None], partial[..., None] - windows[:, 1])
    to_hz = np.where(up, windows[:, 1] - partial[..., None], partial[..., None] - windows[:, 0])
    size = np.abs(factor)[:, None]
    start = np.searchsorted(frequency, -(-from_hz // size), side="left")  # -(-x // c) rounds up
    stop = np.searchsorted(frequency, to_hz // size, side="right")
    if alike.all_equal:
        start = np.maximum(start, chosen[:, -1, None, None] + 1)
    cells, found = spread(start.ravel(), stop.ravel())
    choice, number, _ = np.unravel_index(cells, start.shape)
    different = (chosen[choice] != found[:, None]).all(axis=1)
    choice, number, found = choice[different], number[different], found[different]
    members = np.empty((found.size, alike.patterns.shape[1]), np.int64)
    np.put_along_axis(members, alike.others[number], chosen[choice], axis=1)
    np.put_along_axis(members, alike.last[number][:, None], found[:, None], axis=1)
    return number, members


def _hits(
    coefficients: Integers, members: Integers, signal: _Signals, receivers: Passbands, most: Integers | None
) -> npt.NDArray[np.void]:
    """Products, one row of coefficients and members each, in the receivers that they touch."""
    width_hz = (signal.width_hz[members] * np.abs(coefficients)).sum(axis=1)
    if most is not None:
        narrow = width_hz <= most.max(initial=0)
        coefficients, members, width_hz = coefficients[narrow], members[narrow], width_hz[narrow]
    sent_hz = signal.frequency_hz[members]
    product_hz = (sent_hz * coefficients).sum(axis=1)
    lines, rx, offset_hz = receivers.touched(product_hz, width_hz)
    if most is not None:
        narrow = width_hz[lines] <= most[rx]
        lines, rx, offset_hz = lines[narrow], rx[narrow], offset_hz[narrow]
    count = coefficients.shape[1]
    hits = np.zeros(lines.size, PRODUCT)
    hits["rx"] = rx
    hits["tx"] = -1
    hits["tx"][:, :count] = signal.order[members[lines]]
    hits["coefficients"][:, :count] = coefficients[lines]
    hits["order"] = np.abs(coefficients[:1]).sum()
    hits["product_hz"] = product_hz[lines]
    hits["width_hz"] = width_hz[lines]
    hits["offset_hz"] = offset_hz
    hits["on_own_signal"] = (sent_hz == product_hz[:, None]).any(axis=1)[lines]
    return hits


def product_level_dbm(level_dbm: ArrayLike, coefficients: npt.ArrayLike, intercept_dbm: ArrayLike) -> Array:
    """Estimate the level of an intermodulation product from the intercept point of its order.

    Parameters
    ----------
    level_dbm : array_like, shape (..., signals)
        Level of each signal where the product arises, dBm.
    coefficients : array_like of int, shape (..., signals)
        Coefficient of each signal, 0 unused.
    intercept_dbm : array_like, shape (...)
        Intercept point of the product's order for two signals of equal level, at the same place, dBm.

    Returns
    -------
    ndarray or scalar
        Level in dBm: Σ|aᵢ|·Pᵢ − (N − 1)·IP_N + 20 log(M/M₂), where M = N!/Π|aᵢ|! counts the ways in
        which the term of order N makes the product, and M₂ is M of the two-signal product nearest the
        band ((N+1)/2 and (N−1)/2), for which the intercept point is defined.

    Raises
    ------
    RadioRangeError
        When a level or intercept point lies outside −300 to 300 dBm.

    Source
    ------
    Power series of a memoryless device, leading term; from memory, not verified (ITU-R SM.1134-1 gives
    the structure, its equations could not be read). That the three-signal third-order product is 6 dB
    above the equal two-signal one was read in a trade article.

    Range
    -----
    Levels well below the intercept point. An estimate: real devices have memory and many stages.

    Known disagreements
    -------------------
    From memory, not verified; sources also give a fixed 6 dB for three signals at every order.

    Examples
    --------
    >>> float(product_level_dbm([-30.0, -30.0], [2, -1], 10.0))
    -110.0
    >>> round(float(product_level_dbm([-30.0, -30.0, -30.0], [1, 1, -1], 10.0)), 2)
    -103.98
    """
    level = in_range("level_dbm", level_dbm, -300.0, 300.0)
    intercept = in_range("intercept_dbm", intercept_dbm, -300.0, 300.0)
    magnitude = np.abs(np.asarray(coefficients, dtype=np.int64))
    order = magnitude.sum(axis=-1)
    factorials = np.array([float(factorial(n)) for n in range(int(order.max(initial=0)) + 1)])
    ways = factorials[order] / factorials[magnitude].prod(axis=-1)
    two_signal = factorials[order] / (factorials[(order + 1) // 2] * factorials[order // 2])
    return same_shape(
        np.asarray(
            (magnitude * np.where(magnitude > 0, level, 0.0)).sum(axis=-1)
            - (order - 1) * intercept
            + 20.0 * np.log10(ways / two_signal)
        )
    )


def transmitter_product_level_dbm(
    interferer_dbm: ArrayLike, coupling_loss_db: ArrayLike, conversion_loss_db: ArrayLike
) -> Array:
    """Estimate the level of a third-order product that arises in a transmitter's output stage.

    Parameters
    ----------
    interferer_dbm : array_like
        Power of the other transmitter, dBm.
    coupling_loss_db : array_like
        Loss from the other transmitter to the output stage: lines, antennas, filters, isolators, dB.
    conversion_loss_db : array_like
        Loss from the incoming signal to the product in the output stage (turn-around loss), dB.

    Returns
    -------
    ndarray or scalar
        Level at the output of the transmitter in which it arises, dBm.

    Raises
    ------
    RadioRangeError
        When a loss is negative or above 300 dB, or the power outside −300 to 300 dBm.

    Source
    ------
    From memory, not verified: P = P_interferer − coupling loss − conversion loss.

    Range
    -----
    The conversion loss belongs to the equipment; 5 to 15 dB is said of class C stages (from memory).

    Known disagreements
    -------------------
    From memory, not verified.

    Examples
    --------
    >>> float(transmitter_product_level_dbm(40.0, 50.0, 10.0))
    -20.0
    >>> transmitter_product_level_dbm(40.0, [50.0, 70.0], 10.0).tolist()
    [-20.0, -40.0]
    """
    return same_shape(
        in_range("interferer_dbm", interferer_dbm, -300.0, 300.0)
        - in_range("coupling_loss_db", coupling_loss_db, 0.0, 300.0)
        - in_range("conversion_loss_db", conversion_loss_db, 0.0, 300.0)
    )
