"""Places gathered into the cells of a grid, and lines between cells, where there is too much to draw each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .columns import FloatArray, IntArray


@dataclass(frozen=True)
class Gathered:
    """Cells that hold a place, and the different lines between them.

    Attributes
    ----------
    x, y : mean of the cell's places, on the map's square
    cell_sites, cell_worst : how many places; the worst rank of what was found at them
    line_from, line_to, line_count : places in the columns of cells; how many lines are drawn as one
    line_look, line_worst : of the weightiest of them (lowest look), and the worst rank
    within : how many lines begin and end in one cell, by cell
    within_worst : the worst rank of these
    """

    x: FloatArray
    y: FloatArray
    cell_sites: IntArray
    cell_worst: IntArray
    line_from: IntArray
    line_to: IntArray
    line_count: IntArray
    line_look: IntArray
    line_worst: IntArray
    within: IntArray
    within_worst: IntArray


def gathered(
    x: FloatArray,
    y: FloatArray,
    site_worst: IntArray,
    line_from: IntArray,
    line_to: IntArray,
    look: IntArray,
    worst: IntArray,
    *,
    cell: float,
    none_open: int,
) -> Gathered:
    """Gather places into square cells of side ``cell``, and lines by the cells of their ends.

    Parameters
    ----------
    x, y, site_worst : one entry a place; x and y from 0 to 1
    line_from, line_to, look, worst : one entry a line; ends are places in the columns above
    cell : above 0
    none_open : the rank that stands for nothing found
    """
    across = int(1.0 / cell) + 2
    keys = (x / cell).astype(np.int64) * across + (y / cell).astype(np.int64)
    _, number, count = np.unique(keys, return_inverse=True, return_counts=True)
    cells = len(count)
    cell_worst = np.full(cells, none_open, dtype=np.int64)
    np.minimum.at(cell_worst, number, site_worst)
    ends = np.sort(np.stack((number[line_from], number[line_to])), axis=0)
    inside = ends[0] == ends[1]
    within = np.bincount(ends[0][inside], minlength=cells)
    within_worst = np.full(cells, none_open, dtype=np.int64)
    np.minimum.at(within_worst, ends[0][inside], worst[inside])
    pairs, of_pair, together = np.unique(
        ends[0][~inside] * cells + ends[1][~inside], return_inverse=True, return_counts=True
    )
    line_look = np.full(len(pairs), np.iinfo(np.int64).max)
    np.minimum.at(line_look, of_pair, look[~inside])
    line_worst = np.full(len(pairs), none_open, dtype=np.int64)
    np.minimum.at(line_worst, of_pair, worst[~inside])
    return Gathered(
        x=np.bincount(number, weights=x, minlength=cells) / count,
        y=np.bincount(number, weights=y, minlength=cells) / count,
        cell_sites=count.astype(np.int64),
        cell_worst=cell_worst,
        line_from=pairs // max(cells, 1),
        line_to=pairs % max(cells, 1),
        line_count=together.astype(np.int64),
        line_look=line_look,
        line_worst=line_worst,
        within=within.astype(np.int64),
        within_worst=within_worst,
    )
