"""What is drawn on the page of a finding: computed on the register as it stands, nothing is stored."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.utils import timezone
from django.utils.translation import gettext, gettext_noop

from sites.errors import StaleWriteError
from spectrum.conflicts import sensitivity as engine
from spectrum.conflicts.gather import criteria_in_force, terrain_in_force
from spectrum.conflicts.interferers import Interferer, Interferers, interferers_of
from spectrum.conflicts.network import Network, StationRecord
from spectrum.conflicts.site_checks import Surroundings, surroundings_of
from spectrum.conflicts.site_checks.duplex import NOISE
from spectrum.conflicts.site_checks.isolation import ARRIVING_KINDS, arrived
from spectrum.conflicts.site_checks.listing import NotHereError, Position, ProductRow, position, product_rows
from spectrum.conflicts.site_checks.products import products_at
from spectrum.drawings import Strip, frequency_strip
from spectrum.models import Finding
from spectrum.pictures.conflict_map import ConflictMap, conflict_map
from spectrum.pictures.level_ladder import Arrival, Ladder, ladder
from spectrum.pictures.mask_overlap import MaskPicture, mask_picture
from spectrum.pictures.products_on_channel import Falls, ProductPicture, product_picture
from spectrum.services.sensitivity import case_of
from spectrum.services.site_surroundings import one_site

#: Pairs whose levels are drawn, and products that are.
LEVELS, PRODUCTS = 6, 8
#: The stored evidence is rounded; what differs by more was computed from other facts.
SAME_WITHIN = 0.005
CHANGED = gettext_noop(
    "Something was changed since this finding was made: the pictures show the register as it stands, "
    "the arithmetic what was found. Check the link again."
)
GONE = gettext_noop(
    "The stations of this finding are no longer in the register as they were when it was found; nothing is drawn."
)


@dataclass(frozen=True)
class Pictures:
    """The pictures of a finding; a template draws those that are there. ``said`` goes above them."""

    said: str = ""
    interferers: Interferers | None = None
    map: ConflictMap | None = None
    masks: MaskPicture | None = None
    masks_of: Interferer | None = None
    positions: Sequence[Position] = ()
    levels: Ladder | None = None
    levels_of_noise: bool = False
    arrivals: Sequence[Arrival] = ()
    limit_dbm: float | None = None
    products: ProductPicture | None = None
    product_rows: Sequence[ProductRow] = ()
    victim: StationRecord | None = None
    strip: Strip | None = None
    harmonic: ProductPicture | None = None

    @property
    def any(self) -> bool:
        return bool(self.said or self.interferers or self.positions)


def pictures_of(finding: Finding, *, as_of: dt.date | None = None) -> Pictures:
    """The pictures of a finding; none for findings that are gone or of a kind that is not drawn."""
    if finding.gone_at is not None:
        return Pictures()
    day = as_of or timezone.localdate()
    try:
        if finding.kind in engine.KINDS:
            return _of_interference(finding, day)
        if finding.site is not None and finding.link is not None:
            return _at_site(finding, day)
    except (StaleWriteError, NotHereError):
        return Pictures(said=gettext(GONE))
    return Pictures()


def _of_interference(finding: Finding, day: dt.date) -> Pictures:
    network, case = case_of(finding, day)
    with np.errstate(invalid="ignore"):
        found = interferers_of(network, criteria_in_force(), case, terrain_in_force())
    if not found.strongest:
        return Pictures(said=gettext(GONE))
    concerned = {s.link.id for one in found.strongest for s in (one.sender, one.victim)}
    first = found.strongest[0]
    return Pictures(
        said="" if _same(finding, found) else gettext(CHANGED),
        interferers=found,
        map=conflict_map(found.strongest, [s for s in network.stations if s.link.id in concerned]),
        masks=mask_picture(
            first.sender.mode.emission,
            first.victim.mode.selectivity,
            first.offset_hz,
            first.sender.mode.channel_width_hz,
            first.victim.mode.channel_width_hz,
        ),
        masks_of=first,
    )


def _same(finding: Finding, found: Interferers) -> bool:
    """Whether the evidence of the finding gives the same figures."""
    stated = {row["name"]: row["value"] for row in finding.evidence}
    if finding.kind == engine.AGGREGATE_KIND:
        figures = {one.sender.name: one.level_dbm for one in found.strongest}
        figures["Interferers summed"] = float(found.number)
    else:
        first = found.strongest[0]
        figures = {
            "Path length": first.length_km,
            f"{first.sender.name}: off axis toward the victim": first.sender_off_axis_deg,
            f"{first.victim.name}: off axis toward the interferer": first.victim_off_axis_deg,
            "Frequency-dependent rejection": -first.fdr_db,
        }
    return all(_close(stated.get(name), value) for name, value in figures.items())


def _close(stated: Any, value: float) -> bool:
    if not isinstance(stated, int | float):
        return bool(np.isnan(value))
    return abs(stated - value) <= SAME_WITHIN


def _at_site(finding: Finding, day: dt.date) -> Pictures:
    if finding.site is None:
        raise StaleWriteError(gettext(GONE))
    criteria = criteria_in_force()
    around = next(surroundings_of(one_site(finding.site, day, criteria), criteria), None)
    if around is None:
        raise StaleWriteError(gettext(GONE))
    one = _number(around.network, finding.link_id, finding.station_label)
    other = None
    if finding.other_link_id is not None:
        other = _number(around.network, finding.other_link_id, finding.other_station_label)
    if finding.kind in ARRIVING_KINDS.values():
        return _arriving(around, finding, one, other)
    if finding.kind == "intermodulation":
        return _mixing(around, one)
    if finding.kind == "harmonic" and other is not None:
        return _harmonic(around, finding, one, other)
    if finding.kind == "band_half_clash" and other is not None:
        high, low = around.station(one), around.station(other)
        return Pictures(
            positions=[Position(high, gettext("transmits high")), Position(low, gettext("transmits low"))],
            strip=frequency_strip(
                (s.name, s.tx_frequency_hz, s.rx_frequency_hz, s.mode.channel_width_hz) for s in (high, low)
            ),
        )
    return Pictures(positions=[Position(around.station(one), gettext("transmits and receives at once"))])


def _arriving(around: Surroundings, finding: Finding, one: int, other: int | None) -> Pictures:
    """Carriers or noise of one transmitter (``one`` at ``other``), or of all at the receiver ``one``."""
    receiver, sender = (one, None) if other is None else (other, one)
    if receiver not in around.coupling.rx:
        raise StaleWriteError(gettext(GONE))
    levels, limit_dbm = arrived(around, finding.kind, receiver, sender)
    victim = around.station(receiver)
    positions = [Position(victim, gettext("receives"))]
    positions += [position(around, level.station, receiver) for level in levels[:LEVELS]]
    if not levels:
        return Pictures(positions=positions, victim=victim)
    noise = finding.kind == ARRIVING_KINDS[NOISE]
    heard_mhz = (victim.rx_frequency_hz or 0) / 1e6
    arrivals = [
        Arrival(
            around.station(level.station).name,
            heard_mhz if noise else (around.station(level.station).tx_frequency_hz or 0) / 1e6,
            level.sent_dbm,
            level.arrives_dbm,
            level.judged,
        )
        for level in levels[:LEVELS]
    ]
    return Pictures(
        positions=positions,
        victim=victim,
        arrivals=arrivals,
        limit_dbm=limit_dbm,
        levels_of_noise=noise,
        levels=ladder(
            arrivals,
            victim.name,
            heard_mhz,
            victim.mode.channel_width_hz / 1e3,
            limit_dbm,
            gettext("permitted") if noise else gettext("blocks at"),
        ),
    )


def _mixing(around: Surroundings, receiver: int) -> Pictures:
    victim = around.station(receiver)
    rows = product_rows(around, products_at(around), receiver=receiver, most=PRODUCTS)
    if not rows:
        raise StaleWriteError(gettext(GONE))
    return Pictures(
        positions=[
            Position(victim, gettext("receives")),
            *(position(around, number, receiver) for number in rows[0].signals),
        ],
        victim=victim,
        products=product_picture(
            [Falls(str(r.number), r.offset_khz, r.width_khz) for r in rows],
            victim.mode.channel_width_hz / 1e3,
        ),
        product_rows=rows,
    )


def _harmonic(around: Surroundings, finding: Finding, sender: int, receiver: int) -> Pictures:
    stated = {row["name"]: float(row["value"]) for row in finding.evidence}
    victim = around.station(receiver)
    falls = Falls(
        gettext("harmonic"),
        stated["Harmonic from the receiver's centre"],
        stated["Width of the harmonic, at most"],
    )
    return Pictures(
        positions=[Position(victim, gettext("receives")), position(around, sender, receiver)],
        victim=victim,
        harmonic=product_picture([falls], victim.mode.channel_width_hz / 1e3),
    )


def _number(network: Network, link_id: int | None, label: str) -> int:
    for number, station in enumerate(network.stations):
        if station.link.id == link_id and station.label == label:
            return number
    raise StaleWriteError(gettext(GONE))
