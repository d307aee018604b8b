"""What stands at a site and how it gets on with itself: computed on the register as it stands, nothing is stored."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext

from sites.models import Site
from spectrum.commissioning.exposure import NO_DISTANCE, distance_lines, size_of
from spectrum.commissioning.words import Line
from spectrum.comparison import eirp_dbm
from spectrum.conflicts.gather import criteria_in_force
from spectrum.conflicts.network import StationRecord
from spectrum.conflicts.site_checks import Surroundings, surroundings_of
from spectrum.conflicts.site_checks.isolation import (
    FIGURE_MISSING,
    FILTERS_UNKNOWN,
    JUDGED,
    IsolationMatrix,
    isolation_matrix,
)
from spectrum.conflicts.site_checks.listing import ProductRow, product_rows
from spectrum.conflicts.site_checks.products import products_at
from spectrum.pictures.site_axis import BandAxis, site_axes
from spectrum.radio.exposure import near_field_limit_m
from spectrum.services.site_surroundings import one_site

#: So many transmitters and receivers, and products, are shown unless all are asked for; then so many products.
SHOWN, ALL_PRODUCTS = 12, 200


@dataclass(frozen=True)
class Cell:
    """Isolation of one receiver from one transmitter, dB; None where it is not known or nothing counts."""

    found_db: float | None = None
    needed_db: float | None = None
    margin_db: float | None = None
    against: str = ""
    missing: str = ""
    over: bool = False
    close: bool = False
    worst: bool = False
    itself: bool = False


@dataclass(frozen=True)
class Row:
    """A transmitter with its cells; ``away_m`` where it stands at another site."""

    station: StationRecord
    away_m: float | None
    cells: Sequence[Cell]


@dataclass(frozen=True)
class Isolation:
    """The matrix as it is shown, and in words what is worst."""

    receivers: Sequence[StationRecord]
    rows: Sequence[Row]
    transmitters: int
    all_receivers: int
    worst: tuple[StationRecord, StationRecord, Cell] | None
    short: int
    judged: int
    any_missing: bool
    any_assumed: bool

    @property
    def in_part(self) -> bool:
        return len(self.rows) < self.transmitters or len(self.receivers) < self.all_receivers


@dataclass(frozen=True)
class Products:
    rows: Sequence[ProductRow]
    judged: int
    not_judged: int


@dataclass(frozen=True)
class Exposure:
    """Distances of one transmitter here at its planned power; ``assumed`` where its antenna's size is not entered."""

    station: StationRecord
    eirp_dbm: float
    cells: Sequence[Line]
    near_field_m: float
    assumed: bool

    @property
    def none(self) -> bool:
        """Whether no distance can be given at all."""
        return all(cell.value == NO_DISTANCE for cell in self.cells)


@dataclass(frozen=True)
class SiteView:
    """Everything that the page of a site computes; empty lists where nothing live stands there."""

    axes: Sequence[BandAxis] = ()
    isolation: Isolation | None = None
    products: Products | None = None
    exposure: Sequence[Exposure] = ()


def site_view(
    site: Site, as_of: dt.date, *, whole_matrix: bool = False, many_products: bool = False
) -> SiteView:
    """Look at one site on a day, with all transmitters near it."""
    criteria = criteria_in_force()
    around = next(surroundings_of(one_site(site, as_of, criteria), criteria), None)
    if around is None:
        return SiteView()
    here = [around.station(n) for n in around.place.here]
    products = products_at(around)
    rows = product_rows(around, products, most=ALL_PRODUCTS if many_products else SHOWN)
    return SiteView(
        axes=site_axes((s.name, s.tx_frequency_hz, s.rx_frequency_hz, s.mode.channel_width_hz) for s in here),
        isolation=_isolation(around, isolation_matrix(around), whole=whole_matrix),
        products=Products(rows, int(products.judged.sum()), int((~products.judged).sum())),
        exposure=[row for s in here if (row := _exposure(s)) is not None],
    )


def _exposure(station: StationRecord) -> Exposure | None:
    radiated = eirp_dbm(station)
    if radiated is None or station.tx_frequency_hz is None:
        return None
    frequency = station.tx_frequency_hz / 1e6
    size, note = size_of(station.antenna, frequency)
    near = float(near_field_limit_m(frequency, size))
    return Exposure(station, radiated, distance_lines(radiated, frequency, size), near, bool(note))


def _isolation(around: Surroundings, m: IsolationMatrix, *, whole: bool) -> Isolation | None:
    if not len(m.tx) or not len(m.rx):
        return None
    judged = m.standing == JUDGED
    margin = np.where(judged, m.margin_db, np.inf)
    rows, columns = np.arange(len(m.tx)), np.arange(len(m.rx))
    if not whole:
        rows, columns = _worst(margin.min(axis=1)), _worst(margin.min(axis=0))
    at = np.unravel_index(int(np.argmin(margin)), margin.shape) if judged.any() else None
    close_within = around.criteria.decide_within_db

    def cell(t: int, r: int) -> Cell:
        standing, value = int(m.standing[t, r]), float(m.margin_db[t, r])
        missing = {
            FIGURE_MISSING: gettext("a figure of the radio type or what isolates the station is not entered"),
            FILTERS_UNKNOWN: gettext("its filters are not entered"),
        }.get(standing, "")
        counts = standing == JUDGED
        return Cell(
            found_db=_known(m.found_db[t, r]),
            needed_db=_known(m.needed_db[t, r]),
            margin_db=_known(value),
            against=str(m.against[t, r]),
            missing=missing,
            over=counts and value < 0,
            close=counts and 0 <= value <= close_within,
            worst=(t, r) == at,
            itself=bool(m.itself[t, r]),
        )

    return Isolation(
        receivers=[around.station(m.rx[r]) for r in columns],
        rows=[
            Row(around.station(m.tx[t]), _away(around, int(m.tx[t])), [cell(int(t), int(r)) for r in columns])
            for t in rows
        ],
        transmitters=len(m.tx),
        all_receivers=len(m.rx),
        worst=(around.station(m.tx[at[0]]), around.station(m.rx[at[1]]), cell(*map(int, at))) if at else None,
        short=int((judged & (m.margin_db < 0)).sum()),
        judged=int(judged.sum()),
        any_missing=bool(np.isin(m.standing, (FIGURE_MISSING, FILTERS_UNKNOWN)).any()),
        any_assumed=bool((m.assumed & judged).any()),
    )


def _worst(least_margin: np.ndarray) -> np.ndarray:
    """The transmitters or receivers with the least margins, in the order of the network."""
    return np.sort(np.argsort(least_margin, kind="stable")[:SHOWN])


def _away(around: Surroundings, number: int) -> float | None:
    if number in around.place.here:
        return None
    return float(around.place.apart_m[around.place.near == number][0])


def _known(value: float) -> float | None:
    return None if np.isnan(value) else float(value)
