"""The radio climate and the air that P.452-18 asks for."""

from __future__ import annotations

from dataclasses import dataclass

from spectrum.radio.ranges import ArrayLike


@dataclass(frozen=True)
class Climate:
    """Radio climate and air of the region, with the published defaults.

    Attributes
    ----------
    refractivity_lapse_n_per_km : ΔN, N-units/km, average fall of refractivity over the lowest
        kilometre, positive; scalar or (paths,)
    surface_refractivity_n : N0, N-units, at sea level; scalar or (paths,)
    pressure_hpa : hPa, of the dry air, as the published results take it; scalar or (paths,)
    temperature_c : °C; scalar or (paths,)

    Source
    ------
    ΔN = 45 and N0 = 325: defaults of the open reference code of P.1812-8. 1013 hPa and 15 °C: the
    inputs of the published P.452-18 validation results. Read ΔN and N0 for a region from the maps
    of ITU-R P.452.

    Range
    -----
    ΔN from 0 to 156 N-units/km; pressure and temperature as :func:`gas_attenuation_db_per_km` has them.

    Examples
    --------
    >>> Climate().refractivity_lapse_n_per_km
    45.0
    >>> Climate(refractivity_lapse_n_per_km=53.0, surface_refractivity_n=328.0).temperature_c
    15.0
    """

    refractivity_lapse_n_per_km: ArrayLike = 45.0
    surface_refractivity_n: ArrayLike = 325.0
    pressure_hpa: ArrayLike = 1013.0
    temperature_c: ArrayLike = 15.0
