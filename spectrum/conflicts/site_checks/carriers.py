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

from sites.sentences import Sentence, joined, sentence
from sites.words import gettext_noop as _
from sites.words import ngettext_lazy
from spectrum.conflicts.columns import BoolArray, FloatArray
from spectrum.conflicts.drafts import Draft, Parties
from spectrum.conflicts.evidence import GIVEN, LIMIT, MARGIN, POWER, SUM, TERM, Row
from spectrum.conflicts.kinds import DECIDE, MUST_FIX, NOTE
from spectrum.conflicts.network import StationRecord
from spectrum.conflicts.wording import assumed_of, bandwidth_term, over, share_of_sum

from .arriving_words import OF_CARRIERS, OF_NOISE, ArrivingWords
from .records import together
from .surroundings import ESTIMATE, FILTER_ASSUMED, ISOLATION_RULES, SAFE, Surroundings, any_of

REGISTER: Final = _("the register")
# So many transmitters are named in a sum; the others stand together in one row.
NAMED: Final = 8
# A transmitter this far below the limit takes no part in a sum.
SUMMED_WITHIN_DB: Final = 20.0
RECEIVE_BRANCH: Final = _("its isolation, as far as it reaches at the carrier")
TRANSMIT_BRANCH: Final = _("its isolation, as far as it reaches at the receiver's frequency")


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
    words: ArrivingWords
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
            Row(_("Transmitter output power"), float(network.tx_power_dbm[c.tx[t]]), "dBm", REGISTER, TERM),
            *_path_terms(around, t, r),
            Row(
                _("Receiver's duplexer"), 0.0 - float(c.receiver_filter_db[t, r]), "dB", RECEIVE_BRANCH, TERM
            ),
        ]

    def closing(r: int) -> tuple[list[Row], Row]:
        return [], Row(_("Blocking level"), float(blocking[r]), "dBm", _("the radio type"), LIMIT)

    def ways(sender: StationRecord, victim: StationRecord, short: float) -> list[str]:
        return [
            sentence(
                _("{short:.1f} dB of filter against {frequency:.5f} MHz before {victim}"),
                short=short,
                frequency=(sender.tx_frequency_hz or 0) / 1e6,
                victim=victim.name,
            )
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
        words=OF_CARRIERS,
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
            Row(_("Transmitter output power"), float(network.tx_power_dbm[c.tx[t]]), "dBm", REGISTER, TERM),
            Row(_("Transmitter noise density"), float(density[t]), "dBc/Hz", _("the radio type"), TERM),
            Row(_("Receiver's bandwidth"), float(in_width_db[r]), "dB Hz", bandwidth_term(width_khz), TERM),
            Row(
                _("Transmitter's duplexer"),
                0.0 - float(c.sender_filter_db[t, r]),
                "dB",
                TRANSMIT_BRANCH,
                TERM,
            ),
            *_path_terms(around, t, r),
        ]

    def closing(r: int) -> tuple[list[Row], Row]:
        n = int(c.rx[r])
        return [
            Row(
                _("Less: noise at the receiver"),
                -float(noise.total_dbm[n]),
                "dBm",
                _("kTB, noise figure, ITU-R P.372"),
                TERM,
            ),
            Row(_("Transmitter noise over receiver noise"), 0.0, "dB", _("sum"), SUM),
        ], Row(
            _("Permitted I/N"), float(around.limits.i_over_n_db[n]), "dB", around.limits.band[n].source, LIMIT
        )

    def ways(sender: StationRecord, victim: StationRecord, short: float) -> list[str]:
        return [
            sentence(
                _("{short:.1f} dB of filter behind {sender} against {frequency:.5f} MHz"),
                short=short,
                sender=sender.name,
                frequency=(victim.rx_frequency_hz or 0) / 1e6,
            )
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
        words=OF_NOISE,
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
        headline=sentence(
            a.words.pair,
            sender=sender.name,
            sent=(sender.tx_frequency_hz or 0) / 1e6,
            victim=victim.name,
            heard=(victim.rx_frequency_hz or 0) / 1e6,
            over=over(margin),
        ),
        cure=any_of([*a.ways(sender, victim, -margin), sentence(_("antennas further apart"))])
        if margin < 0
        else "",
        margin=margin,
        margin_unit="dB",
        parties=Parties(sender.link.id, sender.label, victim.link.id, victim.label, site_id=victim.site_id),
        evidence=[
            *_spacing_rows(around, t, r),
            *a.terms(t, r),
            Row(a.words.at_input, float(a.level_dbm[t, r]), "dBm", _("sum"), SUM),
            *_with_sum(closing, over_reference),
            limit,
            Row(_("Margin"), margin, "dB", _("permitted less found"), MARGIN),
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
    sentences: list[str] = []
    if no_figure.any():
        sentences.append(sentence(a.words.no_figure, transmitters=_named(around, no_figure)))
    if (unknown & ~no_figure).any():
        sentences.append(
            sentence(
                _("{transmitters}: what is entered does not say which filters stand between; not summed.")
                if judged_sum
                else _(
                    "{transmitters}: what is entered does not say which filters stand between; none was counted."
                ),
                transmitters=_named(around, unknown & ~no_figure),
            )
        )
    if not victim.link.own:
        sentences.append(_("Only our own transmitters are summed at another party's receiver."))
    if assumed or (~judged & all_strong & c.assumed[:, r]).any():
        sentences.append(around.assumed())
    if not chosen.any():
        return Draft(
            kind=a.kind,
            severity=NOTE,
            headline=sentence(a.words.not_judged, transmitters=_named(around, no_figure), victim=victim.name),
            cure=_("Enter the figure of the radio type's data sheet."),
            parties=Parties(victim.link.id, victim.label, site_id=victim.site_id),
            not_judged=sentences,
        )
    closing, limit = a.closing(r)
    order = np.flatnonzero(chosen)[np.argsort(-a.level_dbm[chosen, r], kind="stable")]
    level = float(a.limit[r] - total + a.reference_dbm[r])
    return Draft(
        kind=a.kind,
        severity=severity,
        headline=sentence(
            a.words.of_sum if judged_sum else a.words.of_sum_as_entered,
            count=len(order),
            victim=victim.name,
            over=over(total),
        ),
        cure=sentence(
            _("Start with {strongest}, the strongest. {caution}"),
            strongest=around.station(c.tx[order[0]]).name,
            caution=SAFE,
        )
        if total < 0
        else "",
        margin=total,
        margin_unit="dB",
        parties=Parties(victim.link.id, victim.label, site_id=victim.site_id),
        evidence=[
            *_power_rows(around, a, r, order),
            Row(_("Sum of all, in watts"), level, "dBm", _("sum"), SUM),
            *_with_sum(closing, level - float(a.reference_dbm[r])),
            limit,
            Row(_("Margin"), total, "dB", _("permitted less found"), MARGIN),
        ],
        not_judged=sentences,
    )


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
        yield Row(sender.name, float(a.level_dbm[t, r]), "dBm", share_of_sum(part), POWER)
    if len(order) > NAMED:
        yield Row(
            sentence(
                ngettext_lazy("{count} further transmitter", "{count} further transmitters"),
                count=len(order) - NAMED,
            ),
            float(10.0 * np.log10(watts[NAMED:].sum())),
            "dBm",
            share_of_sum(share[NAMED:].sum()),
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
            _("Feeder and duplexer, transmit side"),
            0.0 - float(network.line_losses_db[c.tx[t]]),
            "dB",
            REGISTER,
            TERM,
        ),
        Row(
            _("Isolation between the antennas, estimate"),
            0.0 - float(c.isolation_db[t, r]),
            "dB",
            ISOLATION_RULES,
            TERM,
        ),
        Row(
            _("Feeder and duplexer, receive side"),
            0.0 - float(network.line_losses_db[c.rx[r]]),
            "dB",
            REGISTER,
            TERM,
        ),
    ]


def _spacing_rows(around: Surroundings, t: int, r: int) -> list[Row]:
    c = around.coupling
    across = _("assumed, not entered") if c.assumed[t, r] else _("geodesic on WGS 84")
    return [
        Row(_("Antenna spacing, horizontal"), float(c.across_m[t, r]), "m", across, GIVEN),
        Row(_("Antenna spacing, vertical"), float(c.up_m[t, r]), "m", _("antenna heights"), GIVEN),
    ]


def _sentences(around: Surroundings, t: int, r: int, assumed: bool) -> list[str]:
    c = around.coupling
    sentences: list[str] = [around.assumed() if assumed else ESTIMATE]
    if c.receiver_filter_db[t, r] or c.sender_filter_db[t, r]:
        sentences.append(FILTER_ASSUMED)
    for station in (around.station(c.tx[t]), around.station(c.rx[r])):
        if station.link.assumptions:
            sentences.append(assumed_of(station))
    return list(dict.fromkeys(sentences))


def _with_sum(rows: list[Row], total: float) -> list[Row]:
    """Closing rows with the running total filled in."""
    return [Row(row.name, total, row.unit, row.source, row.role) if row.role == SUM else row for row in rows]


def _named(around: Surroundings, chosen: BoolArray) -> Sentence:
    names = [around.station(number).name for number in around.coupling.tx[chosen]]
    named = joined(", ", names[:NAMED])
    if len(names) <= NAMED:
        return named
    return sentence(
        ngettext_lazy("{named} and {count} more", "{named} and {count} more"),
        named=named,
        count=len(names) - NAMED,
    )


def _or_nan(value: float | None) -> float:
    return float("nan") if value is None else float(value)
