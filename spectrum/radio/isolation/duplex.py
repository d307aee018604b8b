"""Isolation that a station needs to transmit and receive at the same time, and what it has."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from spectrum.radio.noise import noise_floor_dbm
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape


class DuplexIsolation(NamedTuple):
    """Isolation that duplex operation needs; each an array of one shape.

    Attributes
    ----------
    required_db : the greater of the two needs
    for_noise_db : keeps the transmitter's noise in the receiver's channel below its share
    for_blocking_db : keeps the carrier below the level that blocks the receiver
    receiver_noise_dbm : noise of the receiver in its bandwidth
    transmitter_noise_dbm : noise of the transmitter in the receiver's bandwidth, before isolation
    """

    required_db: Array
    for_noise_db: Array
    for_blocking_db: Array
    receiver_noise_dbm: Array
    transmitter_noise_dbm: Array


def required_duplex_isolation(
    tx_power_dbm: ArrayLike,
    bandwidth_khz: ArrayLike,
    noise_figure_db: ArrayLike,
    tx_noise_dbc_per_hz: ArrayLike,
    i_over_n_db: ArrayLike,
    blocking_level_dbm: ArrayLike,
) -> DuplexIsolation:
    """Isolation needed between a transmitter and a receiver that work at the same time.

    Two needs, of which the greater counts: the transmitter's sideband noise that falls into the
    receiver's channel must stay at I/N, and its carrier must stay at the blocking level.

    Parameters
    ----------
    tx_power_dbm : array_like
        Transmitter output power, dBm.
    bandwidth_khz : array_like
        Noise bandwidth of the receiver, kHz.
    noise_figure_db : array_like
        Noise figure of the receiver, dB, man-made noise included where it matters.
    tx_noise_dbc_per_hz : array_like
        Sideband noise of the transmitter at the duplex spacing, relative to the carrier, dBc/Hz (negative).
    i_over_n_db : array_like
        Transmitter noise admitted over the receiver's noise, dB.
    blocking_level_dbm : array_like
        Level of a carrier at the duplex spacing that the receiver bears, dBm: its sensitivity plus its
        blocking ratio.

    Returns
    -------
    DuplexIsolation
        ``for_noise_db`` = P + noise + 10 log B − (N + I/N); ``for_blocking_db`` = P − blocking level;
        neither below 0.

    Raises
    ------
    RadioRangeError
        When the bandwidth is not above 0, or sideband noise is above 0 dBc/Hz.

    Source
    ------
    Arithmetic of levels; thermal noise kTB at 290 K. The equipment's values must come from its data.

    Range
    -----
    Any levels. Sideband noise and blocking level hold at one duplex spacing only.

    Known disagreements
    -------------------
    Common practice, no published source: at least 80 dB near 410 to 420 MHz with 10 MHz between
    transmit and receive; a manufacturer's page (read) has 60 to 70 dB for noise at 25 W and 5 MHz.

    Examples
    --------
    >>> need = required_duplex_isolation(43.979, 12.5, 7.0, -140.0, -10.0, -23.0)
    >>> round(float(need.required_db), 2), round(float(need.for_blocking_db), 2)
    (80.95, 66.98)
    >>> required_duplex_isolation([30.0, 40.0], 12.5, 7.0, -150.0, -6.0, -23.0).required_db.round(2).tolist()
    [53.0, 63.0]
    """
    power = in_range("tx_power_dbm", tx_power_dbm)
    width_khz = in_range("bandwidth_khz", bandwidth_khz, 0.0, above=True)
    sideband = in_range("tx_noise_dbc_per_hz", tx_noise_dbc_per_hz, high=0.0)
    share = in_range("i_over_n_db", i_over_n_db)
    blocking = in_range("blocking_level_dbm", blocking_level_dbm)
    floor = noise_floor_dbm(width_khz, noise_figure_db)
    tx_noise = power + sideband + 10.0 * np.log10(width_khz * 1e3)
    results = np.broadcast_arrays(
        np.maximum(tx_noise - (floor + share), 0.0), np.maximum(power - blocking, 0.0), floor, tx_noise
    )
    for_noise, for_blocking, receiver_noise, transmitter_noise = (
        same_shape(np.array(result)) for result in results
    )
    return DuplexIsolation(
        same_shape(np.maximum(for_noise, for_blocking)),
        for_noise,
        for_blocking,
        receiver_noise,
        transmitter_noise,
    )


def duplex_isolation_found_db(
    duplexer_isolation_db: ArrayLike = 0.0, antenna_isolation_db: ArrayLike = 0.0
) -> Array:
    """Isolation that a station has: of its duplexer, of its antennas' spacing, or of both in series.

    Parameters
    ----------
    duplexer_isolation_db : array_like
        Isolation of the duplexer or of filters at the frequency that matters, dB; 0 without.
    antenna_isolation_db : array_like
        Isolation of separate antennas, dB; 0 for one common antenna.

    Returns
    -------
    ndarray or scalar
        The sum, dB; NaN where either is not known.

    Raises
    ------
    RadioRangeError
        When either is negative.

    Source
    ------
    Losses in series add in dB.

    Range
    -----
    Filters and spacing in series; two paths side by side would not add.

    Examples
    --------
    >>> float(duplex_isolation_found_db(antenna_isolation_db=54.3))
    54.3
    >>> duplex_isolation_found_db([70.0, 75.0], 20.0).tolist()
    [90.0, 95.0]
    """
    return same_shape(
        in_range("duplexer_isolation_db", duplexer_isolation_db, 0.0)
        + in_range("antenna_isolation_db", antenna_isolation_db, 0.0)
    )
