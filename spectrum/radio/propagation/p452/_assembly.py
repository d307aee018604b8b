"""P.452-18 from summarised profiles: the mechanisms, their combination, the result."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from spectrum.radio.propagation._diffraction import DiffractionLoss, diffraction_from_summary
from spectrum.radio.propagation._summary import ProfileSummary
from spectrum.radio.propagation.p452._combination import combine, interpolation_factor
from spectrum.radio.propagation.p452._conditions import Conditions
from spectrum.radio.propagation.p452._mechanisms import (
    STRONG_LAYER_RADIUS_KM,
    TROPOSCATTER_VAPOUR_G_PER_M3,
    Anomalous,
    PathGeometry,
    anomalous_time,
    ducting,
    gas_db_per_km,
    line_of_sight,
    path_geometry,
    troposcatter,
    vapour_density,
)
from spectrum.radio.propagation.p452.climate import Climate
from spectrum.radio.propagation.p452.result import P452Result
from spectrum.radio.propagation.smooth_earth import effective_radius_km
from spectrum.radio.ranges import Array


@dataclass(frozen=True)
class TimeFree:
    """What does not depend on the percentage of time, and takes nearly all the work."""

    summary: ProfileSummary
    conditions: Conditions
    effective_radius_km: Array
    geometry: PathGeometry
    anomalous: Anomalous
    median: DiffractionLoss
    rare_db: Array
    gas_db_per_km: Array
    scatter_gas_db_per_km: Array


def time_free(s: ProfileSummary, c: Conditions) -> TimeFree:
    """The parts of P.452-18 that all percentages of time share; ``c.time_percent`` is not looked at."""
    ae = effective_radius_km(c.lapse)
    strong = np.full_like(ae, STRONG_LAYER_RADIUS_KM)
    omega = s.over_sea_fraction
    radio = (c.frequency_ghz, c.wavelength_m, c.vertical, omega)
    return TimeFree(
        summary=s,
        conditions=c,
        effective_radius_km=ae,
        geometry=path_geometry(s, ae),
        anomalous=anomalous_time(s, c.latitude_deg),
        median=diffraction_from_summary(s, 0, ae, *radio),
        rare_db=diffraction_from_summary(s, 1, strong, *radio).total_db,
        gas_db_per_km=gas_db_per_km(c, vapour_density(omega)),
        scatter_gas_db_per_km=gas_db_per_km(c, np.full_like(ae, TROPOSCATTER_VAPOUR_G_PER_M3)),
    )


def loss_from_summary(s: ProfileSummary, c: Conditions, climate: Climate) -> P452Result:
    """P.452-18 from what :func:`summarise` took from the profiles under ae and three earth radii."""
    return loss_at(time_free(s, c), c.time_percent, climate)


def loss_at(shared: TimeFree, time_percent: Array, climate: Climate) -> P452Result:
    """P.452-18 at a percentage of time (paths,), from the parts that all percentages share."""
    s, c, g = shared.summary, replace(shared.conditions, time_percent=time_percent), shared.geometry
    omega, anomalous, median, rare = s.over_sea_fraction, shared.anomalous, shared.median, shared.rare_db
    sight = line_of_sight(s, g, c, anomalous.beta0, shared.gas_db_per_km)
    fi = interpolation_factor(c.time_percent, anomalous.beta0)
    ldp = median.total_db + fi * (rare - median.total_db)
    lbs = troposcatter(s, g, c, shared.scatter_gas_db_per_km)
    lba = ducting(s, g, c, anomalous, shared.gas_db_per_km)
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
        effective_radius_km=shared.effective_radius_km,
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
