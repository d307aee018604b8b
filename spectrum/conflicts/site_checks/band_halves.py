"""Transmitting high and low from one mast: what one station transmits lies in the half another receives."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sites.band_exceptions import BandException
from spectrum.conflicts.drafts import Draft, Parties
from spectrum.conflicts.evidence import GIVEN, Row
from spectrum.conflicts.kinds import DECIDE, MUST_FIX, NOTE
from spectrum.conflicts.network import StationRecord

from .records import together
from .surroundings import Surroundings


def band_half_drafts(around: Surroundings) -> Iterator[Draft]:
    """A finding for every station here that transmits high, with every one at the mast that transmits low.

    Two stations are in one duplex band when the middles of their pairs lie less than the smaller duplex
    spacing apart: the halves of a band are at most as wide as its spacing.
    """
    network, criteria = around.network, around.criteria
    mast = around.place.near[around.place.apart_m < criteria.same_site_within_m]
    tx, rx = network.tx_hz, network.rx_hz
    high = around.place.here
    high = high[(rx[high] > 0) & (tx[high] > rx[high])]
    low = mast[(tx[mast] > 0) & (tx[mast] < rx[mast])]
    one, other = high[:, None], low[None, :]
    # Twice the middles, so that Hz stay whole.
    apart = np.abs((tx[one] + rx[one]) - (tx[other] + rx[other]))
    spacing = np.minimum(tx[one] - rx[one], rx[other] - tx[other])
    clash = (apart < 2 * spacing) & (network.link_id[one] != network.link_id[other])
    clash &= (network.own[one] | network.own[other]) & together(network, one, other)
    for i, k in np.argwhere(clash):
        yield _draft(around, around.station(high[i]), around.station(low[k]))


def _draft(around: Surroundings, high: StationRecord, low: StationRecord) -> Draft:
    exception = _exception(around, high, low)
    undocumented = MUST_FIX if high.link.own and low.link.own else DECIDE
    said = f"{high.name} transmits high, {low.name} transmits low in one band at {high.site_code}"
    evidence = [
        Row(f"{station.name} {verb}", (hertz or 0) / 1e6, "MHz", "the register", GIVEN)
        for station in (high, low)
        for verb, hertz in (("transmits", station.tx_frequency_hz), ("receives", station.rx_frequency_hz))
    ]
    if exception is not None:
        said += ": a documented exception"
        band = f"{exception.low_mhz:g} to {exception.high_mhz:g} MHz"
        evidence.append(Row("Documented exception", exception.reason, "", f"the site, {band}", GIVEN))
    return Draft(
        kind="band_half_clash",
        severity=undocumented if exception is None else NOTE,
        headline=said,
        cure=f"Documented: {exception.reason}"
        if exception is not None
        else f"Exchange go and return of {high.link.code} or {low.link.code}, move one to another band or mast, or "
        "document the exception with the site.",
        parties=Parties(high.link.id, high.label, low.link.id, low.label, site_id=high.site_id),
        evidence=evidence,
    )


def _exception(around: Surroundings, high: StationRecord, low: StationRecord) -> BandException | None:
    """The exception of either station's site whose band holds all four frequencies."""
    frequencies = [
        (hertz or 0) / 1e6
        for station in (high, low)
        for hertz in (station.tx_frequency_hz, station.rx_frequency_hz)
    ]
    for site_id in (high.site_id, low.site_id):
        for exception in around.at.exceptions.get(site_id, ()):
            if exception.covers(*frequencies):
                return exception
    return None
