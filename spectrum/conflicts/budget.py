"""The interference budget of pairs of stations, as columns: I = P − L + G − Lb + G − L − XPD − FDR, against N."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sites.geodesy import inverse
from spectrum.radio.antennas.cross_polar import cross_polar_loss_db
from spectrum.radio.antennas.pointing import elevation_deg, off_axis_deg
from spectrum.radio.noise import combined_noise_figure_db, ktb_dbm, manmade_noise_figure_db_or_nan
from spectrum.radio.propagation.free_space import free_space_loss_db
from spectrum.radio.propagation.smooth_earth import spherical_diffraction_loss_db

from .antenna_gain import gain_dbi
from .criteria import Criteria
from .network import FloatArray, IntArray, Network

# Cross-polar discrimination is a main-beam figure; outside it none is counted.
MAIN_BEAM_DB = 3.0


@dataclass(frozen=True)
class PairBudget:
    """One entry a pair. All levels in dBm, gains in dBi, losses in dB and positive."""

    tx: IntArray
    rx: IntArray
    distance_km: FloatArray
    slant_km: FloatArray
    tx_azimuth_deg: FloatArray
    rx_azimuth_deg: FloatArray
    tx_off_axis_deg: FloatArray
    rx_off_axis_deg: FloatArray
    tx_gain_dbi: FloatArray
    rx_gain_dbi: FloatArray
    free_space_db: FloatArray
    diffraction_db: FloatArray
    cross_polar_db: FloatArray
    fdr_db: FloatArray
    interference_dbm: FloatArray
    noise_dbm: FloatArray
    i_over_n_db: FloatArray
    margin_db: FloatArray


@dataclass(frozen=True)
class Noise:
    """Noise at each receiver's input: thermal, the receiver's own, and man-made where P.372 gives it."""

    bandwidth_khz: FloatArray
    thermal_dbm: FloatArray
    manmade_figure_db: FloatArray
    figure_db: FloatArray
    total_dbm: FloatArray


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
    through_line = 1.0 + (10.0 ** (np.nan_to_num(manmade, nan=0.0) / 10.0) - 1.0) * 10.0 ** (
        -network.line_losses_db / 10.0
    )
    # A quiet place can be colder than 290 K; it is then not counted as a gain.
    external = 10.0 * np.log10(np.maximum(through_line, 1.0))
    figure = combined_noise_figure_db(external, receiver)
    thermal = ktb_dbm(bandwidth)
    total = np.where(hears, thermal + figure, np.nan)
    return Noise(bandwidth, thermal, manmade, figure, total)


def budget_of(
    network: Network, tx: IntArray, rx: IntArray, fdr: FloatArray, noise: Noise, criteria: Criteria
) -> PairBudget:
    """Compute every term of the budget for the given pairs, single entry, wanted signal not considered."""
    length_m, azimuth_at_tx, azimuth_at_rx = inverse(
        network.latitude_deg[tx],
        network.longitude_deg[tx],
        network.latitude_deg[rx],
        network.longitude_deg[rx],
    )
    same_site = length_m < criteria.same_site_within_m
    distance_km = np.maximum(length_m, criteria.same_site_spacing_m) / 1e3
    ground_known = network.ground_known[tx] & network.ground_known[rx]
    lower_ground = np.minimum(network.ground_height_m[tx], network.ground_height_m[rx])
    height_tx = network.antenna_height_agl_m[tx] + np.where(
        ground_known, network.ground_height_m[tx] - lower_ground, 0.0
    )
    height_rx = network.antenna_height_agl_m[rx] + np.where(
        ground_known, network.ground_height_m[rx] - lower_ground, 0.0
    )
    slant_km = np.hypot(distance_km, (height_tx - height_rx) / 1e3)
    frequency_mhz = network.tx_hz[tx] / 1e6

    tx_gain, tx_off = _gain_toward(
        network, tx, azimuth_at_tx, elevation_deg(distance_km, height_tx, height_rx), frequency_mhz
    )
    rx_gain, rx_off = _gain_toward(
        network, rx, azimuth_at_rx, elevation_deg(distance_km, height_rx, height_tx), frequency_mhz
    )
    free_space = free_space_loss_db(frequency_mhz, slant_km)
    diffraction = np.where(
        same_site,
        0.0,
        np.maximum(
            0.0,
            spherical_diffraction_loss_db(
                frequency_mhz,
                distance_km,
                height_tx,
                height_rx,
                criteria.effective_radius_km,
                network.vertical[tx],
            ),
        ),
    )
    in_both_beams = (network.gain_dbi[tx] - tx_gain <= MAIN_BEAM_DB) & (
        network.gain_dbi[rx] - rx_gain <= MAIN_BEAM_DB
    )
    crossed = (network.vertical[tx] != network.vertical[rx]) & in_both_beams & ~same_site
    leaks = cross_polar_loss_db("H", "V", network.xpd_db[tx], network.xpd_db[rx])
    cross_polar = np.where(crossed, leaks, 0.0)
    interference = (
        network.tx_power_dbm[tx]
        - network.line_losses_db[tx]
        + tx_gain
        - free_space
        - diffraction
        + rx_gain
        - network.line_losses_db[rx]
        - cross_polar
        - fdr
    )
    i_over_n = interference - noise.total_dbm[rx]
    return PairBudget(
        tx=tx,
        rx=rx,
        distance_km=distance_km,
        slant_km=slant_km,
        tx_azimuth_deg=azimuth_at_tx,
        rx_azimuth_deg=azimuth_at_rx,
        tx_off_axis_deg=tx_off,
        rx_off_axis_deg=rx_off,
        tx_gain_dbi=tx_gain,
        rx_gain_dbi=rx_gain,
        free_space_db=free_space,
        diffraction_db=diffraction,
        cross_polar_db=cross_polar,
        fdr_db=fdr,
        interference_dbm=interference,
        noise_dbm=noise.total_dbm[rx],
        i_over_n_db=i_over_n,
        margin_db=criteria.i_over_n_limit_db - i_over_n,
    )


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
