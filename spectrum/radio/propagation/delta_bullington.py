"""Diffraction over irregular terrain: the delta-Bullington method (ITU-R P.526; P.452-18 §4.2.3)."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spectrum.radio.propagation._diffraction import DiffractionLoss, diffraction_from_summary
from spectrum.radio.propagation._summary import summarise
from spectrum.radio.propagation.free_space import SPEED_OF_LIGHT_M_PER_S
from spectrum.radio.propagation.profiles import PathProfiles
from spectrum.radio.propagation.smooth_earth import STANDARD_EFFECTIVE_RADIUS_KM
from spectrum.radio.ranges import ArrayLike, in_range

__all__ = ["DiffractionLoss", "delta_bullington_loss_db"]


def delta_bullington_loss_db(
    paths: PathProfiles,
    frequency_mhz: ArrayLike,
    height_tx_agl_m: ArrayLike,
    height_rx_agl_m: ArrayLike,
    effective_radius_km: ArrayLike = STANDARD_EFFECTIVE_RADIUS_KM,
    vertical: npt.ArrayLike = True,
) -> DiffractionLoss:
    """Loss added to free space by terrain and the earth's bulge, for many profiles at once.

    Ld = Lbulla + max(Ldsph − Lbulls, 0): Bullington's loss of the profile, and what the smooth earth loses more
    than Bullington's construction on that smooth earth.

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
