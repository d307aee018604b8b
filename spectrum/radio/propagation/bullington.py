"""Bullington's construction: one equivalent edge for a whole profile (ITU-R P.526; P.452-18 §4.2.1)."""

from __future__ import annotations

import numpy as np

from spectrum.radio.propagation._diffraction import loss_from_edges
from spectrum.radio.propagation._summary import summarise
from spectrum.radio.propagation.free_space import SPEED_OF_LIGHT_M_PER_S
from spectrum.radio.propagation.profiles import PathProfiles
from spectrum.radio.propagation.smooth_earth import STANDARD_EFFECTIVE_RADIUS_KM
from spectrum.radio.ranges import Array, ArrayLike, in_range


def bullington_loss_db(
    paths: PathProfiles,
    frequency_mhz: ArrayLike,
    height_tx_agl_m: ArrayLike,
    height_rx_agl_m: ArrayLike,
    effective_radius_km: ArrayLike = STANDARD_EFFECTIVE_RADIUS_KM,
) -> Array:
    """Diffraction loss of Bullington's equivalent edge, for many profiles at once.

    Parameters
    ----------
    paths : PathProfiles, (paths, points)
    frequency_mhz : scalar or (paths,), MHz, 10 to 50 000
    height_tx_agl_m, height_rx_agl_m : scalar or (paths,), m above ground, above zero
    effective_radius_km : scalar or (paths,), km, above zero

    Returns
    -------
    Loss in dB, (paths,).

    Raises
    ------
    RadioRangeError
        An argument outside the range given above.

    Source
    ------
    ITU-R P.526, Bullington part of the method for a general terrestrial path; P.452-18 §4.2.1:
    L = Luc + (1 − exp(−Luc/6))(10 + 0.02 d).

    Range
    -----
    From 10 MHz, profiles of three points or more. Alone it understates the loss of smooth paths;
    :func:`delta_bullington_loss_db` corrects this.

    Examples
    --------
    >>> hill = PathProfiles([[0.0, 5.0, 10.0, 20.0]], [[0.0, 0.0, 60.0, 0.0]])
    >>> bullington_loss_db(hill, 410.0, 30.0, 30.0).round(3)
    array([22.023])
    >>> bullington_loss_db(hill, [150.0], 60.0, 60.0).round(3)
    array([13.78])
    """
    n = len(paths)
    f = in_range("frequency_mhz", frequency_mhz, 10.0, 50_000.0, source="ITU-R P.526")
    tx = np.broadcast_to(in_range("height_tx_agl_m", height_tx_agl_m, 0.0, above=True), n)
    rx = np.broadcast_to(in_range("height_rx_agl_m", height_rx_agl_m, 0.0, above=True), n)
    radius = np.broadcast_to(in_range("effective_radius_km", effective_radius_km, 0.0, above=True), n)
    s = summarise(paths, tx, rx, [radius])
    wavelength_m = SPEED_OF_LIGHT_M_PER_S / (f * 1e6)
    return loss_from_edges(s.actual[0], s.length_km, s.height_tx_m, s.height_rx_m, wavelength_m)
