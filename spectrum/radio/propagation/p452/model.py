"""ITU-R P.452-18 for many paths at once."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spectrum.radio.propagation._summary import summarise
from spectrum.radio.propagation.p452._assembly import loss_at, time_free
from spectrum.radio.propagation.p452._conditions import checked_conditions, percentages
from spectrum.radio.propagation.p452._mechanisms import STRONG_LAYER_RADIUS_KM
from spectrum.radio.propagation.p452.climate import Climate
from spectrum.radio.propagation.p452.result import P452Result
from spectrum.radio.propagation.profiles import PathProfiles
from spectrum.radio.propagation.smooth_earth import effective_radius_km
from spectrum.radio.ranges import ArrayLike


def basic_transmission_loss(
    paths: PathProfiles,
    *,
    frequency_ghz: ArrayLike,
    time_percent: ArrayLike,
    height_tx_agl_m: ArrayLike,
    height_rx_agl_m: ArrayLike,
    latitude_deg: ArrayLike,
    gain_tx_dbi: ArrayLike = 0.0,
    gain_rx_dbi: ArrayLike = 0.0,
    vertical: npt.ArrayLike = True,
    coast_tx_km: ArrayLike = 500.0,
    coast_rx_km: ArrayLike = 500.0,
    climate: Climate = Climate(),  # noqa: B008 - frozen
) -> P452Result:
    """Basic transmission loss between two stations, not exceeded for p % of an average year.

    Lb = −5 log(10^(−0.2 Lbs) + 10^(−0.2 Lbam)), where Lbam joins line of sight, diffraction and ducting by the
    weights Fj and Fk.

    Free space with gas: Lbfsg = 92.4 + 20 log f + 20 log d + Ag.

    Line of sight: Lb0p = Lbfsg + Es(p), Es(p) = 2.6 (1 − e^(−0.1 (dlt + dlr))) log(p/50).

    Diffraction: Ld = Lbulla + max(Ldsph − Lbulls, 0) for the median earth radius and for the one exceeded for β0 % of
    time, between which it is interpolated.

    Troposcatter: Lbs = 190 + Lf + 20 log d + 0.573 θ − 0.15 N0 + 0.051 e^(0.055 (Gt + Gr)) + Ag
    − 10.1 (−log(p/50))^0.7.

    Ducting: Lba = Af + Ad(p) + Ag.

    Parameters
    ----------
    paths : PathProfiles, (paths, points); rows may differ in length
    frequency_ghz : scalar or (paths,), GHz, 0.1 to 50
    time_percent : scalar or (paths,), %, 0.001 to 50; or (times, paths), several of them at little more cost
    height_tx_agl_m, height_rx_agl_m : scalar or (paths,), m above ground, above zero
    latitude_deg : scalar or (paths,), degrees, of the path's centre
        (see :func:`path_centre_latitude_deg`)
    gain_tx_dbi, gain_rx_dbi : scalar or (paths,), dBi, toward the other station along the horizon;
        troposcatter alone uses them
    vertical : bool or (paths,) of bool; True for vertical, False for horizontal polarisation
    coast_tx_km, coast_rx_km : scalar or (paths,), km over land from each station to the coast along
        the path; 500 stands for "far inland", 0 for a station at sea
    climate : Climate, its fields scalar or (paths,)

    Returns
    -------
    P452Result with Lb and every value on the way, (paths,) or (times, paths). A NaN in a path's input makes its numbers NaN.

    Raises
    ------
    RadioRangeError
        An argument outside the range given above.

    Source
    ------
    ITU-R P.452-18, Annex 1: §3.2 (earth radius, β0), §4.1 (line of sight), §4.2 (diffraction),
    §4.3 (troposcatter), §4.4 (ducting and layer reflection), §4.6 (combination), Attachment 2
    (path profile analysis); gas by P.676 Annex 1.

    Range
    -----
    0.1 to 50 GHz, 0.001 to 50 % of time, clear air. Hydrometeor scatter (Annex 2) is not computed.

    Known disagreements
    -------------------
    Free space is 92.4 + 20 log f + 20 log d over the slant distance, as the published P.452-18
    results have it; P.452-16 has 92.5 over the surface distance. Wavelength is 0.2998/f. The gas of
    troposcatter is computed with 3 g/m³ of water vapour, all other gas with 7.5 + 2.5ω g/m³, and the
    pressure is that of the dry air: so do the published results. Ground cover is added to the
    terrain except nearer than 50 m to an end; a point at exactly 50 m keeps it. P.452-16 and -17
    used a terminal clutter loss instead and cannot be compared.

    The loss is not exactly the same both ways. Every mechanism is (to rounding, but for two points
    that tie for a horizon), and so is each joint but one: the weight Fj looks at the steepest terrain
    as seen from the transmitter, (Stim − Str)/0.3, where P.1812-8 takes (θ − 0.3)/0.3 from the
    angular distance of both ends. Near the horizon the two directions therefore differ: by up to
    3 dB on rough random profiles, by up to 9 dB over the smooth earth between a high and a low
    antenna at 0.01 % of time. This is left as published; who needs the safe side takes the smaller
    of the two directions.

    Examples
    --------
    >>> import numpy as np
    >>> d = np.linspace(0.0, 60.0, 61)
    >>> ridge = 100.0 + 150.0 * np.exp(-((d - 25.0) / 4.0) ** 2)
    >>> path = PathProfiles([d], [ridge])
    >>> r = basic_transmission_loss(path, frequency_ghz=0.41, time_percent=[1.0], latitude_deg=47.0,
    ...                             height_tx_agl_m=40.0, height_rx_agl_m=25.0)
    >>> r.lb_db.round(2), r.ldp_db.round(2)
    (array([143.32]), array([29.63]))
    >>> both = PathProfiles(d, np.stack([ridge, np.full(61, 100.0)]))
    >>> basic_transmission_loss(both, frequency_ghz=[0.41, 0.9], time_percent=50.0, latitude_deg=47.0,
    ...                         height_tx_agl_m=40.0, height_rx_agl_m=25.0).lb_db.round(2)
    array([152.73, 154.94])
    """
    times = percentages("time_percent", time_percent, len(paths))
    c = checked_conditions(
        len(paths),
        frequency_ghz=frequency_ghz,
        time_percent=times[0],
        height_tx_agl_m=height_tx_agl_m,
        height_rx_agl_m=height_rx_agl_m,
        latitude_deg=latitude_deg,
        gain_tx_dbi=gain_tx_dbi,
        gain_rx_dbi=gain_rx_dbi,
        vertical=vertical,
        coast_tx_km=coast_tx_km,
        coast_rx_km=coast_rx_km,
        climate=climate,
    )
    ae = effective_radius_km(c.lapse)
    strong = np.full_like(ae, STRONG_LAYER_RADIUS_KM)
    summary = summarise(paths, c.height_tx_agl_m, c.height_rx_agl_m, [ae, strong])
    shared = time_free(summary, c)
    results = [loss_at(shared, time, climate) for time in times]
    return results[0] if np.ndim(time_percent) < 2 else P452Result.stacked(results, climate)
