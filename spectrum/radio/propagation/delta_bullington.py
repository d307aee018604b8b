"""Diffraction over irregular terrain: the delta-Bullington method (ITU-R P.526; P.452-18 §4.2.3)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spectrum.radio.propagation.bullington import loss_from_edges
from spectrum.radio.propagation.free_space import SPEED_OF_LIGHT_M_PER_S
from spectrum.radio.propagation.kernels import spherical_earth
from spectrum.radio.propagation.profiles import PathProfiles, ProfileSummary, summarise
from spectrum.radio.propagation.smooth_earth import STANDARD_EFFECTIVE_RADIUS_KM
from spectrum.radio.ranges import Array, ArrayLike, in_range


@dataclass(frozen=True)
class DiffractionLoss:
    """The four losses of the delta-Bullington method, each (paths,), dB.

    Attributes
    ----------
    terrain_db : Bullington's loss over the terrain with its clutter (Lbulla)
    smooth_db : Bullington's loss over the smooth surface (Lbulls)
    spherical_db : spherical-earth loss over the smooth surface (Ldsph)
    total_db : terrain_db + max(spherical_db − smooth_db, 0) (Ld)
    """

    terrain_db: Array
    smooth_db: Array
    spherical_db: Array
    total_db: Array


def diffraction_from_summary(
    summary: ProfileSummary,
    radius_index: int,
    radius_km: Array,
    frequency_ghz: Array,
    wavelength_m: Array,
    vertical: npt.NDArray[np.bool_],
    over_sea_fraction: Array,
) -> DiffractionLoss:
    """The delta-Bullington loss of summarised profiles under one of their earth radii."""
    s = summary
    over_tx = s.height_tx_m - s.diffraction_surface_tx_m
    over_rx = s.height_rx_m - s.diffraction_surface_rx_m
    terrain = loss_from_edges(s.actual[radius_index], s.length_km, s.height_tx_m, s.height_rx_m, wavelength_m)
    smooth = loss_from_edges(s.smooth[radius_index], s.length_km, over_tx, over_rx, wavelength_m)
    spherical = spherical_earth(
        s.length_km, over_tx, over_rx, radius_km, frequency_ghz, vertical, over_sea_fraction, wavelength_m
    )
    return DiffractionLoss(terrain, smooth, spherical, terrain + np.maximum(spherical - smooth, 0.0))


def delta_bullington_loss_db(
    paths: PathProfiles,
    frequency_mhz: ArrayLike,
    height_tx_agl_m: ArrayLike,
    height_rx_agl_m: ArrayLike,
    effective_radius_km: ArrayLike = STANDARD_EFFECTIVE_RADIUS_KM,
    vertical: npt.ArrayLike = True,
) -> DiffractionLoss:
    """Loss added to free space by terrain and the earth's bulge, for many profiles at once.

    Parameters
    ----------
    paths : PathProfiles, (paths, points); clutter is added to the terrain but for the last 50 m
    frequency_mhz : scalar or (paths,), MHz, 10 to 50 000
    height_tx_agl_m, height_rx_agl_m : scalar or (paths,), m above ground, above zero
    effective_radius_km : scalar or (paths,), km, above zero; 8500 km is k = 4/3
    vertical : bool or (paths,) of bool; True for vertical, False for horizontal polarisation

    Returns
    -------
    DiffractionLoss, each part (paths,) in dB.

    Raises
    ------
    RadioRangeError
        An argument outside the range given above.

    Source
    ------
    ITU-R P.526, "Method for a general terrestrial path"; P.452-18 §4.2.1-§4.2.3 with the smooth
    surface of Attachment 2. The sea fraction comes from the zones of the profile.

    Range
    -----
    From 10 MHz, profiles of three points or more.

    Known disagreements
    -------------------
    The published validation cases hold for 8500 km exactly; the radius from a lapse rate of
    39 N-units/km moves them by up to 0.26 dB.

    Examples
    --------
    >>> hill = PathProfiles([[0.0, 5.0, 10.0, 20.0]], [[0.0, 0.0, 60.0, 0.0]])
    >>> delta_bullington_loss_db(hill, 410.0, 30.0, 30.0).total_db.round(3)
    array([22.967])
    >>> delta_bullington_loss_db(hill, [150.0], 30.0, 30.0, vertical=False).spherical_db.round(3)
    array([11.249])
    """
    n = len(paths)
    f = in_range("frequency_mhz", frequency_mhz, 10.0, 50_000.0, source="ITU-R P.526") / 1000.0
    tx = np.broadcast_to(in_range("height_tx_agl_m", height_tx_agl_m, 0.0, above=True), n)
    rx = np.broadcast_to(in_range("height_rx_agl_m", height_rx_agl_m, 0.0, above=True), n)
    radius = np.broadcast_to(in_range("effective_radius_km", effective_radius_km, 0.0, above=True), n)
    summary = summarise(paths, tx, rx, [radius])
    return diffraction_from_summary(
        summary,
        0,
        radius,
        np.broadcast_to(f, n),
        np.broadcast_to(SPEED_OF_LIGHT_M_PER_S / (f * 1e9), n),
        np.broadcast_to(np.asarray(vertical, dtype=np.bool_), n),
        summary.over_sea_fraction,
    )
