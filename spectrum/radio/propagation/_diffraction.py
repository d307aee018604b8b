"""Bullington and delta-Bullington losses of summarised profiles, without argument checks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from spectrum.radio.propagation._kernels import bullington_edge, bullington_total, knife_edge, spherical_earth
from spectrum.radio.propagation._summary import Edges, ProfileSummary
from spectrum.radio.ranges import Array


@dataclass(frozen=True)
class DiffractionLoss:
    """The four losses of the delta-Bullington method, each (paths,), dB.

    Attributes
    ----------
    terrain_db : Bullington's loss over the terrain with its clutter (Lbulla)
    smooth_db : Bullington's loss over the smooth surface (Lbulls)
    spherical_db : spherical-earth loss over the smooth surface (Ldsph)
    total_db : terrain_db + max(spherical_db − smooth_db, 0) (Ld)
    """

    terrain_db: Array
    smooth_db: Array
    spherical_db: Array
    total_db: Array


def loss_from_edges(
    edges: Edges, length_km: Array, height_tx_m: Array, height_rx_m: Array, wavelength_m: Array
) -> Array:
    """Bullington's loss in dB from the largest slopes and ν of a profile, heights above one datum."""
    nu = edges.nu_scaled * np.sqrt(0.002 * length_km / wavelength_m)
    nu = bullington_edge(
        edges.slope_tx, edges.slope_rx, nu, length_km, height_tx_m, height_rx_m, wavelength_m
    )
    return bullington_total(knife_edge(nu), length_km)


def diffraction_from_summary(
    summary: ProfileSummary,
    radius_index: int,
    radius_km: Array,
    frequency_ghz: Array,
    wavelength_m: Array,
    vertical: npt.NDArray[np.bool_],
    over_sea_fraction: Array,
) -> DiffractionLoss:
    """The delta-Bullington loss of summarised profiles under one of their earth radii."""
    s = summary
    over_tx = s.height_tx_m - s.diffraction_surface_tx_m
    over_rx = s.height_rx_m - s.diffraction_surface_rx_m
    terrain = loss_from_edges(s.actual[radius_index], s.length_km, s.height_tx_m, s.height_rx_m, wavelength_m)
    smooth = loss_from_edges(s.smooth[radius_index], s.length_km, over_tx, over_rx, wavelength_m)
    spherical = spherical_earth(
        s.length_km, over_tx, over_rx, radius_km, frequency_ghz, vertical, over_sea_fraction, wavelength_m
    )
    return DiffractionLoss(terrain, smooth, spherical, terrain + np.maximum(spherical - smooth, 0.0))
