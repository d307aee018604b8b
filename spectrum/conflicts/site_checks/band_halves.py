"""Transmitting high and low from one mast: what one station transmits lies in the half another receives."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

import numpy as np

from sites.band_exceptions import BandException
from sites.sentences import sentence
from sites.words import gettext_noop as _
from spectrum.conflicts.columns import BoolArray, IntArray
from spectrum.conflicts.drafts import Draft, Parties
from spectrum.conflicts.evidence import GIVEN, Row
from spectrum.conflicts.kinds import DECIDE, MUST_FIX, NOTE
from spectrum.conflicts.network import StationRecord

from .records import together
from .surroundings import Surroundings


def band_half_drafts(around: Surroundings) -> Iterator[Draft]:
    """A finding for every station here that transmits high, with every one at the mast that transmits low."""
    network, criteria = around.network, around.criteria
    mast = around.place.near[around.place.apart_m < criteria.same_site_within_m]
    tx, rx = network.tx_hz, network.rx_hz
    high = around.place.here
    high = high[(rx[high] > 0) & (tx[high] > rx[high])]
    low = mast[(tx[mast] > 0) & (tx[mast] < rx[mast])]
    one, other = high[:, None], low[None, :]
    clash = opposed(tx[one], rx[one], tx[other], rx[other]) & (network.link_id[one] != network.link_id[other])
    clash &= (network.own[one] | network.own[other]) & together(network, one, other)
    for i, k in np.argwhere(clash):
        yield _draft(around, around.station(high[i]), around.station(low[k]))


def opposed(tx_hz: IntArray, rx_hz: IntArray, other_tx_hz: IntArray, other_rx_hz: IntArray) -> BoolArray:
    """Whether one of two stations transmits high and the other low in one duplex band; broadcasts.

    Two stations are in one duplex band when the middles of their pairs lie less than the smaller duplex
    spacing apart: the halves of a band are at most as wide as its spacing. A station that does not
    transmit or receive (0 Hz) is in none.
    """
    whole = (tx_hz > 0) & (rx_hz > 0) & (other_tx_hz > 0) & (other_rx_hz > 0)
    up, other_up = tx_hz - rx_hz, other_tx_hz - other_rx_hz
    # Twice the middles, so that Hz stay whole.
    apart = np.abs((tx_hz + rx_hz) - (other_tx_hz + other_rx_hz))
    return np.asarray(whole & (up * other_up < 0) & (apart < 2 * np.minimum(np.abs(up), np.abs(other_up))))


def documented(
    exceptions: Mapping[int, tuple[BandException, ...]], sites: Iterable[int], frequencies_hz: Iterable[int]
) -> BandException | None:
    """The exception of one of the sites whose band holds all the frequencies."""
    megahertz = [hertz / 1e6 for hertz in frequencies_hz]
    for site_id in sites:
        for exception in exceptions.get(site_id, ()):
            if exception.covers(*megahertz):
                return exception
    return None


def _draft(around: Surroundings, high: StationRecord, low: StationRecord) -> Draft:
    tuned = [f or 0 for x in (high, low) for f in (x.tx_frequency_hz, x.rx_frequency_hz)]
    exception = documented(around.at.exceptions, (high.site_id, low.site_id), tuned)
    undocumented = MUST_FIX if high.link.own and low.link.own else DECIDE
    said = _("{high} transmits high, {low} transmits low in one band at {site}")
    cure = sentence(
        _(
            "Exchange go and return of {high} or {low}, move one to another band or mast, or "
            "document the exception with the site."
        ),
        high=high.link.code,
        low=low.link.code,
    )
    evidence = [
        Row(sentence(words, station=station.name), (hertz or 0) / 1e6, "MHz", _("the register"), GIVEN)
        for station in (high, low)
        for words, hertz in (
            (_("{station} transmits"), station.tx_frequency_hz),
            (_("{station} receives"), station.rx_frequency_hz),
        )
    ]
    if exception is not None:
        said = _("{high} transmits high, {low} transmits low in one band at {site}: a documented exception")
        cure = sentence(_("Documented: {reason}"), reason=exception.reason)
        band = sentence(
            _("the site, {low:g} to {high:g} MHz"), low=exception.low_mhz, high=exception.high_mhz
        )
        reason = sentence("{reason}", reason=exception.reason)
        evidence.append(Row(_("Documented exception"), reason, "", band, GIVEN))
    return Draft(
        kind="band_half_clash",
        severity=undocumented if exception is None else NOTE,
        headline=sentence(said, high=high.name, low=low.name, site=high.site_code),
        cure=cure,
        parties=Parties(high.link.id, high.label, low.link.id, low.label, site_id=high.site_id),
        evidence=evidence,
    )
