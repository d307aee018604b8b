"""P.452-18 over bare, smooth ground: for pairs of stations without a terrain profile."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spectrum.radio.propagation._summary import summarise
from spectrum.radio.propagation.p452._assembly import loss_at, time_free
from spectrum.radio.propagation.p452._conditions import SOURCE, checked_conditions
from spectrum.radio.propagation.p452._level import (
    LEAST_FRACTION,
    fraction_of_largest_nu,
    is_level,
    level_summary,
)
from spectrum.radio.propagation.p452._mechanisms import STRONG_LAYER_RADIUS_KM
from spectrum.radio.propagation.p452.climate import Climate
from spectrum.radio.propagation.p452.result import P452Result
from spectrum.radio.propagation.profiles import INLAND, PathProfiles
from spectrum.radio.propagation.smooth_earth import effective_radius_km
from spectrum.radio.ranges import Array, ArrayLike, in_range


def smooth_earth_loss(
    frequency_mhz: ArrayLike,
    distance_km: ArrayLike,
    height_tx_agl_m: ArrayLike,
    height_rx_agl_m: ArrayLike,
    time_percent: ArrayLike,
    ground_tx_m: ArrayLike = 0.0,
    ground_rx_m: ArrayLike = 0.0,
    *,
    latitude_deg: ArrayLike,
    gain_tx_dbi: ArrayLike = 0.0,
    gain_rx_dbi: ArrayLike = 0.0,
    vertical: npt.ArrayLike = True,
    zone: npt.ArrayLike = INLAND,
    coast_tx_km: ArrayLike = 500.0,
    coast_rx_km: ArrayLike = 500.0,
    climate: Climate = Climate(),  # noqa: B008 - frozen
) -> P452Result:
    """Basic transmission loss of P.452-18 over ground that runs straight from end to end.

    The full model looks at terrain through a few maxima. Over straight ground their places are
    known: the horizon points of each antenna under both earth radii, and the point of largest ν. A
    profile of just these points gives what an endlessly fine one would. Over level ground the maxima
    are written down without a profile. A first axis of percentages of time, before all axes of the
    other arguments, costs little: what does not depend on them is computed once.

    Parameters
    ----------
    frequency_mhz : scalar or array, MHz, 100 to 50 000
    distance_km : scalar or array, km, above zero, along the surface
    height_tx_agl_m, height_rx_agl_m : scalar or array, m above ground, above zero
    time_percent : scalar or array, %, 0.001 to 50
    ground_tx_m, ground_rx_m : scalar or array, m above mean sea level, of the ground at the ends
    latitude_deg : scalar or array, degrees, of the path's centre
    gain_tx_dbi, gain_rx_dbi : scalar or array, dBi, toward the other station
    vertical : bool or array of bool; True for vertical, False for horizontal polarisation
    zone : scalar or array, the whole path: 1 coastal land, 2 inland, 3 sea
    coast_tx_km, coast_rx_km : scalar or array, km to the coast along the path
    climate : Climate, its fields scalar or of the broadcast shape

    Returns
    -------
    P452Result; every field has the broadcast shape of the arguments (but ``climate``).

    Raises
    ------
    RadioRangeError
        An argument outside the range given above.

    Source
    ------
    ITU-R P.452-18 Annex 1, as :func:`basic_transmission_loss`; horizon over straight ground at
    √(h/(500/a)) km (h above ground in m, a in km), from the maximum of §4.2.1's slope.

    Range
    -----
    0.1 to 50 GHz, 0.001 to 50 % of time.

    Known disagreements
    -------------------
    Real terrain gives less loss where a station overlooks it and more where hills obstruct: this is
    neither a bound nor an average. A flat profile of 200 points differs by up to 0.3 dB either way
    (ducting, whose horizon distances fall on its points), one of 20 000 points by 0.002 dB.

    At small percentages of time P.452-18 is not monotone in distance even here: the weight Fk lets
    ducting in between 10 and 50 km, and the loss can fall by up to 17 dB on the way. A search must
    not take the loss of a nearer station as a bound for a farther one.

    Examples
    --------
    >>> round(float(smooth_earth_loss(410.0, 40.0, 30.0, 30.0, 50.0, latitude_deg=47.0).lb_db), 2)
    133.96
    >>> smooth_earth_loss(410.0, [20.0, 60.0], 30.0, 30.0, 1.0, latitude_deg=47.0, gain_tx_dbi=8.0,
    ...                   gain_rx_dbi=8.0).lb_db.round(2)
    array([110.17, 132.28])
    """
    time = in_range("time_percent", time_percent, 0.001, 50.0, source=SOURCE)
    named = {
        "frequency_mhz": in_range("frequency_mhz", frequency_mhz, 100.0, 50_000.0, source=SOURCE),
        "distance_km": in_range("distance_km", distance_km, 0.0, above=True),
        "height_tx": in_range("height_tx_agl_m", height_tx_agl_m, 0.0, above=True, source=SOURCE),
        "height_rx": in_range("height_rx_agl_m", height_rx_agl_m, 0.0, above=True, source=SOURCE),
        "ground_tx": in_range("ground_tx_m", ground_tx_m),
        "ground_rx": in_range("ground_rx_m", ground_rx_m),
        "latitude": in_range("latitude_deg", latitude_deg, -90.0, 90.0),
        "gain_tx": np.asarray(gain_tx_dbi, dtype=np.float64),
        "gain_rx": np.asarray(gain_rx_dbi, dtype=np.float64),
        "coast_tx": np.asarray(coast_tx_km, dtype=np.float64),
        "coast_rx": np.asarray(coast_rx_km, dtype=np.float64),
    }
    others = [np.asarray(v) for v in (vertical, zone, *vars(climate).values())]
    paths = np.broadcast_shapes(*(v.shape for v in (*named.values(), *others)))
    shape = np.broadcast_shapes(paths, time.shape)
    # An axis of percentages before all others shares what does not depend on them.
    times = shape[0] if len(shape) == len(paths) + 1 else 1
    inner = shape[1:] if len(shape) == len(paths) + 1 else shape
    a = {name: np.broadcast_to(value, inner).ravel() for name, value in named.items()}
    is_vertical, zones, *air = (np.broadcast_to(v, inner).ravel() for v in others)
    flat = Climate(*air)
    radius = effective_radius_km(flat.refractivity_lapse_n_per_km)
    shown = np.stack((a["distance_km"], a["height_tx"], a["height_rx"], radius))
    missing: npt.NDArray[np.bool_] = np.asarray(np.isnan(shown).any(axis=0))
    # A profile must be one: unknown paths get 1 km, 1 m masts and k = 4/3, and their results are taken back below.
    shown = np.where(missing, np.array([[1.0], [1.0], [1.0], [8500.0]]), shown)
    c = checked_conditions(
        len(missing),
        frequency_ghz=a["frequency_mhz"] / 1000.0,
        time_percent=50.0,
        height_tx_agl_m=shown[1],
        height_rx_agl_m=shown[2],
        latitude_deg=a["latitude"],
        gain_tx_dbi=a["gain_tx"],
        gain_rx_dbi=a["gain_rx"],
        vertical=is_vertical,
        coast_tx_km=a["coast_tx"],
        coast_rx_km=a["coast_rx"],
        climate=flat,
    )
    radii = [shown[3], np.full_like(shown[3], STRONG_LAYER_RADIUS_KM)]
    if is_level(a["ground_tx"], a["ground_rx"], zones == INLAND):
        summary = level_summary(shown[0], shown[1], shown[2], a["ground_tx"], radii)
    else:
        distance = _telling_points(*shown)
        rise = (a["ground_rx"] - a["ground_tx"])[:, None]
        ground = a["ground_tx"][:, None] + rise * (distance / distance[:, -1:])
        uniform = None if (zones == INLAND).all() else np.broadcast_to(zones[:, None], distance.shape)
        summary = summarise(PathProfiles(distance, ground, zone=uniform), shown[1], shown[2], radii)
    shared = time_free(summary, c)
    rows = np.broadcast_to(time, shape).reshape(times, -1)
    results = [loss_at(shared, row, flat).unknown_where(missing) for row in rows]
    result = results[0] if times == 1 else P452Result.stacked(results, flat)
    return result.shaped(shape, climate)


def _telling_points(length: Array, height_tx: Array, height_rx: Array, radius: Array) -> Array:
    """Distances (paths, 8) at which straight ground decides the loss."""
    columns = []
    for r in (radius, np.full_like(radius, STRONG_LAYER_RADIUS_KM)):
        columns.append(np.sqrt(height_tx * r / 500.0) / length)
        columns.append(1.0 - np.sqrt(height_rx * r / 500.0) / length)
        columns.append(fraction_of_largest_nu(length, height_tx, height_rx, 500.0 / r))
    inner = np.sort(np.clip(np.stack(columns, axis=1), LEAST_FRACTION, 1.0 - LEAST_FRACTION), axis=1)
    # Points that fall together are set 1e-9 of the path apart, for a profile's distances must rise.
    inner += 1e-9 * np.arange(inner.shape[1])
    fractions = np.pad(inner, ((0, 0), (1, 1)))
    fractions[:, -1] = 1.0
    points: Array = fractions * length[:, None]
    return points
