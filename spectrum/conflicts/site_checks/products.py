"""Intermodulation of two and three signals near a site, at each of its receivers.

Sought are all products of orders 3, 5 and 7 that touch a receiver's channel, whatever band they fall into.
A signal counts with its occupied bandwidth, a product with up to the sum of |coefficient| × bandwidth.
A product on the frequency of one of the signals that make it (A + B − C where A + B = 2C) adds nothing to
the signal that is there already: it is counted apart and not judged. A product that is spread over more than
ten channel widths, as those of a wideband signal are, is not sought: less than a tenth of it meets the
channel. The finding says where signals stand near that have such products.

At a receiver the products are read in this order: lower order first; of one order those whose level is
computed and not below its limit, worst first, then those whose level is not known, then those below; of
equal ones the product whose centre lies inside the channel, then the nearer. The level is computed for
order 3 where the receiver's intercept point is entered, for signals whose filters are known, as if the
product arose in the receiver's input; products that arise in transmitters or in corroded joints are not.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from sites.sentences import sentence
from sites.words import gettext_noop as _
from sites.words import ngettext_lazy
from spectrum.conflicts.columns import BoolArray, FloatArray, IntArray
from spectrum.conflicts.drafts import Draft, Parties
from spectrum.conflicts.evidence import GIVEN, LIMIT, MARGIN, SUM, TERM, Row
from spectrum.conflicts.kinds import DECIDE, MUST_FIX, NOTE
from spectrum.conflicts.wording import ordinal, over
from spectrum.radio.intermodulation import product_level_dbm, products_in_passbands

from .harmonics import widths
from .surroundings import SAFE, Surroundings

ORDERS: Final = (3, 5, 7)
# So many products are written out on a finding; the others are counted by order.
WRITTEN_OUT: Final = 8
# A product wider than this many channels is not sought.
WIDEST_IN_CHANNELS: Final = 10
CLASS_OVER, CLASS_UNKNOWN, CLASS_BELOW = 0, 1, 2
ELSEWHERE: Final = _(
    "Products that arise in an output stage or in a bad joint: their level is not computed and can be higher."
)


@dataclass(frozen=True)
class Products:
    """Products at the receivers of a site, sorted by receiver and rank; one entry each.

    ``judged`` is False on the frequency of a signal of its own.
    """

    hits: npt.NDArray[Any]
    judged: BoolArray
    level_dbm: FloatArray
    margin_db: FloatArray
    standing: npt.NDArray[np.int64]
    assumed: BoolArray


def product_drafts(around: Surroundings) -> Iterator[Draft]:
    """One finding for each receiver here that products fall on, with the worst of them."""
    products = products_at(around)
    rx = products.hits["rx"]
    for r in np.unique(rx):
        first, last = np.searchsorted(rx, (r, r + 1))
        draft = _draft(around, products, int(first), int(last))
        if draft is not None:
            yield draft


def products_at(around: Surroundings) -> Products:
    """Every product that counts, ranked; those that are not judged are ranked last."""
    c, criteria = around.coupling, around.criteria
    occupied, channel = widths(around)
    hits = _sought(around, occupied, channel)
    hits = hits[_of_concern(around, hits)]
    level = np.full(len(hits), np.nan)
    assumed = np.zeros(len(hits), dtype=bool)
    third = np.flatnonzero(hits["order"] == 3)
    if len(third):
        level[third], assumed[third] = _third_order(around, hits[third])
    victim = c.rx[hits["rx"]]
    margin = around.limits.i_over_n_db[victim] - (level - around.noise.total_dbm[victim])
    spread = np.where(assumed, 0.0, 3.0 * criteria.isolation_spread_db)
    standing = np.where(np.isnan(level), CLASS_UNKNOWN, CLASS_BELOW)
    standing[margin <= np.maximum(spread, criteria.decide_within_db)] = CLASS_OVER
    judged = ~hits["on_own_signal"]
    off_centre = 2 * np.abs(hits["offset_hz"]) > channel[hits["rx"]]
    order = np.lexsort(
        (
            np.abs(hits["offset_hz"]),
            off_centre,
            np.nan_to_num(margin),
            standing,
            hits["order"],
            ~judged,
            hits["rx"],
        )
    )
    return Products(hits[order], judged[order], level[order], margin[order], standing[order], assumed[order])


def _sought(around: Surroundings, occupied_hz: IntArray, channel_hz: IntArray) -> npt.NDArray[Any]:
    """Every product, as wide as it may be, at receivers of one channel width after the other."""
    c, network = around.coupling, around.network
    found = [products_in_passbands([], 0, [], 0, ORDERS)]
    for width_hz in np.unique(channel_hz):
        widest_hz = WIDEST_IN_CHANNELS * int(width_hz)
        rx = np.flatnonzero(channel_hz == width_hz)
        # A signal whose own width is too much has no product that is narrow enough.
        tx = np.flatnonzero(occupied_hz <= widest_hz)
        if len(tx) < 2:
            continue
        hits = products_in_passbands(
            network.tx_hz[c.tx[tx]],
            occupied_hz[tx],
            network.rx_hz[c.rx[rx]],
            width_hz,
            ORDERS,
            greatest_product_width_hz=widest_hz,
        )
        hits["rx"] = rx[hits["rx"]]
        hits["tx"] = np.where(hits["tx"] >= 0, np.append(tx, -1)[hits["tx"]], -1)
        found.append(hits)
    return np.concatenate(found)


def _of_concern(around: Surroundings, hits: npt.NDArray[Any]) -> BoolArray:
    """Which products involve one of our stations and signals that are all on the air on one day."""
    c, network = around.coupling, around.network
    used = hits["tx"] >= 0
    members = c.tx[hits["tx"]]
    victim = c.rx[hits["rx"]]
    ours = network.own[victim] | (network.own[members] & used).any(axis=1)
    starts = np.maximum(network.starts[victim], np.where(used, network.starts[members], 0).max(axis=1))
    ends = np.minimum(
        network.ends[victim], np.where(used, network.ends[members], np.iinfo(np.int64).max).min(axis=1)
    )
    kept: BoolArray = ours & (starts <= ends)
    return kept


def _third_order(around: Surroundings, hits: npt.NDArray[Any]) -> tuple[FloatArray, BoolArray]:
    """Level at the receiver's input of each third-order product (NaN: not known), and whether spacings are assumed."""
    c = around.coupling
    used = hits["tx"] >= 0
    at = (hits["tx"], hits["rx"][:, None])
    known = c.near_band[at] & (c.receiver_filter_known[at] | c.itself[at])
    signal = np.where(used, np.where(known, c.carrier_dbm[at], np.nan), 0.0)
    intercept = np.array(
        [np.nan if (value := around.equipment(i).third_order_intercept_dbm) is None else value for i in c.rx],
        dtype=np.float64,
    )
    level = product_level_dbm(signal, hits["coefficients"], intercept[hits["rx"]])
    return np.asarray(level), (c.assumed[at] & used).any(axis=1)


def _draft(around: Surroundings, p: Products, first: int, last: int) -> Draft | None:
    c = around.coupling
    hits = p.hits[first:last]
    number = int(p.judged[first:last].sum())
    if not number:
        return None
    worst, order = first, int(hits["order"][0])
    standing = int(p.standing[worst])
    if (p.standing[first : first + number] == CLASS_BELOW).all():
        return None
    victim = around.station(c.rx[hits["rx"][0]])
    if standing == CLASS_BELOW:
        # Of the third order all stay below; the finding is about the higher ones.
        worst = first + int(np.flatnonzero(p.standing[first : first + number] != CLASS_BELOW)[0])
        order, standing = int(p.hits["order"][worst]), int(p.standing[worst])
    hit, judged = p.hits[worst], standing == CLASS_OVER
    margin = float(p.margin_db[worst]) if judged else None
    severity = _severity(around, p, worst)
    said = sentence(
        _("{ordinal}-order product {formula} = {product:.5f} MHz falls on {victim} ({heard:.5f} MHz)"),
        ordinal=ordinal(order),
        formula=formula(around, hit),
        product=hit["product_hz"] / 1e6,
        victim=victim.name,
        heard=(victim.rx_frequency_hz or 0) / 1e6,
    )
    if margin is not None:
        said = sentence(_("{falls}, {over} the permitted I/N"), falls=said, over=over(margin))
    if number > 1:
        said = sentence(
            ngettext_lazy("{first}; {count} further product", "{first}; {count} further products"),
            first=said,
            count=number - 1,
        )
    written = range(worst, min(first + number, worst + WRITTEN_OUT))
    evidence = [
        *(_product_row(around, p, i) for i in written),
        *_count_rows(p, first, number, last, len(written)),
    ]
    if margin is not None:
        evidence += _level_rows(around, p, worst)
    return Draft(
        kind="intermodulation",
        severity=severity,
        headline=said,
        cure=sentence(
            _(
                "Another channel for one of them; an isolator or filter at each transmitter; antennas further apart. "
                "{caution}"
            ),
            caution=SAFE,
        )
        if severity != NOTE
        else "",
        margin=margin,
        margin_unit="dB" if margin is not None else "",
        parties=Parties(victim.link.id, victim.label, site_id=victim.site_id),
        evidence=evidence,
        not_judged=_sentences(around, p, worst, first, first + number),
    )


def _severity(around: Surroundings, p: Products, worst: int) -> str:
    c, hit = around.coupling, p.hits[worst]
    if hit["order"] != 3:
        return NOTE
    if p.standing[worst] == CLASS_OVER:
        surely = p.margin_db[worst] < -3.0 * around.criteria.isolation_spread_db
        return MUST_FIX if surely and not p.assumed[worst] else DECIDE
    members = hit["tx"][hit["tx"] >= 0]
    r = int(hit["rx"])
    one_site = (c.across_m[members, r] < around.criteria.same_site_within_m).all()
    channel_hz = around.station(c.rx[r]).mode.channel_width_hz
    return DECIDE if one_site and 2 * abs(int(hit["offset_hz"])) <= channel_hz else NOTE


def _product_row(around: Surroundings, p: Products, i: int) -> Row:
    hit = p.hits[i]
    where = sentence(
        _("{ordinal} order, {offset:+.2f} kHz from the centre, up to {width:g} kHz wide"),
        ordinal=ordinal(int(hit["order"])),
        offset=hit["offset_hz"] / 1e3,
        width=hit["width_hz"] / 1e3,
    )
    if not np.isnan(p.level_dbm[i]):
        where = sentence(_("{product}, about {level:.1f} dBm"), product=where, level=p.level_dbm[i])
    return Row(
        formula(around, hit),
        float(hit["product_hz"] / 1e6),
        "MHz",
        where,
        GIVEN,
    )


def _count_rows(p: Products, first: int, number: int, last: int, written: int) -> Iterator[Row]:
    orders = p.hits["order"][first : first + number]
    for order in ORDERS:
        count = int((orders == order).sum())
        if count:
            yield Row(
                sentence(_("Products of order {order}"), order=order),
                float(count),
                "",
                sentence(
                    ngettext_lazy("the worst written out above", "{count} worst written out above"),
                    count=written,
                ),
                GIVEN,
            )
    own = last - first - number
    if own:
        yield Row(_("Products on a signal that makes them"), float(own), "", _("not judged"), GIVEN)


def _level_rows(around: Surroundings, p: Products, i: int) -> Iterator[Row]:
    c, hit = around.coupling, p.hits[i]
    r = int(hit["rx"])
    victim = int(c.rx[r])
    summed = 0.0
    for t, a in zip(hit["tx"], hit["coefficients"], strict=True):
        if a:
            term = abs(int(a)) * float(c.carrier_dbm[t, r])
            summed += term
            name = around.station(c.tx[t]).name
            yield Row(
                sentence(_("{times} × level of {station}"), times=abs(int(a)), station=name),
                term,
                "dBm",
                sentence(_("{level:.2f} dBm at the receiver's input"), level=c.carrier_dbm[t, r]),
                TERM,
            )
    intercept = float(around.equipment(victim).third_order_intercept_dbm or 0.0)
    yield Row(_("Less: 2 × intercept point"), -2.0 * intercept, "dBm", _("the radio type"), TERM)
    ways = float(p.level_dbm[i]) - (summed - 2.0 * intercept)
    yield Row(
        _("Ways in which the product is made"), ways, "dB", _("0 dB for two signals, 6 dB for three"), TERM
    )
    noise = float(around.noise.total_dbm[victim])
    yield Row(_("Product, estimate"), float(p.level_dbm[i]), "dBm", _("sum"), SUM)
    yield Row(_("Less: noise at the receiver"), -noise, "dBm", _("kTB, noise figure, ITU-R P.372"), TERM)
    yield Row(_("Product over noise"), float(p.level_dbm[i]) - noise, "dB", _("sum"), SUM)
    limit = float(around.limits.i_over_n_db[victim])
    yield Row(_("Permitted I/N"), limit, "dB", around.limits.band[victim].source, LIMIT)
    yield Row(_("Margin"), float(p.margin_db[i]), "dB", _("permitted less found"), MARGIN)


def _sentences(around: Surroundings, p: Products, worst: int, first: int, last: int) -> list[str]:
    sentences: list[str] = []
    third = p.hits["order"][first:last] == 3
    if (third & (p.standing[first:last] == CLASS_UNKNOWN)).any():
        sentences.append(
            _(
                "Levels of the third order are not known everywhere: they need the receiver's intercept point, and what "
                "is entered about the filters and duplexers of its station."
            )
        )
    if (~third).any():
        sentences.append(_("Levels of the orders 5 and 7: no intercept points of these orders are kept."))
    widths_hz = widths(around)[0]
    channel_hz = around.station(around.coupling.rx[p.hits["rx"][first]]).mode.channel_width_hz
    if len(widths_hz) and max(ORDERS) * int(widths_hz.max()) > WIDEST_IN_CHANNELS * channel_hz:
        sentences.append(
            sentence(
                ngettext_lazy(
                    "Products spread over more than {count} channel width: not sought.",
                    "Products spread over more than {count} channel widths: not sought.",
                ),
                count=WIDEST_IN_CHANNELS,
            )
        )
    if p.standing[worst] == CLASS_OVER:
        sentences.append(
            _(
                "The level is an estimate from the intercept point (from memory, not verified against a standard)."
            )
        )
        if p.assumed[worst]:
            sentences.append(around.assumed())
    return [*sentences, ELSEWHERE]


def formula(around: Surroundings, hit: Any) -> str:
    """The product in words, such as 2 × L-001/A − L-002/B."""
    parts: list[str] = []
    for t, a in zip(hit["tx"], hit["coefficients"], strict=True):
        if a:
            sign = "− " if a < 0 else "+ " if parts else ""
            times = f"{abs(int(a))} × " if abs(int(a)) > 1 else ""
            parts.append(f"{sign}{times}{around.station(around.coupling.tx[t]).name}")
    return " ".join(parts)
