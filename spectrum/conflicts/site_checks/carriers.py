"""Noise and carriers of the transmitters near a receiver: each alone, and all of them summed in watts.

Counted are transmitters whose emission shares no frequency with the receiver's pass band (the others are
interference) and that lie within two duplex spacings of the receiver's frequency, where the figures of the
radio type hold: further away preselection and filters count, of which nothing is entered.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from spectrum.conflicts.columns import BoolArray, FloatArray
from spectrum.conflicts.drafts import Draft, Parties
from spectrum.conflicts.evidence import GIVEN, LIMIT, MARGIN, POWER, SUM, TERM, Row
from spectrum.conflicts.kinds import DECIDE, MUST_FIX, NOTE
from spectrum.conflicts.network import StationRecord

from .records import together
from .surroundings import ESTIMATE, FILTER_ASSUMED, ISOLATION_RULES, SAFE, Surroundings, over

REGISTER: Final = "the register"
# So many transmitters are named in a sum; the others stand together in one row.
NAMED: Final = 8
# A transmitter this far below the limit takes no part in a sum.
SUMMED_WITHIN_DB: Final = 20.0
RECEIVE_BRANCH: Final = "its isolation, as far as it reaches at the carrier"
TRANSMIT_BRANCH: Final = "its isolation, as far as it reaches at the receiver's frequency"


@dataclass(frozen=True)
class Arriving:
    """One kind of trouble at all receivers of a site: rows are transmitters, columns receivers.

    ``level_dbm`` is NaN where a figure is missing, ``limit`` that of each receiver in the unit of what is
    compared; ``reference_dbm`` is taken off the level first (0 where it is compared as it is).
    """

    kind: str
    counted: BoolArray
    known: BoolArray
    level_dbm: FloatArray
    reference_dbm: FloatArray
    limit: FloatArray
    terms: Callable[[int, int], list[Row]]
    closing: Callable[[int], tuple[list[Row], Row]]
    says: str
    says_of_many: tuple[str, str]
    against: str
    missing_figure: str
    ways: Callable[[StationRecord, StationRecord, float], list[str]]

    @property
    def margin_db(self) -> FloatArray:
        """Permitted less found, of each transmitter alone; NaN where a figure is missing."""
        margin: FloatArray = self.limit[None, :] - (self.level_dbm - self.reference_dbm[None, :])
        return margin


def blocking_drafts(around: Surroundings) -> Iterator[Draft]:
    """Findings on carriers against the level that blocks each receiver."""
    yield from _drafts(around, carriers_at(around))


def noise_drafts(around: Surroundings) -> Iterator[Draft]:
    """Findings on sideband noise of transmitters against each receiver's own noise."""
    yield from _drafts(around, noise_at(around))


def carriers_at(around: Surroundings) -> Arriving:
    """Every carrier at every receiver, against the level that blocks the receiver."""
    c, network = around.coupling, around.network
    blocking = np.array([_or_nan(around.equipment(i).blocking_level_dbm) for i in c.rx], dtype=np.float64)

    def terms(t: int, r: int) -> list[Row]:
        return [
            Row("Transmitter output power", float(network.tx_power_dbm[c.tx[t]]), "dBm", REGISTER, TERM),
            *_path_terms(around, t, r),
            Row("Receiver's duplexer", 0.0 - float(c.receiver_filter_db[t, r]), "dB", RECEIVE_BRANCH, TERM),
        ]

    def closing(r: int) -> tuple[list[Row], Row]:
        return [], Row("Blocking level", float(blocking[r]), "dBm", "the radio type", LIMIT)

    def ways(sender: StationRecord, victim: StationRecord, short: float) -> list[str]:
        return [
            f"{short:.1f} dB of filter against {(sender.tx_frequency_hz or 0) / 1e6:.5f} MHz before {victim.name}"
        ]

    return Arriving(
        kind="receiver_blocking",
        counted=_counted(around),
        known=c.receiver_filter_known,
        level_dbm=np.where(np.isnan(blocking)[None, :], np.nan, c.carrier_dbm),
        reference_dbm=np.zeros(len(c.rx)),
        limit=blocking,
        terms=terms,
        closing=closing,
        says="carrier",
        says_of_many=("carriers", "arrive"),
        against="the blocking level",
        missing_figure="its radio type has no blocking level",
        ways=ways,
    )


def noise_at(around: Surroundings) -> Arriving:
    """The sideband noise of every transmitter at every receiver, against the receiver's own noise."""
    c, network, noise = around.coupling, around.network, around.noise
    density = np.array(
        [_or_nan(around.equipment(i).transmitter_noise_dbc_per_hz) for i in c.tx], dtype=np.float64
    )
    in_width_db = 10.0 * np.log10(noise.bandwidth_khz[c.rx] * 1e3)
    level = (
        c.carrier_dbm + c.receiver_filter_db - c.sender_filter_db + density[:, None] + in_width_db[None, :]
    )

    def terms(t: int, r: int) -> list[Row]:
        width_khz = float(noise.bandwidth_khz[c.rx[r]])
        return [
            Row("Transmitter output power", float(network.tx_power_dbm[c.tx[t]]), "dBm", REGISTER, TERM),
            Row("Transmitter noise density", float(density[t]), "dBc/Hz", "the radio type", TERM),
            Row("Receiver's bandwidth", float(in_width_db[r]), "dB Hz", f"10 log {width_khz:g} kHz", TERM),
            Row("Transmitter's duplexer", 0.0 - float(c.sender_filter_db[t, r]), "dB", TRANSMIT_BRANCH, TERM),
            *_path_terms(around, t, r),
        ]

    def closing(r: int) -> tuple[list[Row], Row]:
        n = int(c.rx[r])
        return [
            Row(
                "Less: noise at the receiver",
                -float(noise.total_dbm[n]),
                "dBm",
                "kTB, noise figure, ITU-R P.372",
                TERM,
            ),
            Row("Transmitter noise over receiver noise", 0.0, "dB", "sum", SUM),
        ], Row(
            "Permitted I/N", float(around.limits.i_over_n_db[n]), "dB", around.limits.band[n].source, LIMIT
        )

    def ways(sender: StationRecord, victim: StationRecord, short: float) -> list[str]:
        return [
            f"{short:.1f} dB of filter behind {sender.name} against {(victim.rx_frequency_hz or 0) / 1e6:.5f} MHz"
        ]

    return Arriving(
        kind="transmitter_noise",
        counted=_counted(around),
        known=c.sender_filter_known,
        level_dbm=level,
        reference_dbm=noise.total_dbm[c.rx],
        limit=around.limits.i_over_n_db[c.rx],
        terms=terms,
        closing=closing,
        says="transmitter noise",
        says_of_many=("transmitter noise", "arrives"),
        against="the permitted I/N",
        missing_figure="the radio type has no transmitter noise",
        ways=ways,
    )


def _drafts(around: Surroundings, a: Arriving) -> Iterator[Draft]:
    margin = a.margin_db
    judged = a.counted & a.known & ~np.isnan(margin)
    spread = np.where(around.coupling.assumed, 0.0, around.criteria.isolation_spread_db)
    window = np.maximum(spread, around.criteria.decide_within_db)
    for r in range(len(around.coupling.rx)):
        for t in np.flatnonzero(judged[:, r] & (margin[:, r] <= window[:, r])):
            yield _pair_draft(around, a, int(t), r, float(margin[t, r]))
        summed = _sum_draft(around, a, r, margin[:, r], judged[:, r])
        if summed is not None:
            yield summed


def _pair_draft(around: Surroundings, a: Arriving, t: int, r: int, margin: float) -> Draft:
    c = around.coupling
    sender, victim = around.station(c.tx[t]), around.station(c.rx[r])
    assumed = bool(c.assumed[t, r])
    closing, limit = a.closing(r)
    over_reference = float(a.level_dbm[t, r] - a.reference_dbm[r])
    must = not assumed and margin < -around.criteria.isolation_spread_db
    return Draft(
        kind=a.kind,
        severity=MUST_FIX if must else DECIDE,
        headline=f"The {a.says} of {sender.name} ({_mhz(sender.tx_frequency_hz)}) arrives at {victim.name} "
        f"({_mhz(victim.rx_frequency_hz)}) {over(margin)} {a.against}",
        cure=f"Any one of: {'; '.join(a.ways(sender, victim, -margin))}; antennas further apart. {SAFE}"
        if margin < 0
        else "",
        margin=margin,
        margin_unit="dB",
        parties=Parties(sender.link.id, sender.label, victim.link.id, victim.label, site_id=victim.site_id),
        evidence=[
            *_spacing_rows(around, t, r),
            *a.terms(t, r),
            Row(
                f"{a.says.capitalize()} at the receiver's input", float(a.level_dbm[t, r]), "dBm", "sum", SUM
            ),
            *_with_sum(closing, over_reference),
            limit,
            Row("Margin", margin, "dB", "permitted less found", MARGIN),
        ],
        not_judged=_sentences(around, t, r, assumed),
    )


def _sum_draft(
    around: Surroundings, a: Arriving, r: int, margin: FloatArray, judged: BoolArray
) -> Draft | None:
    """All transmitters together at one receiver, or what could not be judged there."""
    c, criteria = around.coupling, around.criteria
    victim = around.station(c.rx[r])
    unknown = a.counted[:, r] & ~judged
    no_figure = unknown & np.isnan(margin)
    depth = margin <= SUMMED_WITHIN_DB
    strong = judged & depth
    all_strong = a.counted[:, r] & depth & ~np.isnan(margin)
    known_margin = _margin_of_sum(a, r, strong)
    assumed = bool(c.assumed[strong, r].any())
    spread = 0.0 if assumed else criteria.isolation_spread_db
    judged_sum = strong.sum() >= 2 and known_margin <= max(spread, criteria.decide_within_db)
    unjudged_sum = (
        all_strong.sum() > strong.sum() and _margin_of_sum(a, r, all_strong) <= criteria.decide_within_db
    )
    ours = no_figure.any() and victim.link.own
    if not (judged_sum or unjudged_sum or ours):
        return None
    chosen = strong if judged_sum else all_strong
    total = _margin_of_sum(a, r, chosen)
    severity = NOTE if not judged_sum else MUST_FIX if not assumed and total < -spread else DECIDE
    sentences = []
    if no_figure.any():
        sentences.append(f"{_named(around, no_figure)} not judged: {a.missing_figure}.")
    if (unknown & ~no_figure).any():
        sentences.append(
            f"{_named(around, unknown & ~no_figure)}: what is entered does not say which filters stand between; "
            + ("not summed." if judged_sum else "none was counted.")
        )
    if not victim.link.own:
        sentences.append("Only our own transmitters are summed at another party's receiver.")
    if assumed or (~judged & all_strong & c.assumed[:, r]).any():
        sentences.append(around.assumed())
    if not chosen.any():
        return Draft(
            kind=a.kind,
            severity=NOTE,
            headline=f"The {a.says} of {_named(around, no_figure)} at {victim.name} could not be judged",
            cure="Enter the figure of the radio type's data sheet.",
            parties=Parties(victim.link.id, victim.label, site_id=victim.site_id),
            not_judged=sentences,
        )
    which = "" if judged_sum else ", as far as filters are entered,"
    closing, limit = a.closing(r)
    order = np.flatnonzero(chosen)[np.argsort(-a.level_dbm[chosen, r], kind="stable")]
    level = float(a.limit[r] - total + a.reference_dbm[r])
    return Draft(
        kind=a.kind,
        severity=severity,
        headline=f"{_together(a, len(order))} at {victim.name}{which} {over(total)} {a.against}",
        cure=f"Start with {around.station(c.tx[order[0]]).name}, the strongest. {SAFE}" if total < 0 else "",
        margin=total,
        margin_unit="dB",
        parties=Parties(victim.link.id, victim.label, site_id=victim.site_id),
        evidence=[
            *_power_rows(around, a, r, order),
            Row("Sum of all, in watts", level, "dBm", "sum", SUM),
            *_with_sum(closing, level - float(a.reference_dbm[r])),
            limit,
            Row("Margin", total, "dB", "permitted less found", MARGIN),
        ],
        not_judged=sentences,
    )


def _together(a: Arriving, number: int) -> str:
    what, verb = a.says_of_many if number > 1 else (a.says, "arrives")
    return f"The {what} of {number} near transmitter{'s together' if number > 1 else ''} {verb}"


def _margin_of_sum(a: Arriving, r: int, chosen: BoolArray) -> float:
    if not chosen.any():
        return float("inf")
    level = 10.0 * np.log10((10.0 ** (a.level_dbm[chosen, r] / 10.0)).sum())
    return float(a.limit[r] - (level - a.reference_dbm[r]))


def _power_rows(around: Surroundings, a: Arriving, r: int, order: np.ndarray) -> Iterator[Row]:
    watts = 10.0 ** (a.level_dbm[order, r] / 10.0)
    share = 100.0 * watts / watts.sum()
    for t, part in zip(order[:NAMED], share, strict=False):
        sender = around.station(around.coupling.tx[t])
        yield Row(sender.name, float(a.level_dbm[t, r]), "dBm", f"{part:.1f} % of the sum", POWER)
    if len(order) > NAMED:
        yield Row(
            f"{len(order) - NAMED} further transmitters",
            float(10.0 * np.log10(watts[NAMED:].sum())),
            "dBm",
            f"{share[NAMED:].sum():.1f} % of the sum",
            POWER,
        )


def _counted(around: Surroundings) -> BoolArray:
    """Which transmitters count at which receivers."""
    c, network = around.coupling, around.network
    tx, rx = c.tx[:, None], c.rx[None, :]
    offset_khz = np.abs(network.tx_hz[tx] - network.rx_hz[rx]) / 1e3
    emits = np.array([max(abs(x) for x in m.emission.span_khz) for m in network.modes])
    hears = np.array([max(abs(x) for x in m.selectivity.span_khz) for m in network.modes])
    outside = offset_khz > emits[network.mode[tx]] + hears[network.mode[rx]]
    ours = network.own[tx] | network.own[rx]
    counted: BoolArray = ~c.itself & c.near_band & outside & ours & together(network, tx, rx)
    return counted


def _path_terms(around: Surroundings, t: int, r: int) -> list[Row]:
    c, network = around.coupling, around.network
    return [
        Row(
            "Feeder and duplexer, transmit side",
            0.0 - float(network.line_losses_db[c.tx[t]]),
            "dB",
            REGISTER,
            TERM,
        ),
        Row(
            "Isolation between the antennas, estimate",
            0.0 - float(c.isolation_db[t, r]),
            "dB",
            ISOLATION_RULES,
            TERM,
        ),
        Row(
            "Feeder and duplexer, receive side",
            0.0 - float(network.line_losses_db[c.rx[r]]),
            "dB",
            REGISTER,
            TERM,
        ),
    ]


def _spacing_rows(around: Surroundings, t: int, r: int) -> list[Row]:
    c = around.coupling
    across = "assumed, not entered" if c.assumed[t, r] else "geodesic on WGS 84"
    return [
        Row("Antenna spacing, horizontal", float(c.across_m[t, r]), "m", across, GIVEN),
        Row("Antenna spacing, vertical", float(c.up_m[t, r]), "m", "antenna heights", GIVEN),
    ]


def _sentences(around: Surroundings, t: int, r: int, assumed: bool) -> list[str]:
    c = around.coupling
    sentences = [around.assumed() if assumed else ESTIMATE]
    if c.receiver_filter_db[t, r] or c.sender_filter_db[t, r]:
        sentences.append(FILTER_ASSUMED)
    for station in (around.station(c.tx[t]), around.station(c.rx[r])):
        if station.link.assumptions:
            sentences.append(f"{station.link.code}: {station.link.assumptions}")
    return list(dict.fromkeys(sentences))


def _with_sum(rows: list[Row], total: float) -> list[Row]:
    """Closing rows with the running total filled in."""
    return [Row(row.name, total, row.unit, row.source, row.role) if row.role == SUM else row for row in rows]


def _named(around: Surroundings, chosen: BoolArray) -> str:
    names = [around.station(number).name for number in around.coupling.tx[chosen]]
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    return ", ".join(names[:NAMED]) + more


def _mhz(frequency_hz: int | None) -> str:
    return f"{(frequency_hz or 0) / 1e6:.5f} MHz"


def _or_nan(value: float | None) -> float:
    return float("nan") if value is None else float(value)
