"""The sum of all interferers at one receiver, in watts, with the share of each."""

from __future__ import annotations

import numpy as np

from sites.sentences import sentence
from sites.words import gettext_noop as _
from sites.words import ngettext_lazy

from .budget import Noise, PairBudget
from .columns import REMOTE, FloatArray, IntArray
from .criteria import Criteria, Limits
from .drafts import Draft, Parties
from .evidence import GIVEN, LIMIT, MARGIN, POWER, SUM, TERM, Row
from .kinds import DECIDE, MUST_FIX
from .network import Network
from .wording import assumed_of, over, share_of_sum

# So many interferers are named on a finding; the others stand together in one row.
NAMED_INTERFERERS = 12


class Received:
    """Collects the long-term levels of all interferers, per receiver."""

    def __init__(self, network: Network) -> None:
        self._network = network
        self._tx: list[IntArray] = []
        self._rx: list[IntArray] = []
        self._level_dbm: list[FloatArray] = []
        self._size = len(network)

    def add(self, budget: PairBudget, limits: Limits, criteria: Criteria) -> None:
        """Take in the pairs of one block that are strong enough to be summed."""
        floor = limits.i_over_n_db[budget.rx] - criteria.aggregate_depth_db
        strong = budget.i_over_n_db >= floor
        self._tx.append(budget.tx[strong])
        self._rx.append(budget.rx[strong])
        self._level_dbm.append(budget.interference_dbm[strong])

    def summed(self) -> tuple[IntArray, IntArray, FloatArray, FloatArray]:
        """All pairs (transmitter, receiver, level in dBm), and the sum at every station in dBm (−inf: none).

        Of the remotes of one hub, which answer in turn, only the strongest at a receiver is among them.
        """
        if not self._tx:
            empty = np.zeros(0, dtype=np.int64)
            return empty, empty, np.zeros(0), np.full(self._size, -np.inf)
        tx, rx, level = np.concatenate(self._tx), np.concatenate(self._rx), np.concatenate(self._level_dbm)
        together = _at_one_time(self._network, tx, rx, level)
        tx, rx, level = tx[together], rx[together], level[together]
        milliwatts = np.bincount(rx, weights=10.0 ** (level / 10.0), minlength=self._size)
        with np.errstate(divide="ignore"):
            return tx, rx, level, 10.0 * np.log10(milliwatts)


def _at_one_time(network: Network, tx: IntArray, rx: IntArray, level: FloatArray) -> IntArray:
    """The pairs that can arrive together: all, but of the remotes of one link the strongest at each receiver."""
    sender = np.where(network.role[tx] == REMOTE, network.link_id[tx], -1 - tx)
    order = np.lexsort((-level, sender, rx))
    first = np.ones(len(order), dtype=bool)
    first[1:] = (np.diff(sender[order]) != 0) | (np.diff(rx[order]) != 0)
    return np.sort(order[first])


def aggregate_drafts(
    network: Network, received: Received, noise: Noise, limits: Limits, criteria: Criteria
) -> list[Draft]:
    """A finding for every receiver whose interferers together, two or more, come near or over the limit."""
    tx, rx, level, total_dbm = received.summed()
    counts = np.bincount(rx, minlength=len(network))
    margin = limits.aggregate_db - (total_dbm - noise.total_dbm)
    by_victim = np.lexsort((tx, -level, rx))
    ends = np.cumsum(counts)
    drafts = []
    for victim in np.flatnonzero((counts >= 2) & (margin <= criteria.decide_within_db)):
        order = by_victim[ends[victim] - counts[victim] : ends[victim]]
        drafts.append(_draft(network, int(victim), tx[order], level[order], noise, limits, criteria))
    return drafts


def _draft(
    network: Network,
    victim: int,
    tx: IntArray,
    level: FloatArray,
    noise: Noise,
    limits: Limits,
    criteria: Criteria,
) -> Draft:
    station = network.stations[victim]
    milliwatts = 10.0 ** (level / 10.0)
    total_dbm = float(10.0 * np.log10(milliwatts.sum()))
    limit = float(limits.aggregate_db[victim])
    i_over_n = total_dbm - float(noise.total_dbm[victim])
    margin = limit - i_over_n
    share = 100.0 * milliwatts / milliwatts.sum()
    rows = [
        Row(
            _("Interferers summed"),
            float(len(tx)),
            "",
            sentence(
                _("all within {depth:g} dB of the limit; of remotes that answer in turn, the strongest"),
                depth=criteria.aggregate_depth_db,
            ),
            GIVEN,
        )
    ]
    for number in range(min(len(tx), NAMED_INTERFERERS)):
        sender = network.stations[tx[number]]
        rows.append(Row(sender.name, float(level[number]), "dBm", share_of_sum(share[number]), POWER))
    if len(tx) > NAMED_INTERFERERS:
        others = milliwatts[NAMED_INTERFERERS:].sum()
        rows.append(
            Row(
                sentence(
                    ngettext_lazy("{count} further interferer", "{count} further interferers"),
                    count=len(tx) - NAMED_INTERFERERS,
                ),
                float(10.0 * np.log10(others)),
                "dBm",
                share_of_sum(share[NAMED_INTERFERERS:].sum()),
                POWER,
            )
        )
    rows += [
        Row(_("Sum of all, in watts"), total_dbm, "dBm", _("sum"), SUM),
        Row(
            _("Less: noise at the receiver"),
            -float(noise.total_dbm[victim]),
            "dBm",
            _("kTB, noise figure, ITU-R P.372"),
            TERM,
        ),
        Row(_("Aggregate I/N"), i_over_n, "dB", _("sum"), SUM),
        Row(_("Permitted aggregate I/N"), limit, "dB", limits.band[victim].source, LIMIT),
        Row(_("Margin"), margin, "dB", _("permitted less found"), MARGIN),
    ]
    strongest = network.stations[tx[0]]
    not_judged: list[str] = []
    if not station.link.own:
        not_judged.append(_("Only our own transmitters are summed at another party's receiver."))
    if station.link.assumptions:
        not_judged.append(assumed_of(station))
    return Draft(
        kind="aggregate",
        severity=MUST_FIX if margin < 0 else DECIDE,
        headline=sentence(
            ngettext_lazy(
                "{count} interferer arrives at {station} {over} I/N {limit:.1f} dB",
                "{count} interferers together arrive at {station} {over} I/N {limit:.1f} dB",
            ),
            count=len(tx),
            station=station.name,
            over=over(margin),
            limit=limit,
        ),
        cure=sentence(
            # xgettext:no-python-format
            _("Start with {strongest}, which gives {share:.0f} % of the sum."),
            strongest=strongest.name,
            share=share[0],
        )
        if margin < 0
        else "",
        margin=margin,
        margin_unit="dB",
        parties=Parties(link_id=station.link.id, station_label=station.label),
        evidence=rows,
        not_judged=not_judged,
    )
