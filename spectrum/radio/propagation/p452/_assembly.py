"""P.452-18 from summarised profiles: the mechanisms, their combination, the result."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from spectrum.radio.propagation._diffraction import diffraction_from_summary
from spectrum.radio.propagation._summary import ProfileSummary
from spectrum.radio.propagation.p452._combination import combine, interpolation_factor
from spectrum.radio.propagation.p452._conditions import Conditions
from spectrum.radio.propagation.p452._mechanisms import (
    STRONG_LAYER_RADIUS_KM,
    anomalous_time,
    ducting,
    line_of_sight,
    path_geometry,
    troposcatter,
)
from spectrum.radio.propagation.p452.climate import Climate
from spectrum.radio.propagation.p452.result import P452Result
from spectrum.radio.propagation.smooth_earth import effective_radius_km


def loss_from_summary(s: ProfileSummary, c: Conditions, climate: Climate) -> P452Result:
    """P.452-18 from what :func:`summarise` took from the profiles under ae and three earth radii."""
    ae = effective_radius_km(c.lapse)
    strong = np.full_like(ae, STRONG_LAYER_RADIUS_KM)
    omega = s.over_sea_fraction
    g = path_geometry(s, ae)
    anomalous = anomalous_time(s, c.latitude_deg)
    sight = line_of_sight(s, g, c, anomalous.beta0)
    radio = (c.frequency_ghz, c.wavelength_m, c.vertical, omega)
    median = diffraction_from_summary(s, 0, ae, *radio)
    rare = diffraction_from_summary(s, 1, strong, *radio).total_db
    fi = interpolation_factor(c.time_percent, anomalous.beta0)
    ldp = median.total_db + fi * (rare - median.total_db)
    lbs = troposcatter(s, g, c)
    lba = ducting(s, g, c, anomalous, sight.gas_db_per_km)
    joined = combine(
        distance_km=s.length_km,
        horizon_excess_mrad=s.bare.slope_tx - s.step_slope,
        over_sea_fraction=omega,
        time_percent=c.time_percent,
        beta0_percent=anomalous.beta0,
        fi=fi,
        lbfsg=sight.lbfsg,
        lb0p=sight.lb0p,
        lb0b=sight.lb0b,
        ld50=median.total_db,
        ldp=ldp,
        lbs=lbs,
        lba=lba,
    )
    result = P452Result(
        lb_db=joined.lb,
        climate=climate,
        frequency_ghz=c.frequency_ghz,
        time_percent=c.time_percent,
        effective_radius_km=ae,
        distance_km=s.length_km,
        height_tx_amsl_m=s.height_tx_m,
        height_rx_amsl_m=s.height_rx_m,
        horizon_angle_tx_mrad=g.theta_t,
        horizon_angle_rx_mrad=g.theta_r,
        angular_distance_mrad=g.theta,
        roughness_m=s.roughness_m,
        effective_height_tx_m=g.hte,
        effective_height_rx_m=g.hre,
        surface_tx_m=s.diffraction_surface_tx_m,
        surface_rx_m=s.diffraction_surface_rx_m,
        horizon_distance_tx_km=g.dlt,
        horizon_distance_rx_km=g.dlr,
        trans_horizon=s.trans_horizon,
        longest_land_km=s.longest_land_km,
        longest_inland_km=s.longest_inland_km,
        beta0_percent=anomalous.beta0,
        over_sea_fraction=omega,
        gas_db=sight.gas_db,
        lbfsg_db=sight.lbfsg,
        lb0p_db=sight.lb0p,
        lb0b_db=sight.lb0b,
        lbulla_db=median.terrain_db,
        lbulls_db=median.smooth_db,
        ldsph_db=median.spherical_db,
        ld50_db=median.total_db,
        ldb_db=rare,
        ldp_db=ldp,
        lbd50_db=joined.lbd50,
        lbd_db=joined.lbd,
        lbs_db=lbs,
        lba_db=lba,
        lminb0p_db=joined.lminb0p,
        lminbap_db=joined.lminbap,
        lbda_db=joined.lbda,
        lbam_db=joined.lbam,
        fi=fi,
        fj=joined.fj,
        fk=joined.fk,
    )
    return result.unknown_where(_missing(s, c))


def _missing(s: ProfileSummary, c: Conditions) -> npt.NDArray[np.bool_]:
    """Paths with a NaN among their inputs, in the terrain or in a condition."""
    missing = np.isnan(s.bare.slope_tx) | np.isnan(s.actual[0].slope_tx)
    missing |= np.isnan(s.ground_tx_m) | np.isnan(s.ground_rx_m)
    numbers = (getattr(c, name) for name in c.__dataclass_fields__ if name != "vertical")
    for value in numbers:
        missing |= np.isnan(value)
    return missing
