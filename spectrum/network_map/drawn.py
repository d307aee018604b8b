"""What one picture of the map is made of, as plain values that travel to the browser."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from .cells import Gathered, gathered
from .columns import NONE_OPEN, BoolArray, FloatArray, IntArray, MapColumns
from .projection import latitude_deg, longitude_deg, map_x, map_y

#: More lines than this are gathered into cells; so many a browser moves without stutter (tests/browser/test_map.py).
MOST_LINES = 20_000
#: Cells are at most so wide on the screen.
CELL_PIXELS = 20
OWN_LOOKS = 3  # looks 0 to 2 are ours, 3 to 5 others': see look_of


@dataclass(frozen=True)
class View:
    """The part of the earth that is on the screen, degrees, and how many pixels it is wide."""

    west: float
    south: float
    east: float
    north: float
    width_px: int

    @property
    def pixel(self) -> float:
        """The side of a pixel on the map's square."""
        return float(map_x(self.east) - map_x(self.west)) / self.width_px

    def crossed_by(self, c: MapColumns, lines: IntArray) -> BoolArray:
        """Which of the lines may be seen: those whose box meets the view's."""
        x0, x1, y0, y1 = map_x(self.west), map_x(self.east), map_y(self.north), map_y(self.south)
        ax, bx = c.x[c.line_from[lines]], c.x[c.line_to[lines]]
        ay, by = c.y[c.line_from[lines]], c.y[c.line_to[lines]]
        met: BoolArray = (np.minimum(ax, bx) <= x1) & (np.maximum(ax, bx) >= x0)
        return met & (np.minimum(ay, by) <= y1) & (np.maximum(ay, by) >= y0)

    def holds(self, c: MapColumns, sites: IntArray) -> BoolArray:
        """Which of the sites lie in the view."""
        latitude, longitude = c.latitude_deg[sites], c.longitude_deg[sites]
        inside: BoolArray = (latitude >= self.south) & (latitude <= self.north)
        return inside & (longitude >= self.west) & (longitude <= self.east)


@dataclass(frozen=True)
class Drawn:
    """One picture: ``values`` as it travels, and what it counts."""

    values: dict[str, Any]
    sites: int
    links: int
    must_fix: int
    decide: int


def look_of(own: BoolArray, stage: IntArray) -> IntArray:
    """0 to 5: ours on the air, not yet, ended; then others' in the same order."""
    looks: IntArray = np.where(own, 0, OWN_LOOKS) + stage
    return looks


def drawn(
    c: MapColumns,
    *,
    chosen_lines: BoolArray,
    chosen_sites: BoolArray,
    line_worst: IntArray,
    site_worst: IntArray,
    view: View | None = None,
) -> Drawn:
    """Draw the chosen lines and sites: each of them where they are few enough, gathered into cells otherwise.

    Parameters
    ----------
    chosen_lines, chosen_sites : masks over the columns; the ends of chosen lines are drawn in any case
    line_worst, site_worst : ranks of the worst open finding, NONE_OPEN for none
    view : what is on the screen; None for everything
    """
    lines = np.flatnonzero(chosen_lines)
    sites = chosen_sites.copy()
    sites[c.line_from[lines]] = sites[c.line_to[lines]] = True
    _, of_link = np.unique(c.line_link[lines], return_index=True)
    link_worst = _worst_of_links(c.line_link[lines], line_worst[lines])
    counts = {
        "sites": int(sites.sum()),
        "links": len(of_link),
        "must_fix": int((link_worst == 0).sum()),
        "decide": int((link_worst == 1).sum()),
    }
    bounds = _bounds(c, np.flatnonzero(sites))
    # A far site of another party does not make the first picture small.
    first_view = _bounds(c, np.flatnonzero(sites & c.site_own)) or bounds
    complete = len(lines) <= MOST_LINES and counts["sites"] <= 2 * MOST_LINES
    if not complete and bounds is not None:
        west, south, east, north = first_view or bounds
        view = view or View(west, south, east, north, width_px=1000)
        lines = lines[view.crossed_by(c, lines)]
        shown = np.flatnonzero(sites)
        sites = np.zeros_like(sites)
        sites[shown[view.holds(c, shown)]] = True
        sites[c.line_from[lines]] = sites[c.line_to[lines]] = True
    numbers = np.flatnonzero(sites)
    place = np.full(len(sites), -1, dtype=np.int64)
    place[numbers] = np.arange(len(numbers))
    each = len(lines) <= MOST_LINES and len(numbers) <= 2 * MOST_LINES
    values: dict[str, Any] = {
        "kind": "each" if each else "cells",
        "complete": complete,
        "bounds": bounds,
        "first_view": first_view,
    }
    if not complete and view is not None:
        values["area"] = [view.west, view.south, view.east, view.north]
    looks = look_of(c.line_own[lines], c.line_stage[lines])
    if each:
        values |= _each(c, numbers, lines, place, looks, line_worst, site_worst)
    elif view is not None:
        values |= _cells(c, numbers, lines, place, looks, line_worst, site_worst, view)
    return Drawn(values, **counts)


def _worst_of_links(link: IntArray, worst: IntArray) -> IntArray:
    _, number = np.unique(link, return_inverse=True)
    result = np.full(int(number.max()) + 1 if len(number) else 0, NONE_OPEN, dtype=np.int64)
    np.minimum.at(result, number, worst)
    return result


def _bounds(c: MapColumns, sites: IntArray) -> list[float] | None:
    """West, south, east, north of the sites."""
    if not len(sites):
        return None
    latitude, longitude = c.latitude_deg[sites], c.longitude_deg[sites]
    return [float(longitude.min()), float(latitude.min()), float(longitude.max()), float(latitude.max())]


def _each(
    c: MapColumns, numbers: IntArray, lines: IntArray, place: IntArray, looks: IntArray,
    line_worst: IntArray, site_worst: IntArray,
) -> dict[str, Any]:  # fmt: skip
    return {
        "sites": {
            "id": c.site_id[numbers].tolist(),
            "code": c.site_code[numbers].tolist(),
            "latitude": _degrees(c.latitude_deg[numbers]),
            "longitude": _degrees(c.longitude_deg[numbers]),
            "own": c.site_own[numbers].astype(np.int64).tolist(),
            "worst": site_worst[numbers].tolist(),
        },
        "lines": {
            "link": c.line_link[lines].tolist(),
            "code": c.line_code[lines].tolist(),
            "from": place[c.line_from[lines]].tolist(),
            "to": place[c.line_to[lines]].tolist(),
            "look": looks.tolist(),
            "worst": line_worst[lines].tolist(),
        },
    }


def _cells(
    c: MapColumns, numbers: IntArray, lines: IntArray, place: IntArray, looks: IntArray,
    line_worst: IntArray, site_worst: IntArray, view: View,
) -> dict[str, Any]:  # fmt: skip
    # A power of two, so that cells stay where they are while the view moves.
    cell = 2.0 ** math.floor(math.log2(max(view.pixel * CELL_PIXELS, 2.0**-24)))
    while True:
        g: Gathered = gathered(
            c.x[numbers], c.y[numbers], site_worst[numbers], place[c.line_from[lines]],
            place[c.line_to[lines]], looks, line_worst[lines], cell=cell, none_open=NONE_OPEN,
        )  # fmt: skip
        if len(g.line_count) <= MOST_LINES or cell >= 1.0:
            break
        cell *= 2.0
    return {
        "sites": {
            "count": g.cell_sites.tolist(),
            "latitude": _degrees(latitude_deg(g.y)),
            "longitude": _degrees(longitude_deg(g.x)),
            "within": g.within.tolist(),
            "worst": np.minimum(g.cell_worst, g.within_worst).tolist(),
        },
        "lines": {
            "count": g.line_count.tolist(),
            "from": g.line_from.tolist(),
            "to": g.line_to.tolist(),
            "look": g.line_look.tolist(),
            "worst": g.line_worst.tolist(),
        },
    }


def _degrees(values: FloatArray) -> list[float]:
    """Degrees to five decimals: a metre."""
    rounded: list[float] = np.round(values, 5).tolist()
    return rounded
