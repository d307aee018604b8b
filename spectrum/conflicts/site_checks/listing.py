"""Rows for people: the products that fall on receivers of a site, and how the antennas there lie to each other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sites.words import gettext_noop as _
from spectrum.conflicts.network import StationRecord

from .products import Products, formula
from .surroundings import Surroundings


class NotHereError(Exception):
    """A station does not transmit or receive at the site in question."""


@dataclass(frozen=True)
class ProductRow:
    """One product: what mixes to it, where it falls, how strong it is; level and margin are None where not known."""

    number: int
    order: int
    mix: str
    product_hz: int
    offset_khz: float
    width_khz: float
    victim: StationRecord
    level_dbm: float | None
    margin_db: float | None
    signals: tuple[int, ...]


def product_rows(
    around: Surroundings, products: Products, *, receiver: int | None = None, most: int
) -> list[ProductRow]:
    """The worst products that are judged, at one receiver (its number in the network) or at all of the site.

    They stand in the order of the check: lower orders first; of one order those near or over the limit, worst
    first, then those whose level is not known, then those below.
    """
    c, hits = around.coupling, products.hits
    wanted = products.judged
    if receiver is not None:
        wanted = wanted & (c.rx[hits["rx"]] == receiver)
    chosen = np.flatnonzero(wanted)
    if receiver is None:
        level = np.nan_to_num(products.margin_db[chosen])
        chosen = chosen[np.lexsort((level, products.standing[chosen], hits["order"][chosen]))]
    return [_row(around, products, number, int(i)) for number, i in enumerate(chosen[:most], start=1)]


def _row(around: Surroundings, products: Products, number: int, i: int) -> ProductRow:
    c, hit = around.coupling, products.hits[i]
    level, margin = float(products.level_dbm[i]), float(products.margin_db[i])
    return ProductRow(
        number=number,
        order=int(hit["order"]),
        mix=formula(around, hit),
        product_hz=int(hit["product_hz"]),
        offset_khz=float(hit["offset_hz"]) / 1e3,
        width_khz=float(hit["width_hz"]) / 1e3,
        victim=around.station(c.rx[hit["rx"]]),
        level_dbm=None if np.isnan(level) else level,
        margin_db=None if np.isnan(margin) else margin,
        signals=tuple(int(c.tx[t]) for t in hit["tx"] if t >= 0),
    )


@dataclass(frozen=True)
class Position:
    """One station at a site or near it, and how its antenna lies to that of the receiver judged; None: not said."""

    station: StationRecord
    role: str
    across_m: float | None = None
    up_m: float | None = None
    assumed: bool = False
    isolation_db: float | None = None


def position(around: Surroundings, sender: int, receiver: int) -> Position:
    """A transmitter seen from a receiver; both by their number in the network.

    Raises NotHereError where one of them is not among the transmitters or the receivers here.
    """
    c = around.coupling
    rows, columns = np.flatnonzero(c.tx == sender), np.flatnonzero(c.rx == receiver)
    if not rows.size or not columns.size:
        raise NotHereError("The station does not transmit or receive here.")
    t, r = int(rows[0]), int(columns[0])
    station = around.station(sender)
    if c.itself[t, r]:
        return Position(station, _("transmits, the same station"))
    return Position(
        station,
        _("transmits"),
        float(c.across_m[t, r]),
        float(c.up_m[t, r]),
        bool(c.assumed[t, r]),
        float(c.isolation_db[t, r]),
    )
