"""Scalar in, scalar out; array in, array out; NaN in, NaN out in its own place: every elementwise formula."""

import numpy as np
import pytest

from spectrum.radio.propagation.free_space import (
    field_strength_dbuv_per_m,
    free_space_loss_db,
    loss_from_field_strength_db,
    power_flux_density_dbw_per_m2,
    received_power_dbm,
)
from spectrum.radio.propagation.fresnel import earth_bulge_m, fresnel_radius_m
from spectrum.radio.propagation.gas import (
    gas_attenuation_db_per_km,
    oxygen_attenuation_db_per_km,
    water_vapour_attenuation_db_per_km,
)
from spectrum.radio.propagation.knife_edge import knife_edge_loss_db, knife_edge_nu
from spectrum.radio.propagation.p452 import path_centre_latitude_deg
from spectrum.radio.propagation.p530 import (
    deep_fade_exceedance_percent,
    deep_fade_limit_db,
    fade_depth_for_outage_db,
    fade_exceedance_percent,
)
from spectrum.radio.propagation.smooth_earth import (
    effective_radius_km,
    line_of_sight_distance_km,
    spherical_diffraction_loss_db,
)

FORMULAS = [
    (free_space_loss_db, (410.0, 30.0)),
    (field_strength_dbuv_per_m, (46.0, 30.0)),
    (power_flux_density_dbw_per_m2, (60.0,)),
    (received_power_dbm, (60.0, 410.0, 8.0)),
    (loss_from_field_strength_db, (60.0, 46.0, 410.0)),
    (fresnel_radius_m, (410.0, 10.0, 20.0, 1.0)),
    (earth_bulge_m, (10.0, 20.0, 8500.0)),
    (oxygen_attenuation_db_per_km, (410.0, 1013.0, 15.0, 7.5)),
    (water_vapour_attenuation_db_per_km, (410.0, 1013.0, 15.0, 7.5)),
    (gas_attenuation_db_per_km, (410.0, 1013.0, 15.0, 7.5)),
    (knife_edge_nu, (410.0, 30.0, 10.0, 20.0)),
    (knife_edge_loss_db, (0.7,)),
    (path_centre_latitude_deg, (47.0, 8.0, 47.5, 8.5, 66.0)),
    (deep_fade_exceedance_percent, (10.0, 30.0)),
    (deep_fade_limit_db, (10.0,)),
    (fade_exceedance_percent, (10.0, 12.0)),
    (fade_depth_for_outage_db, (10.0, 0.1)),
    (effective_radius_km, (45.0,)),
    (line_of_sight_distance_km, (30.0, 20.0, 8500.0)),
    (spherical_diffraction_loss_db, (410.0, 40.0, 30.0, 20.0, 8500.0, True, 0.3)),
]
ARGUMENTS = [
    (formula, values, position)
    for formula, values in FORMULAS
    for position, value in enumerate(values)
    if not isinstance(value, bool)
]


@pytest.mark.parametrize(
    ("formula", "values", "position"), ARGUMENTS, ids=lambda v: getattr(v, "__name__", None)
)
def test_scalar_array_edge_and_unknown(formula, values, position):
    def with_one(replacement):
        return formula(*(replacement if i == position else v for i, v in enumerate(values)))

    scalar = formula(*values)
    assert np.ndim(scalar) == 0
    assert np.isfinite(scalar)
    assert with_one(np.array(values[position])) == scalar
    mixed = with_one(np.array([values[position], np.nan]))
    assert mixed[0] == pytest.approx(scalar, rel=1e-12)
    assert np.isnan(mixed[1])
    assert with_one(np.full((2, 3), values[position])).shape == (2, 3)
    assert with_one(np.empty(0)).shape == (0,)
