"""The result of a pair search in words: one row a pair, with why it is not clear."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from sites.templatetags.figures import brief, fixed
from sites.words import gettext, gettext_noop, ngettext, written_day
from spectrum.conflicts.pair_search.at_sites import NONE, OWN
from spectrum.conflicts.pair_search.margins import COMPLETE_WITHIN_DB, NOBODY, Worst
from spectrum.conflicts.pair_search.search import CLEAR, DECIDE, REJECTED
from spectrum.services.pair_search import PairSearch

VERDICTS: Final = {
    CLEAR: gettext_noop("clear"),
    DECIDE: gettext_noop("decide"),
    REJECTED: gettext_noop("rejected"),
}

# What speaks against a pair: over the limit, and close to it.
_DISTURBS_NOISE: Final = (
    gettext_noop("end {end} would arrive at {other} {by} dB over the permitted I/N."),
    gettext_noop("end {end} would arrive at {other} only {by} dB inside the permitted I/N."),
)
_DISTURBS_WANTED: Final = (
    gettext_noop("end {end} would leave {other} {by} dB short of the C/I it needs."),
    gettext_noop("end {end} would leave {other} only {by} dB above the C/I it needs."),
)
_NOISE_DISTURBED: Final = (
    gettext_noop("{other} would arrive at end {end} {by} dB over the permitted I/N."),
    gettext_noop("{other} would arrive at end {end} only {by} dB inside the permitted I/N."),
)
_WANTED_DISTURBED: Final = (
    gettext_noop("{other} would leave end {end} {by} dB short of the C/I it needs."),
    gettext_noop("{other} would leave end {end} only {by} dB above the C/I it needs."),
)
_AGGREGATE: Final = (
    gettext_noop(
        "All interferers together, {other} the strongest, would arrive at end {end} {by} dB over the permitted sum."
    ),
    gettext_noop(
        "All interferers together, {other} the strongest, would arrive at end {end} only {by} dB inside the "
        "permitted sum."
    ),
)


@dataclass(frozen=True)
class Side:
    """The worst of one direction: the margin in dB (None: more than the search looks at), and with whom."""

    margin_db: float | None
    other: str


@dataclass(frozen=True)
class Holding:
    """Who holds a pair that would clash."""

    link_id: int
    link: str
    person: str
    until: dt.date | None


@dataclass(frozen=True)
class PairRow:
    """One pair: where it stands in the order, its frequencies, its worst margins, and the reasons."""

    rank: int
    plan_id: int
    plan: str
    number: int
    polarisation: str
    go_hz: int
    return_hz: int
    first_tx_hz: int
    second_tx_hz: int
    first_sends_go: bool
    verdict: str
    worst_db: float | None
    disturbs: Side
    disturbed: Side
    intermodulation: int
    half_clash: bool
    held: list[Holding]
    licensed: list[str]
    modes: list[str]
    reasons: list[str]

    @property
    def word(self) -> str:
        """The verdict as the reader has it."""
        return gettext(self.verdict)


def pair_rows(search: PairSearch, limit: int | None = None) -> list[PairRow]:
    """The pairs in their order, the first ``limit`` of them."""
    words = _Words(search)
    return [words.row(rank, int(pair)) for rank, pair in enumerate(search.found.order[:limit], start=1)]


class _Words:
    def __init__(self, search: PairSearch) -> None:
        self.search, self.found = search, search.found
        self.labels = [s.label for s in search.stations]

    def row(self, rank: int, pair: int) -> PairRow:
        found = self.found
        pairs, offer = found.pairs, int(found.pairs.offer[pair])
        plan = self.search.plans[offer]
        margins = found.margins
        return PairRow(
            rank=rank,
            plan_id=plan.pk,
            plan=plan.code,
            number=int(pairs.number[pair]),
            polarisation="V" if pairs.vertical[pair] else "H",
            go_hz=int(pairs.go_hz[pair]),
            return_hz=int(pairs.return_hz[pair]),
            first_tx_hz=int(pairs.first_tx_hz[pair]),
            second_tx_hz=int(pairs.second_tx_hz[pair]),
            first_sends_go=found.offers[offer].first_sends_go,
            verdict=VERDICTS[int(found.verdict[pair])],
            worst_db=_shown(float(found.worst_db[pair])),
            disturbs=self._side(pair, margins.disturbs_noise, margins.disturbs_wanted),
            disturbed=self._side(pair, margins.noise_disturbed, margins.wanted_disturbed, margins.aggregate),
            intermodulation=int(found.hits.count[pair]),
            half_clash=bool(found.clashes[offer]),
            held=[
                Holding(held.id, held.code, self.search.holders.get(held.id, ""), held.reserved_until)
                for held in found.reserved.get(pair, [])
            ],
            licensed=[channel.name for channel in found.reusable.get(pair, [])],
            modes=[mode.label for mode in self.search.modes[offer]],
            reasons=list(self._reasons(pair, offer)),
        )

    def _side(self, pair: int, *worst: Worst) -> Side:
        least = min(worst, key=lambda w: float(w.margin_db[pair]))
        return Side(_shown(float(least.margin_db[pair])), self._name(int(least.other[pair])))

    def _name(self, station: int) -> str:
        return "" if station == NOBODY else self.found.stations[station].name

    def _reasons(self, pair: int, offer: int) -> Iterator[str]:
        """Why a pair is not clear, the gravest first; then what it has to offer."""
        found, margins = self.found, self.found.margins
        if found.equipment[pair]:
            yield found.equipment[pair]
        for held in found.reserved.get(pair, []):
            yield _held(held.code, held.reserved_until, self.search.holders.get(held.id))
        for worst, (over, close) in (
            (margins.disturbs_noise, _DISTURBS_NOISE),
            (margins.disturbs_wanted, _DISTURBS_WANTED),
            (margins.noise_disturbed, _NOISE_DISTURBED),
            (margins.wanted_disturbed, _WANTED_DISTURBED),
            (margins.aggregate, _AGGREGATE),
        ):
            margin = float(worst.margin_db[pair])
            if margin <= self.search.decide_within_db:
                other, end = self._name(int(worst.other[pair])), self.labels[int(worst.end[pair])]
                sentence = gettext(over if margin < 0 else close).format(
                    end=end, other=other, by=fixed(abs(margin), 1)
                )
                yield sentence[0].upper() + sentence[1:]
        if found.hits.count[pair]:
            yield self._products(pair)
        for clash in found.clashes[offer]:
            station = found.stations[clash.other]
            sent = (station.tx_frequency_hz or 0) / 1e6
            yield gettext(
                "End {end} would listen in the half of the band in which {station} transmits at the same site "
                "({sent_mhz} MHz)."
            ).format(end=self.labels[clash.end], station=station.name, sent_mhz=fixed(sent, 5))
        if pair in found.reusable:
            names = ", ".join(channel.name for channel in found.reusable[pair])
            yield gettext("Own licence, paid for and unused: {channels}.").format(channels=names)

    def _products(self, pair: int) -> str:
        hits = self.found.hits
        terms = []
        for coefficient, tx in zip(hits.coefficients[pair], hits.tx[pair], strict=True):
            if int(tx) == NONE or not coefficient:
                continue
            name = gettext("own") if int(tx) == OWN else self._name(int(tx))
            size = "" if abs(int(coefficient)) == 1 else f"{abs(int(coefficient))}·"
            terms.append(f"{'+' if coefficient > 0 else '−'} {size}{name}")
        heard = gettext("its own receiver") if int(hits.rx[pair]) == OWN else self._name(int(hits.rx[pair]))
        count = int(hits.count[pair])
        sentence = gettext(
            "Third-order product {product} at end {end} falls {offset_khz} kHz from the channel's centre of {heard}."
        )
        if count > 1:
            sentence = ngettext(
                "Third-order product {product} at end {end} falls {offset_khz} kHz from the channel's centre of "
                "{heard}, and {more} more product.",
                "Third-order product {product} at end {end} falls {offset_khz} kHz from the channel's centre of "
                "{heard}, and {more} more products.",
                count - 1,
            )
        return sentence.format(
            product=" ".join(terms).removeprefix("+ "),
            end=self.labels[int(hits.end[pair])],
            offset_khz=brief(abs(int(hits.offset_hz[pair])) / 1e3),
            heard=heard,
            more=count - 1,
        )


def _held(code: str, until: dt.date | None, person: str | None) -> str:
    """Who holds a pair, and until when."""
    if until and person:
        sentence = gettext("{link} holds it until {until} ({person}).")
    elif until:
        sentence = gettext("{link} holds it until {until}.")
    elif person:
        sentence = gettext("{link} holds it without an end ({person}).")
    else:
        sentence = gettext("{link} holds it without an end.")
    return sentence.format(link=code, until=written_day(until) if until else "", person=person)


def _shown(margin_db: float) -> float | None:
    return round(margin_db, 6) if margin_db <= COMPLETE_WITHIN_DB else None
