"""How strongly the transmitters near a site arrive at its receivers: isolation, filters, levels.

Between antennas at one site only the height difference is known. The rest is taken on the safe side: the
least horizontal spacing of the criteria and each antenna's full gain toward the other. Between sites the
distance and the patterns count.

A duplexer has its isolation at its own station's two frequencies. Between them it is taken to grow in dB in
proportion to the distance from the branch's own frequency, toward the other and beyond it at most the
whole; away from the other frequency none is taken. That is our assumption, on the safe side of a filter of
three or more resonators (6 dB and more each time the distance doubles, for every resonator: common practice,
no published source); a duplexer with notches alone has less.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from sites.geodesy import inverse
from spectrum.conflicts.antenna_gain import gain_dbi
from spectrum.conflicts.columns import BoolArray, FloatArray, IntArray
from spectrum.conflicts.criteria import Criteria
from spectrum.conflicts.network import Network
from spectrum.radio.antennas.pointing import elevation_deg
from spectrum.radio.isolation import antenna_isolation, duplex_isolation_found_db

from .records import AtSites, Equipment, Place

# The figures of transmitter noise, blocking and intercept hold about a duplex spacing from the carrier. Further
# away than this many spacings (this part of the frequency at a station without one) preselection and filters
# count, of which nobody has entered anything.
NEAR_BAND_SPACINGS: Final = 2
NEAR_BAND_SHARE: Final = 0.05


@dataclass(frozen=True)
class Coupling:
    """Transmitters ``tx`` (rows) at receivers ``rx`` (columns). Levels in dBm at the receiver's input.

    ``assumed`` marks isolation over a spacing that nobody has entered; ``carrier_dbm`` is NaN where the
    isolation of a station from itself is not known. ``receiver_filter_known`` and ``sender_filter_known``
    say whether something is entered about the filters that the level rests on.
    """

    tx: IntArray
    rx: IntArray
    itself: BoolArray
    across_m: FloatArray
    up_m: FloatArray
    assumed: BoolArray
    isolation_db: FloatArray
    receiver_filter_db: FloatArray
    sender_filter_db: FloatArray
    receiver_filter_known: BoolArray
    sender_filter_known: BoolArray
    near_band: BoolArray
    carrier_dbm: FloatArray


def coupling_at(at: AtSites, place: Place, criteria: Criteria) -> Coupling:
    """Every transmitter near a site at every receiver of the site."""
    network = at.network
    sends, hears = network.tx_hz[place.near] > 0, network.rx_hz[place.here] > 0
    tx, rx, apart = place.near[sends], place.here[hears], place.apart_m[sends]
    shape = (len(tx), len(rx))
    itself = tx[:, None] == rx[None, :]
    one_site = np.broadcast_to((apart < criteria.same_site_within_m)[:, None], shape)
    across = np.where(one_site, criteria.same_site_spacing_m, np.broadcast_to(apart[:, None], shape))
    height_tx, height_rx = _heights(network, tx[:, None], rx[None, :])
    up = np.abs(height_tx - height_rx)
    frequency_mhz = np.broadcast_to(network.tx_hz[tx][:, None] / 1e6, shape)
    toward_rx, toward_tx = _gains(network, tx, rx, one_site, height_tx, height_rx)
    isolation = np.empty(shape)
    if isolation.size:
        found = antenna_isolation(frequency_mhz, across, up, toward_rx, toward_tx).isolation_db
        isolation = np.maximum(found, 0.0)
    of_tx, of_rx = at.of_stations(tx), at.of_stations(rx)
    receiver_filter = _filter_db(of_rx) * _share(
        network.rx_hz[rx], network.tx_hz[rx], network.tx_hz[tx][:, None]
    )
    sender_filter = (
        _filter_db(of_tx) * _share(network.tx_hz[tx], network.rx_hz[tx], network.rx_hz[rx][:, None])
    ).T
    carrier = (
        network.tx_power_dbm[tx][:, None]
        - network.line_losses_db[tx][:, None]
        - isolation
        - network.line_losses_db[rx][None, :]
        - receiver_filter
    )
    own = [isolation_of_itself_db(network, int(i), equipment) for i, equipment in zip(rx, of_rx, strict=True)]
    to_itself = network.tx_power_dbm[rx] - np.array(own, dtype=np.float64)
    return Coupling(
        tx=tx,
        rx=rx,
        itself=itself,
        across_m=across,
        up_m=up,
        assumed=np.asarray(one_site & ~itself),
        isolation_db=isolation,
        receiver_filter_db=receiver_filter,
        sender_filter_db=sender_filter,
        receiver_filter_known=np.broadcast_to(_entered(of_rx), shape),
        sender_filter_known=np.broadcast_to(_entered(of_tx)[:, None], shape),
        near_band=np.abs(network.tx_hz[tx][:, None] - network.rx_hz[rx]) <= _near_band_hz(network, rx),
        carrier_dbm=np.where(itself, to_itself[None, :], carrier),
    )


def isolation_of_itself_db(network: Network, number: int, equipment: Equipment) -> float:
    """Isolation of a station's receiver from its own transmitter, NaN where nothing is entered."""
    if not equipment.isolation_entered:
        return float("nan")
    return float(
        duplex_isolation_found_db(
            equipment.duplexer_isolation_db or 0.0, spacing_isolation_db(network, number, equipment)
        )
    )


def spacing_isolation_db(network: Network, number: int, equipment: Equipment) -> float:
    """Isolation of a station's separate antennas, both taken with their full gain; 0 without a spacing."""
    across, up = equipment.spacing_m or 0.0, equipment.spacing_vertical_m or 0.0
    frequency_hz = int(network.tx_hz[number] or network.rx_hz[number])
    if not across and not up:
        return 0.0
    gain = float(network.gain_dbi[number])
    return max(0.0, float(antenna_isolation(frequency_hz / 1e6, across, up, gain, gain).isolation_db))


def _filter_db(equipment: list[Equipment]) -> FloatArray:
    return np.array([e.duplexer_isolation_db or 0.0 for e in equipment], dtype=np.float64)


def _near_band_hz(network: Network, rx: IntArray) -> FloatArray:
    duplex = (network.tx_hz[rx] > 0) & (network.tx_hz[rx] != network.rx_hz[rx])
    spacings = NEAR_BAND_SPACINGS * np.abs(network.tx_hz[rx] - network.rx_hz[rx])
    return np.asarray(np.where(duplex, spacings, NEAR_BAND_SHARE * network.rx_hz[rx]))


def _entered(equipment: list[Equipment]) -> BoolArray:
    return np.array([e.isolation_entered for e in equipment], dtype=np.bool_)


def _share(of_hz: IntArray, other_hz: IntArray, frequency_hz: IntArray) -> FloatArray:
    """Part of a duplexer's isolation, in dB, that its branch for ``of_hz`` has at a frequency; 0 without a pair."""
    spacing = other_hz - of_hz
    toward = (frequency_hz - of_hz) * np.sign(spacing) / np.maximum(np.abs(spacing), 1)
    return np.asarray(np.where((of_hz > 0) & (other_hz > 0), np.clip(toward, 0.0, 1.0), 0.0))


def _heights(network: Network, tx: IntArray, rx: IntArray) -> tuple[FloatArray, FloatArray]:
    """Antenna heights over a common level; over the ground alone where one ground height is not known."""
    known = network.ground_known[tx] & network.ground_known[rx]
    return tuple(  # type: ignore[return-value]
        network.antenna_height_agl_m[i] + np.where(known, network.ground_height_m[i], 0.0) for i in (tx, rx)
    )


def _gains(
    network: Network,
    tx: IntArray,
    rx: IntArray,
    one_site: BoolArray,
    height_tx: FloatArray,
    height_rx: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Gain of each antenna toward the other: in full at one site, by its pattern between sites."""
    shape = (len(tx), len(rx))
    toward_rx = np.broadcast_to(network.gain_dbi[tx][:, None], shape).copy()
    toward_tx = np.broadcast_to(network.gain_dbi[rx][None, :], shape).copy()
    rows, columns = np.nonzero(~one_site)
    if not len(rows):
        return toward_rx, toward_tx
    senders, receivers = tx[rows], rx[columns]
    length_m, at_tx, at_rx = inverse(
        network.latitude_deg[senders],
        network.longitude_deg[senders],
        network.latitude_deg[receivers],
        network.longitude_deg[receivers],
    )
    up_tx, up_rx = height_tx[rows, columns], height_rx[rows, columns]
    frequency_mhz = network.tx_hz[senders] / 1e6
    for stations, azimuth, elevation, gain in (
        (senders, at_tx, elevation_deg(length_m / 1e3, up_tx, up_rx), toward_rx),
        (receivers, at_rx, elevation_deg(length_m / 1e3, up_rx, up_tx), toward_tx),
    ):
        for number in np.unique(network.antenna[stations]):
            at = network.antenna[stations] == number
            gain[rows[at], columns[at]] = gain_dbi(
                network.antennas[number],
                network.azimuth_deg[stations[at]],
                network.tilt_deg[stations[at]],
                azimuth[at],
                elevation[at],
                frequency_mhz[at],
            )
    return toward_rx, toward_tx
