"""What stands in the way of judging one of our stations: said per station, and counted against the link."""

from __future__ import annotations

from collections.abc import Iterator

from sites.sentences import sentence
from sites.words import gettext_noop as _

from .antenna_gain import is_omnidirectional, pattern_gap
from .drafts import Draft, Parties
from .kinds import DECIDE
from .link_checks import own_links
from .network import Network, StationRecord
from .path_loss import GREATEST_FREQUENCY_MHZ, LEAST_FREQUENCY_MHZ


def gap_findings(network: Network, *, link_id: int | None = None) -> list[Draft]:
    """A finding for each of our stations whose radio figures rest on something missing or out of range."""
    drafts = []
    for stations in own_links(network, link_id):
        for station in stations:
            sentences = list(dict.fromkeys(gaps_of(station)))
            if sentences:
                drafts.append(_draft(station, sentences))
    return drafts


def gaps_of(station: StationRecord) -> Iterator[str]:
    """One sentence for everything about a station that the budget replaces by the worst case or leaves out."""
    yield from azimuth_gap(station)
    for frequency_hz in (station.tx_frequency_hz, station.rx_frequency_hz):
        if frequency_hz is None:
            continue
        yield from pattern_gap_of(station, frequency_hz / 1e6)
        if not LEAST_FREQUENCY_MHZ <= frequency_hz / 1e6 <= GREATEST_FREQUENCY_MHZ:
            yield sentence(
                _(
                    "{frequency:.5f} MHz: ITU-R P.452 holds from {least:g} to {greatest:g} MHz. "
                    "The least possible loss, free space, stands in."
                ),
                frequency=frequency_hz / 1e6,
                least=LEAST_FREQUENCY_MHZ,
                greatest=GREATEST_FREQUENCY_MHZ,
            )
    if station.ground_height_m is None:
        yield sentence(
            _(
                "{site} has no ground height: both ends of every path to it are taken to stand "
                "at the same height."
            ),
            site=station.site_code,
        )


def azimuth_gap(station: StationRecord) -> Iterator[str]:
    """A directional antenna that points nowhere."""
    if station.azimuth_deg is None and not is_omnidirectional(station.antenna):
        yield sentence(
            _("{station} has no azimuth: the full gain is taken in every direction."), station=station.name
        )


def pattern_gap_of(station: StationRecord, frequency_mhz: float) -> Iterator[str]:
    """A frequency or a tilt at which the antenna's pattern does not hold."""
    if reason := pattern_gap(station.antenna, frequency_mhz, station.tilt_deg):
        yield sentence(
            _("{antenna}: {reason} Its full gain is taken in every direction."),
            antenna=station.antenna.name,
            reason=reason,
        )


def _draft(station: StationRecord, sentences: list[str]) -> Draft:
    return Draft(
        kind="not_computed",
        severity=DECIDE,
        headline=sentence(
            _("{station} cannot be judged in full. {first}"), station=station.name, first=sentences[0]
        ),
        cure=_("Enter what is missing, or judge it by hand and accept with the reason."),
        parties=Parties(link_id=station.link.id, station_label=station.label),
        not_judged=sentences,
    )
