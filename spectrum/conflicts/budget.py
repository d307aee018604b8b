"""The interference budget of pairs of stations: I = P − L + G − Lb + G − L − XPD − FDR, against N and C."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sites.geodesy import inverse
from sites.terrain import TerrainStore
from spectrum.radio.antennas.cross_polar import cross_polar_loss_db
from spectrum.radio.antennas.pointing import elevation_deg, off_axis_deg
from spectrum.radio.noise import combined_noise_figure_db, ktb_dbm, manmade_noise_figure_db_or_nan

from .antenna_gain import gain_dbi
from .columns import FloatArray, IntArray
from .criteria import Criteria, Limits
from .network import Network
from .path_loss import PathLoss, Paths, heights_over_lower, path_loss

# Cross-polar discrimination is a main-beam figure; outside it none is counted.
MAIN_BEAM_DB = 3.0


@dataclass(frozen=True)
class Noise:
    """Noise at each receiver's input: thermal, the receiver's own, and man-made where P.372 gives it."""

    bandwidth_khz: FloatArray
    thermal_dbm: FloatArray
    manmade_figure_db: FloatArray
    figure_db: FloatArray
    total_dbm: FloatArray


@dataclass(frozen=True)
class Geometry:
    """How two stations lie to each other, one entry a pair; heights over the lower site's ground."""

    distance_km: FloatArray
    slant_km: FloatArray
    same_site: np.ndarray
    tx_azimuth_deg: FloatArray
    rx_azimuth_deg: FloatArray
    tx_elevation_deg: FloatArray
    rx_elevation_deg: FloatArray


@dataclass(frozen=True)
class PairBudget:
    """One entry a pair. Levels in dBm, gains in dBi, losses in dB and positive.

    ``interference_dbm`` is what is exceeded for the long-term percentage of time,
    ``short_term_dbm`` for the short-term one; ``wanted_dbm`` is the victim's median wanted level
    (NaN where it is not known), ``margin_db`` against I/N and ``ci_margin_db`` against C/I.
    """

    tx: IntArray
    rx: IntArray
    geometry: Geometry
    tx_off_axis_deg: FloatArray
    rx_off_axis_deg: FloatArray
    tx_gain_dbi: FloatArray
    rx_gain_dbi: FloatArray
    loss: PathLoss
    cross_polar_db: FloatArray
    fdr_db: FloatArray
    interference_dbm: FloatArray
    short_term_dbm: FloatArray
    noise_dbm: FloatArray
    wanted_dbm: FloatArray
    i_over_n_db: FloatArray
    margin_db: FloatArray
    ci_margin_db: FloatArray


def noise_of(network: Network) -> Noise:
    """Noise of every station that receives (NaN where a station does not).

    The noise bandwidth is taken as the channel width. Man-made noise (ITU-R P.372, up to
    250 MHz) reaches the receiver through the antenna line and is weakened by its loss.
    """
    hears = network.rx_hz > 0
    bandwidth = np.array([m.channel_width_hz for m in network.modes], dtype=np.float64)[network.mode] / 1e3
    receiver = np.array([m.noise_figure_db for m in network.modes], dtype=np.float64)[network.mode]
    frequency = np.where(hears, network.rx_hz / 1e6, 1000.0)
    manmade = manmade_noise_figure_db_or_nan(network.environment, frequency)
    line = 10.0 ** (-network.line_losses_db / 10.0)
    through_line = 1.0 + (10.0 ** (np.nan_to_num(manmade, nan=0.0) / 10.0) - 1.0) * line
    # A quiet place can be colder than 290 K; it is then not counted as a gain.
    external = 10.0 * np.log10(np.maximum(through_line, 1.0))
    figure = combined_noise_figure_db(external, receiver)
    thermal = ktb_dbm(bandwidth)
    total = np.where(hears, thermal + figure, np.nan)
    return Noise(bandwidth, thermal, manmade, figure, total)


def budget_of(
    network: Network,
    tx: IntArray,
    rx: IntArray,
    fdr: FloatArray,
    noise: Noise,
    limits: Limits,
    criteria: Criteria,
    *,
    wanted_dbm: FloatArray,
    terrain: TerrainStore | None = None,
) -> PairBudget:
    """Compute every term of the budget for the given pairs, single entry.

    ``wanted_dbm`` has one entry a station (see :func:`wanted_levels`).
    """
    geometry = geometry_of(network, tx, rx, criteria)
    frequency_mhz = network.tx_hz[tx] / 1e6
    tx_gain, tx_off = _gain_toward(
        network, tx, geometry.tx_azimuth_deg, geometry.tx_elevation_deg, frequency_mhz
    )
    rx_gain, rx_off = _gain_toward(
        network, rx, geometry.rx_azimuth_deg, geometry.rx_elevation_deg, frequency_mhz
    )
    paths = Paths(
        tx=tx,
        rx=rx,
        distance_km=geometry.distance_km,
        slant_km=geometry.slant_km,
        same_site=geometry.same_site,
        gain_tx_dbi=tx_gain,
        gain_rx_dbi=rx_gain,
        frequency_mhz=frequency_mhz,
        long_percent=limits.long_percent[rx],
        short_percent=limits.short_percent[rx],
    )
    loss = path_loss(network, paths, criteria.climate, terrain)
    in_beams = (network.gain_dbi[tx] - tx_gain <= MAIN_BEAM_DB) & (
        network.gain_dbi[rx] - rx_gain <= MAIN_BEAM_DB
    )
    crossed = (network.vertical[tx] != network.vertical[rx]) & in_beams & ~geometry.same_site
    leaks = cross_polar_loss_db("H", "V", network.xpd_db[tx], network.xpd_db[rx])
    cross_polar = np.where(crossed, leaks, 0.0)
    without_loss = (
        network.tx_power_dbm[tx]
        - network.line_losses_db[tx]
        + tx_gain
        + rx_gain
        - network.line_losses_db[rx]
        - cross_polar
        - fdr
    )
    interference = without_loss - loss.long_db
    short_term = without_loss - loss.short_db
    i_over_n = interference - noise.total_dbm[rx]
    return PairBudget(
        tx=tx,
        rx=rx,
        geometry=geometry,
        tx_off_axis_deg=tx_off,
        rx_off_axis_deg=rx_off,
        tx_gain_dbi=tx_gain,
        rx_gain_dbi=rx_gain,
        loss=loss,
        cross_polar_db=cross_polar,
        fdr_db=fdr,
        interference_dbm=interference,
        short_term_dbm=short_term,
        noise_dbm=noise.total_dbm[rx],
        wanted_dbm=wanted_dbm[rx],
        i_over_n_db=i_over_n,
        margin_db=limits.i_over_n_db[rx] - i_over_n,
        ci_margin_db=wanted_dbm[rx] - short_term - network.required_ci_db[rx],
    )


def geometry_of(network: Network, tx: IntArray, rx: IntArray, criteria: Criteria) -> Geometry:
    """Lengths and directions of pairs."""
    length_m, azimuth_at_tx, azimuth_at_rx = inverse(
        network.latitude_deg[tx],
        network.longitude_deg[tx],
        network.latitude_deg[rx],
        network.longitude_deg[rx],
    )
    distance_km = np.maximum(length_m, criteria.same_site_spacing_m) / 1e3
    height_tx, height_rx = heights_over_lower(network, tx, rx)
    return Geometry(
        distance_km=distance_km,
        slant_km=np.hypot(distance_km, (height_tx - height_rx) / 1e3),
        same_site=length_m < criteria.same_site_within_m,
        tx_azimuth_deg=azimuth_at_tx,
        rx_azimuth_deg=azimuth_at_rx,
        tx_elevation_deg=elevation_deg(distance_km, height_tx, height_rx),
        rx_elevation_deg=elevation_deg(distance_km, height_rx, height_tx),
    )


def wanted_levels(
    network: Network, limits: Limits, criteria: Criteria, terrain: TerrainStore | None, receivers: IntArray
) -> FloatArray:
    """Median level of the wanted signal at each of the receivers named, dBm; NaN elsewhere or where unknown.

    The wanted transmitter is the other end; at a hub the remote that arrives weakest.
    """
    wanted = np.full(len(network), np.nan)
    tx, rx = network.wanted_pairs(receivers)
    if not len(tx):
        return wanted
    geometry = geometry_of(network, tx, rx, criteria)
    frequency_mhz = network.tx_hz[tx] / 1e6
    tx_gain, _ = _gain_toward(network, tx, geometry.tx_azimuth_deg, geometry.tx_elevation_deg, frequency_mhz)
    rx_gain, _ = _gain_toward(network, rx, geometry.rx_azimuth_deg, geometry.rx_elevation_deg, frequency_mhz)
    half = np.full(len(tx), 50.0)
    paths = Paths(
        tx,
        rx,
        geometry.distance_km,
        geometry.slant_km,
        geometry.same_site,
        tx_gain,
        rx_gain,
        frequency_mhz,
        half,
        half,
    )
    loss = path_loss(network, paths, criteria.climate, terrain)
    level = (
        network.tx_power_dbm[tx]
        - network.line_losses_db[tx]
        + tx_gain
        - loss.long_db
        + rx_gain
        - network.line_losses_db[rx]
    )
    np.fmin.at(wanted, rx, level)
    return wanted


def _gain_toward(
    network: Network,
    station: IntArray,
    azimuth_deg: FloatArray,
    elevation: FloatArray,
    frequency_mhz: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Gain of each station's antenna toward a direction, and the angle off its boresight (NaN: none)."""
    boresight, tilt = network.azimuth_deg[station], network.tilt_deg[station]
    off_axis = off_axis_deg(boresight, tilt, azimuth_deg, elevation)
    gain = np.empty(len(station))
    for number in np.unique(network.antenna[station]):
        at = network.antenna[station] == number
        gain[at] = gain_dbi(
            network.antennas[number],
            boresight[at],
            tilt[at],
            azimuth_deg[at],
            elevation[at],
            frequency_mhz[at],
        )
    return gain, off_axis
