"""The core that P.452-18 shares with P.1812-8, against the published P.1812-8 rows.

These rows add what the P.452 table leaves open: mixed land and sea, the diffraction loss for β0 %,
and the weights. P.1812 differs in four places, which are taken out here: no gas, no coupling loss,
clutter right up to the end points, and another frequency range (rows at 95 MHz).
"""

import numpy as np
import pytest

from spectrum.radio.propagation._diffraction import diffraction_from_summary
from spectrum.radio.propagation._summary import summarise
from spectrum.radio.propagation.p452._combination import interpolation_factor
from spectrum.radio.propagation.p452._conditions import Conditions
from spectrum.radio.propagation.p452._mechanisms import (
    STRONG_LAYER_RADIUS_KM,
    anomalous_time,
    ducting,
    path_geometry,
)
from spectrum.radio.propagation.profiles import COASTAL_LAND, INLAND, SEA, PathProfiles
from spectrum.radio.propagation.smooth_earth import effective_radius_km
from tests.reference_tables import outside_table
from tests.spectrum.radio.propagation.columns import column
from tests.spectrum.radio.propagation.p452_cases import profile_batch

ZONES = {1.0: SEA, 3.0: COASTAL_LAND, 4.0: INLAND, 0.0: INLAND}


def near_end_cover(d, clutter):
    """Cover between an end point and 50 m from it: P.1812 counts it, P.452 does not."""
    length = np.nanmax(d, axis=1, keepdims=True)
    near = ((d > 0.0) & (d < 0.05)) | ((d < length) & (d > length - 0.05))
    return (near & (clutter > 0.0)).any(axis=1)


@pytest.fixture(scope="module")
def p1812():
    rows = outside_table("p1812_8_validation_results.csv")
    d, h, clutter, zone = profile_batch(
        "p1812_profiles", [row["profile"] for row in rows], ("d_km", "h_m", "clutter_m", "zone")
    )
    assert not near_end_cover(d, clutter).any()
    paths = PathProfiles(d, h, clutter, np.vectorize(ZONES.get)(zone))
    none = np.zeros(len(rows))
    c = Conditions(
        frequency_ghz=column(rows, "f (GHz)"),
        time_percent=column(rows, "p (%)"),
        height_tx_agl_m=column(rows, "htg (m)"),
        height_rx_agl_m=column(rows, "hrg (m)"),
        latitude_deg=column(rows, "phi (deg) [Eq (4)]"),
        gain_tx_dbi=none,
        gain_rx_dbi=none,
        vertical=column(rows, "pol") == 2.0,
        coast_tx_km=column(rows, "dct (km)"),
        coast_rx_km=column(rows, "dcr (km)"),
        lapse=column(rows, "DN"),
        refractivity=column(rows, "N0"),
        pressure_hpa=none,
        temperature_c=none,
    )
    ae = effective_radius_km(c.lapse)
    strong = np.full_like(ae, STRONG_LAYER_RADIUS_KM)
    s = summarise(paths, c.height_tx_agl_m, c.height_rx_agl_m, [ae, strong])
    g = path_geometry(s, ae)
    a = anomalous_time(s, c.latitude_deg)
    radio = (c.frequency_ghz, c.wavelength_m, c.vertical, s.over_sea_fraction)
    median = diffraction_from_summary(s, 0, ae, *radio)
    rare = diffraction_from_summary(s, 1, strong, *radio)
    fi = interpolation_factor(c.time_percent, a.beta0)
    values = {
        "w [Table 5]": s.over_sea_fraction,
        "dtm (km) [Sec 3.6]": s.longest_land_km,
        "dlm (km) [Sec 3.6]": s.longest_inland_km,
        "b0 (%) [Eq (5)]": a.beta0,
        "ae (km) [Eq (7a)]": ae,
        "dlt (km) [Eq (78)]": g.dlt,
        "dlr (km) [Eq (81a)]": g.dlr,
        "hst (m) [Eq (85)]": s.surface_tx_m,
        "hsr (m) [Eq (86)]": s.surface_rx_m,
        "hstd (m) [Eq (89)]": s.diffraction_surface_tx_m,
        "hsrd (m) [Eq (89)]": s.diffraction_surface_rx_m,
        "hte (m) [Eq (92a)]": g.hte,
        "hre (m) [Eq (92b)]": g.hre,
        "hm (m) [Eq (93)]": s.roughness_m,
        "Fi [Eq (40)]": fi,
        # The table keeps these three parts from the run for β0 %.
        "Lbulla (dB) [Eq (21)]": rare.terrain_db,
        "Lbulls (dB) [Eq (21)]": rare.smooth_db,
        "Ldsph (dB) [Eq (27)]": rare.spherical_db,
        "Ld50 (dB) [Eq (39)]": median.total_db,
        "Ldb (dB) [Eq (39)]": rare.total_db,
        "Ldp (dB) [Eq (41)]": median.total_db + fi * (rare.total_db - median.total_db),
        "Lba (dB) [Eq (46)]": ducting(s, g, c, a, none),
    }
    return rows, values


# Allowed difference. Some profile files round their distances to 0.1 m, their heights to 0.1 m.
RATIO, DISTANCE_KM, HEIGHT_M, LOSS_DB = 1e-6, 4e-4, 2e-4, 5e-5
NAMES = {
    "w [Table 5]": RATIO,
    "dtm (km) [Sec 3.6]": DISTANCE_KM,
    "dlm (km) [Sec 3.6]": DISTANCE_KM,
    "b0 (%) [Eq (5)]": 1e-5,
    "ae (km) [Eq (7a)]": 1e-5,
    "dlt (km) [Eq (78)]": DISTANCE_KM,
    "dlr (km) [Eq (81a)]": DISTANCE_KM,
    "hst (m) [Eq (85)]": HEIGHT_M,
    "hsr (m) [Eq (86)]": HEIGHT_M,
    "hstd (m) [Eq (89)]": HEIGHT_M,
    "hsrd (m) [Eq (89)]": HEIGHT_M,
    "hte (m) [Eq (92a)]": HEIGHT_M,
    "hre (m) [Eq (92b)]": HEIGHT_M,
    "hm (m) [Eq (93)]": HEIGHT_M,
    "Fi [Eq (40)]": 1e-5,
    "Lbulla (dB) [Eq (21)]": LOSS_DB,
    "Lbulls (dB) [Eq (21)]": LOSS_DB,
    "Ldsph (dB) [Eq (27)]": LOSS_DB,
    "Ld50 (dB) [Eq (39)]": LOSS_DB,
    "Ldb (dB) [Eq (39)]": LOSS_DB,
    "Ldp (dB) [Eq (41)]": LOSS_DB,
    "Lba (dB) [Eq (46)]": LOSS_DB,
}


@pytest.mark.reference
@pytest.mark.parametrize("name", NAMES)
def test_p1812_8_validation_results(p1812, name):
    rows, values = p1812
    known = [i for i, row in enumerate(rows) if row[name] not in {"", "NaN", "nan"}]
    assert known
    difference = np.abs(values[name][known] - np.array([float(rows[i][name]) for i in known]))
    assert difference.max() < NAMES[name], rows[known[int(difference.argmax())]]
