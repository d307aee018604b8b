"""Intermodulation of two and three signals: which products fall into which receivers.

A product has the frequency Σ aᵢ·fᵢ with whole coefficients aᵢ, the order Σ|aᵢ| and, since each
signal's width is multiplied by its coefficient, a width of up to Σ|aᵢ|·wᵢ. Frequencies are whole Hz.
"""

from __future__ import annotations

from collections.abc import Sequence
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


def products_in_passbands(
    tx_frequency_hz: npt.ArrayLike,
    tx_width_hz: npt.ArrayLike,
    rx_frequency_hz: npt.ArrayLike,
    rx_width_hz: npt.ArrayLike,
    orders: Sequence[int] = (3, 5, 7),
    signals: Sequence[int] = (2, 3),
    coefficient_sums: Sequence[int] | None = None,
) -> npt.NDArray[np.void]:
    """Find the intermodulation products that touch a receiver's passband.

    A product of width w touches a passband of width b when their centres lie at most (w + b)/2 apart;
    edges that meet count. All products are considered that the orders, numbers of signals and sums of
    coefficients allow, whatever band they fall into, each once: 2A−B and the mirrored −2A+B are one
    product, of which the one with positive frequency is kept. Products that fall on the frequency of
    one of the signals that make them, as A+B−C does when A+B = 2C, **are reported** and marked
    ``on_own_signal``, for the caller to keep or drop.

    The search sorts the signals and, for every pattern of coefficients and every choice of all signals
    but one, looks up the range of the last signal that can reach the receivers.

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
    order = np.argsort(given, kind="stable")
    frequency, width = given[order], given_width[order]
    found = [np.empty(0, PRODUCT)]
    for pattern in coefficient_patterns(orders, signals):
        if coefficient_sums is not None and sum(pattern) not in coefficient_sums:
            continue
        reach = (int(np.abs(pattern).sum()) * int(width.max(initial=0)) + 1) // 2
        for low_hz, high_hz in receivers.windows(reach):
            members = _members(pattern, frequency, low_hz, high_hz)
            found.append(_hits(pattern, members, frequency, width, order, receivers))
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


def _members(pattern: tuple[int, ...], frequency: Integers, low_hz: int, high_hz: int) -> Integers:
    """Places (in sorted order) of the signals of every product between the bounds, shape (hits, signals).

    Signals with equal coefficients are interchangeable and appear in ascending order only.
    """
    count = len(pattern)
    if frequency.size < count or not _can_reach(pattern, frequency, low_hz, high_hz):
        return np.empty((0, count), np.int64)
    # The looked-up signal is the one whose coefficient is unlike the others, where there is one.
    last = next((i for i in reversed(range(count)) if pattern.count(pattern[i]) == 1), count - 1)
    others = [i for i in range(count) if i != last]
    chosen = _choices(frequency.size, [pattern[i] for i in others])
    partial = frequency[chosen] @ np.array([pattern[i] for i in others])
    coefficient = pattern[last]
    # c·f between L and U: for c < 0 the bounds change places; -(-x // c) rounds up
    from_hz, to_hz = (low_hz - partial, high_hz - partial)
    if coefficient < 0:
        from_hz, to_hz, coefficient = -to_hz, -from_hz, -coefficient
    start = np.searchsorted(frequency, -(-from_hz // coefficient), side="left")
    stop = np.searchsorted(frequency, to_hz // coefficient, side="right")
    for place, i in enumerate(others):
        if pattern[i] == pattern[last]:
            start = np.maximum(start, chosen[:, place] + 1)
    rows, found = spread(start, stop)
    members = np.empty((rows.size, count), np.int64)
    members[:, others] = chosen[rows]
    members[:, last] = found
    different = (chosen[rows] != found[:, None]).all(axis=1)
    kept: Integers = members[different]
    return kept


def _can_reach(pattern: tuple[int, ...], frequency: Integers, low_hz: int, high_hz: int) -> bool:
    """Whether the pattern, with every signal at its best end, comes between the bounds."""
    lowest, highest = int(frequency[0]), int(frequency[-1])
    least = sum(a * (lowest if a > 0 else highest) for a in pattern)
    most = sum(a * (highest if a > 0 else lowest) for a in pattern)
    return least <= high_hz and most >= low_hz


def _choices(count: int, coefficients: list[int]) -> Integers:
    """All choices of different places for the coefficients, ascending where two are equal."""
    if len(coefficients) == 1:
        return np.arange(count)[:, None]
    first, second = np.divmod(np.arange(count * count), count)
    keep = first < second if coefficients[0] == coefficients[1] else first != second
    return np.column_stack([first[keep], second[keep]])


def _hits(
    pattern: tuple[int, ...],
    members: Integers,
    frequency: Integers,
    width: Integers,
    order: Integers,
    receivers: Passbands,
) -> npt.NDArray[np.void]:
    coefficients = np.array(pattern)
    count = len(pattern)
    product_hz = frequency[members] @ coefficients
    width_hz = width[members] @ np.abs(coefficients)
    lines, rx, offset_hz = receivers.touched(product_hz, width_hz)
    hits = np.zeros(lines.size, PRODUCT)
    hits["rx"] = rx
    hits["tx"] = -1
    hits["tx"][:, :count] = order[members[lines]]
    hits["coefficients"][:, :count] = coefficients
    hits["order"] = np.abs(coefficients).sum()
    hits["product_hz"] = product_hz[lines]
    hits["width_hz"] = width_hz[lines]
    hits["offset_hz"] = offset_hz
    hits["on_own_signal"] = (frequency[members[lines]] == product_hz[lines, None]).any(axis=1)
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
