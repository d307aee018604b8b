"""Which receiver passbands a spectral line falls into, in whole Hz: used by products and harmonics."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Integers = npt.NDArray[np.int64]


def whole_hz(argument: str, value: npt.ArrayLike, size: int | None = None, *, least: int = 0) -> Integers:
    """A flat array of whole Hz, or a ValueError that names the argument.

    Parameters
    ----------
    argument : name to show, unit included
    value : scalar or array, Hz
    size : the number of values, where it is fixed; one value is then repeated
    least : least permitted value, Hz

    Returns
    -------
    array of int
        Frequencies or widths in Hz.

    Raises
    ------
    ValueError
        If a value is not a whole number of Hz, too small, or their number is wrong.

    Source
    ------
    A rule of this register: frequencies are whole Hz, so that products of them are exact.

    Range
    -----
    Whole numbers of ``least`` or more.

    Examples
    --------
    >>> whole_hz("width_hz", 12_500.0, size=2).tolist()
    [12500, 12500]
    >>> whole_hz("width_hz", [6250.5])
    Traceback (most recent call last):
    ...
    ValueError: width_hz holds 6250.5; whole Hz of 0 or more were expected.
    """
    given = np.atleast_1d(np.asarray(value))
    number = given.astype(np.float64)
    with np.errstate(invalid="ignore"):
        bad = ~np.isfinite(number) | (number != np.round(number)) | (number < least)
    if bad.any():
        raise ValueError(
            f"{argument} holds {number[bad][0]:.12g}; whole Hz of {least} or more were expected."
        )
    whole = given.astype(np.int64).ravel()
    if size is not None and whole.size not in (1, size):
        raise ValueError(f"{argument} has {whole.size} values; one, or {size} as there are frequencies.")
    return np.broadcast_to(whole, (size,)) if size is not None else whole


def spread(low: Integers, high: Integers) -> tuple[Integers, Integers]:
    """Row and column of every cell of the ranges ``low <= column < high``, one range per row.

    Parameters
    ----------
    low, high : arrays of int, one entry a row

    Returns
    -------
    tuple of array of int
        Row and column of each cell, row by row.

    Source
    ------
    Counting; no document.

    Range
    -----
    Whole numbers; a range that ends before it starts is empty.

    Examples
    --------
    >>> rows, columns = spread(np.array([0, 3]), np.array([2, 4]))
    >>> rows.tolist(), columns.tolist()
    ([0, 0, 1], [0, 1, 3])
    >>> spread(np.array([5]), np.array([5]))[0].tolist()
    []
    """
    counts = np.maximum(high - low, 0)
    rows = np.repeat(np.arange(counts.size), counts)
    starts = np.cumsum(counts) - counts
    columns = np.arange(rows.size) - np.repeat(starts - low, counts)
    return rows, columns


class Passbands:
    """Receivers sorted by frequency, asked which of them a line of some width touches.

    A line of width w at f touches a passband of width b about r when 2|f − r| ≤ w + b: edges that
    meet count, which is the safe side, and a line without width counts when it lies in the closed
    passband.
    """

    def __init__(self, frequency_hz: npt.ArrayLike, width_hz: npt.ArrayLike) -> None:
        frequency = whole_hz("rx_frequency_hz", frequency_hz, least=1)
        width = whole_hz("rx_width_hz", width_hz, frequency.size)
        self.order: Integers = np.argsort(frequency, kind="stable")
        self.frequency_hz: Integers = frequency[self.order]
        self.width_hz: Integers = width[self.order]
        self.greatest_width_hz = int(width.max(initial=0))

    def touched(self, line_hz: Integers, line_width_hz: Integers) -> tuple[Integers, Integers, Integers]:
        """Index of the line, index of the receiver as given, and line less receiver frequency in Hz."""
        reach = (line_width_hz + self.greatest_width_hz + 1) // 2
        lines, places = spread(
            np.searchsorted(self.frequency_hz, line_hz - reach, side="left"),
            np.searchsorted(self.frequency_hz, line_hz + reach, side="right"),
        )
        offset = line_hz[lines] - self.frequency_hz[places]
        inside = 2 * np.abs(offset) <= line_width_hz[lines] + self.width_hz[places]
        return lines[inside], self.order[places[inside]], offset[inside]

    def windows(self, reach_hz: int, most: int = 8) -> list[tuple[int, int]]:
        """Frequency windows in whole Hz, outside which no line of at most 2·reach_hz width touches.

        Neighbouring receivers share a window unless one of the ``most - 1`` widest gaps lies between.
        Windows begin at 1 Hz, so that a line and its mirror image below 0 Hz are met once.
        """
        if not self.frequency_hz.size:
            return []
        reach = reach_hz + (self.greatest_width_hz + 1) // 2
        gaps = np.diff(self.frequency_hz)
        wide = np.flatnonzero(gaps > 2 * reach)
        cuts = np.sort(wide[np.argsort(gaps[wide])[::-1][: most - 1]])
        first = self.frequency_hz[np.concatenate([[0], cuts + 1])] - reach
        last = self.frequency_hz[np.concatenate([cuts, [gaps.size]])] + reach
        return [(max(int(low), 1), int(high)) for low, high in zip(first, last, strict=True)]
