"""Where the centre of a path lies, as the β0 of P.452-18 asks."""

from __future__ import annotations

import numpy as np

from spectrum.radio.propagation.smooth_earth import EARTH_RADIUS_KM
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape


def path_centre_latitude_deg(
    latitude_tx_deg: ArrayLike,
    longitude_tx_deg: ArrayLike,
    latitude_rx_deg: ArrayLike,
    longitude_rx_deg: ArrayLike,
    distance_km: ArrayLike,
) -> Array:
    """Latitude of the point half the profile's length from the transmitter toward the receiver.

    Parameters
    ----------
    latitude_tx_deg, latitude_rx_deg : scalar or array, degrees, −90 to 90
    longitude_tx_deg, longitude_rx_deg : scalar or array, degrees, −360 to 360
    distance_km : scalar or array, km, not negative, length of the profile

    Returns
    -------
    Latitude in degrees, the broadcast shape of the arguments.

    Raises
    ------
    RadioRangeError
        An argument outside the range given above.

    Source
    ------
    ITU-R P.452-18 §3.2.1 (φ, path centre latitude); great circle on a sphere of 6371 km, as
    ITU-R P.2001 Attachment H writes it.

    Range
    -----
    Any two positions. Where they coincide the azimuth is taken as north.

    Known disagreements
    -------------------
    The midpoint of the two coordinates is the same point when the coordinates agree with the
    profile's length. Where they do not, the published results go by the profile's length; the
    midpoint then moves the ducting loss by up to 0.31 dB.

    Examples
    --------
    >>> round(float(path_centre_latitude_deg(53.18333, -6.33333, 54.16667, -3.18333, 235.1)), 3)
    53.687
    >>> path_centre_latitude_deg([47.0, -47.0], 10.0, [48.0, -48.0], 10.0, 111.195).round(2)
    array([ 47.5, -47.5])
    """
    lat_tx = np.radians(in_range("latitude_tx_deg", latitude_tx_deg, -90.0, 90.0))
    lat_rx = np.radians(in_range("latitude_rx_deg", latitude_rx_deg, -90.0, 90.0))
    lon_tx = np.radians(in_range("longitude_tx_deg", longitude_tx_deg, -360.0, 360.0))
    lon_rx = np.radians(in_range("longitude_rx_deg", longitude_rx_deg, -360.0, 360.0))
    half = 0.5 * in_range("distance_km", distance_km, 0.0) / EARTH_RADIUS_KM
    east = np.sin(lon_rx - lon_tx) * np.cos(lat_rx)
    north = np.cos(lat_tx) * np.sin(lat_rx) - np.sin(lat_tx) * np.cos(lat_rx) * np.cos(lon_rx - lon_tx)
    azimuth = np.arctan2(east, north)
    sine = np.sin(lat_tx) * np.cos(half) + np.cos(lat_tx) * np.sin(half) * np.cos(azimuth)
    return same_shape(np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0))))
