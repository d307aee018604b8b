"""What P.452-18 gives back: the loss and every value on the way to it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from spectrum.radio.propagation.p452.climate import Climate
from spectrum.radio.ranges import Array


@dataclass(frozen=True)
class P452Result:
    """Result of :func:`basic_transmission_loss`; every field is (paths,) but ``climate``.

    Attributes
    ----------
    lb_db : Lb, basic transmission loss not exceeded for p % of time, dB
    climate : the ΔN, N0, pressure and temperature that were used
    frequency_ghz, time_percent : f and p as given
    effective_radius_km : ae, median effective earth radius
    distance_km : length of the profile
    height_tx_amsl_m, height_rx_amsl_m : hts, hrs, antennas above sea level
    horizon_angle_tx_mrad, horizon_angle_rx_mrad, angular_distance_mrad : θt, θr, θ
    roughness_m : hm, terrain over the smooth surface between the horizons
    effective_height_tx_m, effective_height_rx_m : hte, hre, antennas above the smooth surface
    surface_tx_m, surface_rx_m : hstd, hsrd, smooth surface at the ends, as diffraction uses it
    horizon_distance_tx_km, horizon_distance_rx_km : dlt, dlr
    trans_horizon : True where terrain stands above the line between the antennas
    longest_land_km, longest_inland_km : dtm, dlm
    beta0_percent : β0, time of strong lapse rates
    over_sea_fraction : ω
    gas_db : gaseous attenuation over the slant path, part of Lbfsg
    lbfsg_db, lb0p_db, lb0b_db : free space with gas; line of sight for p % and for β0 %
    lbulla_db, lbulls_db, ldsph_db : the parts of the median diffraction loss
    ld50_db, ldb_db, ldp_db : diffraction loss for 50 %, β0 % and p %
    lbd50_db, lbd_db : free space with median diffraction; line of sight with diffraction for p %
    lbs_db, lba_db : troposcatter; ducting and layer reflection
    lminb0p_db, lminbap_db, lbda_db, lbam_db : the joints of the combination
    fi, fj, fk : its weights
    """

    lb_db: Array
    climate: Climate
    frequency_ghz: Array
    time_percent: Array
    effective_radius_km: Array
    distance_km: Array
    height_tx_amsl_m: Array
    height_rx_amsl_m: Array
    horizon_angle_tx_mrad: Array
    horizon_angle_rx_mrad: Array
    angular_distance_mrad: Array
    roughness_m: Array
    effective_height_tx_m: Array
    effective_height_rx_m: Array
    surface_tx_m: Array
    surface_rx_m: Array
    horizon_distance_tx_km: Array
    horizon_distance_rx_km: Array
    trans_horizon: npt.NDArray[np.bool_]
    longest_land_km: Array
    longest_inland_km: Array
    beta0_percent: Array
    over_sea_fraction: Array
    gas_db: Array
    lbfsg_db: Array
    lb0p_db: Array
    lb0b_db: Array
    lbulla_db: Array
    lbulls_db: Array
    ldsph_db: Array
    ld50_db: Array
    ldb_db: Array
    ldp_db: Array
    lbd50_db: Array
    lbd_db: Array
    lbs_db: Array
    lba_db: Array
    lminb0p_db: Array
    lminbap_db: Array
    lbda_db: Array
    lbam_db: Array
    fi: Array
    fj: Array
    fk: Array

    def unknown_where(self, missing: npt.NDArray[np.bool_]) -> P452Result:
        """The same result with NaN in every computed number of the paths that are missing an input."""
        if not missing.any():
            return self
        kept = {"frequency_ghz", "time_percent", "trans_horizon", "climate"}
        names = (f.name for f in fields(self) if f.name not in kept)
        unknown: dict[str, Any] = {name: np.where(missing, np.nan, getattr(self, name)) for name in names}
        return replace(self, **unknown)

    def shaped(self, shape: tuple[int, ...], climate: Climate) -> P452Result:
        """The same result with its fields in another shape, and the climate as the caller gave it."""
        arrays = {
            f.name: np.reshape(getattr(self, f.name), shape)[()] for f in fields(self) if f.name != "climate"
        }
        return replace(self, climate=climate, **arrays)

    @classmethod
    def stacked(cls, results: Sequence[P452Result], climate: Climate) -> P452Result:
        """Results of the same paths as one, with a first axis that counts them; what they share is not copied."""
        arrays: dict[str, Any] = {}
        for field in fields(cls):
            values = [getattr(result, field.name) for result in results]
            if field.name == "climate":
                continue
            shared = all(value is values[0] for value in values)
            arrays[field.name] = (
                np.broadcast_to(values[0], (len(values), *values[0].shape)) if shared else np.stack(values)
            )
        return cls(climate=climate, **arrays)
