"""How the margin of one interference finding moves with what was assumed, one assumption at a time.

Every assumption is changed alone, all others as in the check, and the whole budget is
computed again: path loss, antenna gains toward the other, the wanted signal where C/I is judged,
and for an aggregate all interferers of the victim. Antennas that are moved up or down keep the
boresight they had. The values tried are those that an engineer asks about first, not the limits
of what can be: common practice, no published source.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from sites.sentences import Sentence, joined, sentence
from sites.terrain import TerrainStore
from sites.words import gettext_noop as _
from spectrum.radio.propagation.smooth_earth import EARTH_RADIUS_KM, effective_radius_km

from .aggregate import Received
from .budget import budget_of, noise_of, wanted_levels
from .columns import FloatArray
from .criteria import Criteria, Limits, limits_of
from .neighbours import candidates, fdr_db
from .network import Network
from .path_loss import LEAST_HEIGHT_M, SMOOTH_EARTH, TERRAIN

NOISE_KINDS: Final = ("co_channel", "adjacent_channel")
WANTED_KIND: Final = "carrier_to_interference"
AGGREGATE_KIND: Final = "aggregate"
KINDS: Final = (*NOISE_KINDS, WANTED_KIND, AGGREGATE_KIND)

TIME, REFRACTIVITY, GROUND, HEIGHT = (
    _("time percentage"),
    _("refractivity of the air"),
    _("terrain"),
    _("antenna heights"),
)
TIME_PERCENTS: Final = (50.0, 20.0, 10.0, 1.0, 0.1, 0.01)
LAPSES_N_PER_KM: Final = (30.0, 40.0, 50.0, 60.0, 70.0)
HEIGHT_STEP_M: Final = 5.0
# Less than the rounding of a stored margin is no move.
SAME_WITHIN_DB: Final = 0.05
_BY_P452: Final = (TERRAIN, SMOOTH_EARTH)


@dataclass(frozen=True)
class Changed:
    """One assumption changed: which, from what to what, and the margin then (None: ``note`` says why not).

    ``in_short`` is what it was changed to, as it stands in a sentence.
    """

    assumption: str
    was: str
    now: str
    margin_db: float | None
    moves_by_db: float | None
    note: str = ""
    other_sign: bool = False
    in_short: str = ""


@dataclass(frozen=True)
class Sensitivity:
    """The margin as checked, every change tried, the least and the greatest margin among all, and what it means."""

    margin_db: float
    rows: tuple[Changed, ...]
    least_db: float
    greatest_db: float
    sentence: str

    @property
    def spread_db(self) -> float:
        """From the least to the greatest margin, dB."""
        return self.greatest_db - self.least_db


@dataclass(frozen=True)
class Case:
    """What is judged: a victim's station number and, but for an aggregate, the interferer's."""

    kind: str
    rx: int
    tx: int | None = None


def sensitivity(
    network: Network, criteria: Criteria, case: Case, terrain: TerrainStore | None = None
) -> Sensitivity:
    """Compute the margin of a case as checked, and with each assumption changed alone.

    For an aggregate the network must hold all interferers of the victim.
    """
    judge = _Judge(network, criteria, case, terrain)
    base, models = judge.margin()
    rows = (
        *judge.times(base),
        *judge.lapses(base, models),
        *judge.ground(base, models),
        *judge.heights(base),
    )
    margins = [base, *(row.margin_db for row in rows if row.margin_db is not None)]
    least, greatest = min(margins), max(margins)
    return Sensitivity(base, rows, least, greatest, _in_words(base, rows, least, greatest))


def margin_of_case(
    network: Network, criteria: Criteria, case: Case, terrain: TerrainStore | None = None
) -> float:
    """The margin of a case in a network as it is given, dB."""
    return _Judge(network, criteria, case, terrain).margin()[0]


class _Judge:
    def __init__(
        self, network: Network, criteria: Criteria, case: Case, terrain: TerrainStore | None
    ) -> None:
        self.network, self.criteria, self.case, self.terrain = network, criteria, case, terrain
        self.limits = limits_of(network.rx_hz / 1e6, network.authority, criteria)
        self.noise = noise_of(network)

    def margin(
        self,
        *,
        network: Network | None = None,
        criteria: Criteria | None = None,
        limits: Limits | None = None,
        terrain: bool = True,
    ) -> tuple[float, set[int]]:
        """The margin in dB under changed assumptions, and by which models the paths were computed."""
        network, criteria, limits = network or self.network, criteria or self.criteria, limits or self.limits
        store = self.terrain if terrain else None
        rx = np.array([self.case.rx])
        wanted = wanted_levels(network, limits, criteria, store, rx)
        if self.case.tx is None:
            return self._aggregate(network, criteria, limits, store, wanted)
        tx = np.array([self.case.tx])
        fdr = fdr_db(network, tx, rx)
        budget = budget_of(
            network, tx, rx, fdr, self.noise, limits, criteria, wanted_dbm=wanted, terrain=store
        )
        margin = budget.ci_margin_db if self.case.kind == WANTED_KIND else budget.margin_db
        return float(margin[0]), set(budget.loss.model.tolist())

    def _aggregate(
        self,
        network: Network,
        criteria: Criteria,
        limits: Limits,
        terrain: TerrainStore | None,
        wanted: FloatArray,
    ) -> tuple[float, set[int]]:
        rx = np.array([self.case.rx])
        received, models = Received(network), set()
        for block in candidates(
            network, rx, self.noise.total_dbm, wanted, limits, criteria, over_terrain=terrain is not None
        ):
            budget = budget_of(
                network, block.tx, block.rx, block.fdr_db, self.noise, limits, criteria,
                wanted_dbm=wanted, terrain=terrain,
            )  # fmt: skip
            received.add(budget, limits, criteria)
            models |= set(budget.loss.model.tolist())
        total_dbm = float(received.summed()[3][self.case.rx])
        return float(
            limits.aggregate_db[self.case.rx] - (total_dbm - self.noise.total_dbm[self.case.rx])
        ), models

    def times(self, base: float) -> list[Changed]:
        short = self.case.kind == WANTED_KIND
        checked = (self.limits.short_percent if short else self.limits.long_percent)[self.case.rx]
        rows = []
        for percent in TIME_PERCENTS:
            if np.isclose(percent, checked):
                continue
            all_alike = np.full(len(self.network), percent)
            limits = (
                replace(self.limits, short_percent=all_alike)
                if short
                else replace(self.limits, long_percent=all_alike)
            )
            margin = self.margin(limits=limits)[0]
            rows.append(_row(TIME, _of_time(checked), _of_time(percent), base, margin))
        return rows

    def lapses(self, base: float, models: set[int]) -> list[Changed]:
        climate = self.criteria.climate
        checked = float(np.asarray(climate.refractivity_lapse_n_per_km))
        was = _lapse(checked)
        if not models & set(_BY_P452):
            note = _("The path is computed as free space, which does not depend on it.")
            return [Changed(REFRACTIVITY, was, _("any other"), None, None, note)]
        rows = []
        for lapse in LAPSES_N_PER_KM:
            if np.isclose(lapse, checked):
                continue
            changed = replace(self.criteria, climate=replace(climate, refractivity_lapse_n_per_km=lapse))
            rows.append(_row(REFRACTIVITY, was, _lapse(lapse), base, self.margin(criteria=changed)[0]))
        return rows

    def ground(self, base: float, models: set[int]) -> list[Changed]:
        if TERRAIN in models:
            return [_row(GROUND, _("over terrain"), _("smooth earth"), base, self.margin(terrain=False)[0])]
        if SMOOTH_EARTH in models:
            why = (
                _("No terrain tiles are installed.")
                if self.terrain is None
                else _("The terrain tiles do not cover the path from end to end.")
            )
            return [Changed(GROUND, _("smooth earth"), _("over terrain"), None, None, why)]
        return [
            Changed(GROUND, _("free space"), _("over terrain"), None, None, _("Terrain does not enter here."))
        ]

    def heights(self, base: float) -> list[Changed]:
        ends = [(self.case.rx, _("the victim's {height:g} m"), _("the victim's antenna at {height:g} m"))]
        if self.case.tx is not None:
            words = _("the interferer's {height:g} m"), _("the interferer's antenna at {height:g} m")
            ends.insert(0, (self.case.tx, *words))
        rows = []
        for station, was, at in ends:
            height = float(self.network.antenna_height_agl_m[station])
            for step in (-HEIGHT_STEP_M, HEIGHT_STEP_M):
                other = max(height + step, LEAST_HEIGHT_M)
                if other == height or (step < 0 and other > height):
                    continue
                margin = self.margin(network=_at_height(self.network, station, other))[0]
                rows.append(
                    _row(
                        HEIGHT,
                        sentence(was, height=height),
                        sentence("{height:g} m", height=other),
                        base,
                        margin,
                        in_short=sentence(at, height=other),
                    )
                )
        return rows


def _at_height(network: Network, station: int, height_m: float) -> Network:
    """The same network with one antenna at another height above its ground."""
    columns = network.columns
    assert columns is not None  # noqa: S101 - a network always has its columns once it is made
    heights = columns.antenna_height_agl_m.copy()
    heights[station] = height_m
    return replace(network, columns=replace(columns, antenna_height_agl_m=heights))


def _row(assumption: str, was: str, now: str, base: float, margin: float, *, in_short: str = "") -> Changed:
    if not np.isfinite(margin):
        note = _("No interferer is left near the limit.")
        return Changed(assumption, was, now, None, None, note, base < 0, in_short or now)
    other_sign = (margin < 0) != (base < 0)
    return Changed(assumption, was, now, margin, margin - base, "", other_sign, in_short or now)


def _of_time(percent: float) -> Sentence:
    # xgettext:no-python-format
    return sentence(_("{percent:g} % of time"), percent=percent)


def _lapse(lapse: float) -> Sentence:
    k = float(effective_radius_km(lapse)) / EARTH_RADIUS_KM
    return sentence("ΔN {lapse:g} N/km (k {k:.2f})", lapse=lapse, k=k)


def _in_words(base: float, rows: tuple[Changed, ...], least: float, greatest: float) -> Sentence:
    between = sentence(
        _("Among what was tried the margin lies between {least:+.1f} and {greatest:+.1f} dB"),
        least=least,
        greatest=greatest,
    )
    flips: dict[str, Changed] = {}
    for row in rows:
        if row.other_sign:
            flips.setdefault(row.assumption, row)
    if flips:
        return sentence(
            _("The sign of this margin ({margin:+.1f} dB) depends on {assumptions}. {between}."),
            margin=base,
            assumptions=joined("; ", (_flip(row) for row in flips.values())),
            between=between,
        )
    moves = [(abs(row.moves_by_db), row) for row in rows if row.moves_by_db is not None]
    by, most = max(moves, key=lambda pair: pair[0], default=(0.0, None))
    if most is None or by < SAME_WITHIN_DB:
        return sentence(
            _("The margin, {margin:+.1f} dB, depends on none of the assumptions tried."), margin=base
        )
    return sentence(
        _(
            "The sign of this margin ({margin:+.1f} dB) depends on none of the assumptions tried. {between}; "
            "the {assumption} moves it most ({moves:+.1f} dB at {at})."
        ),
        margin=base,
        between=between,
        assumption=sentence(most.assumption),
        moves=most.moves_by_db,
        at=_constant(most.in_short),
    )


def _flip(row: Changed) -> Sentence:
    """An assumption that turns the sign, and what the margin is then."""
    words = {"assumption": sentence(row.assumption), "at": _constant(row.in_short)}
    if row.margin_db is None:
        return sentence(_("the {assumption} (none left at {at})"), **words)
    return sentence(_("the {assumption} ({margin:+.1f} dB at {at})"), margin=row.margin_db, **words)


def _constant(text: str) -> Sentence:
    """A text that may be a marked constant, so that it is translated inside another."""
    return text if isinstance(text, Sentence) else sentence(text)
