"""Attenuation by oxygen and water vapour (ITU-R P.676, Annex 1, line by line)."""

from __future__ import annotations

from spectrum.radio.propagation._gas_lines import air_terms, oxygen, specific_attenuation, water_vapour
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

SOURCE = "ITU-R P.676 as P.452-18 uses it"


def _checked(
    frequency_mhz: ArrayLike, pressure_hpa: ArrayLike, temperature_c: ArrayLike, vapour_g_per_m3: ArrayLike
) -> tuple[Array, Array, Array, Array]:
    return (
        in_range("frequency_mhz", frequency_mhz, 100.0, 50_000.0, source=SOURCE) / 1000.0,
        in_range("dry_pressure_hpa", pressure_hpa, 300.0, 1100.0, source=SOURCE),
        in_range("temperature_c", temperature_c, -80.0, 60.0, source=SOURCE),
        in_range("water_vapour_g_per_m3", vapour_g_per_m3, 0.0, 60.0, source=SOURCE),
    )


def oxygen_attenuation_db_per_km(
    frequency_mhz: ArrayLike,
    dry_pressure_hpa: ArrayLike = 1013.0,
    temperature_c: ArrayLike = 15.0,
    water_vapour_g_per_m3: ArrayLike = 7.5,
) -> Array:
    """Specific attenuation by dry air: oxygen lines, their non-resonant part, and nitrogen.

    γo = 0.1820 f (Σ Si Fi + N″D), f in GHz: the lines with strength S and shape F, and the dry continuum.

    Parameters
    ----------
    frequency_mhz : scalar or array, MHz, 100 to 50 000
    dry_pressure_hpa : scalar or array, hPa, 300 to 1100, of the dry air
    temperature_c : scalar or array, °C, −80 to 60
    water_vapour_g_per_m3 : scalar or array, g/m³, 0 to 60; it widens the lines

    Returns
    -------
    Specific attenuation in dB/km, the broadcast shape of the arguments.

    Raises
    ------
    RadioRangeError
        An argument outside the range given above.

    Source
    ------
    ITU-R P.676 Annex 1, Table 1 and its equations for N″(oxygen) and the dry continuum.

    Range
    -----
    Kept to 0.1–50 GHz, where P.452-18 needs it and where it was checked.

    Known disagreements
    -------------------
    Coefficients from memory; verified at 1013 hPa and 15 °C only, against the published P.452-18
    results.

    Examples
    --------
    >>> round(float(oxygen_attenuation_db_per_km(410.0)), 5)
    0.00236
    >>> oxygen_attenuation_db_per_km([1000.0, 10_000.0]).round(4)
    array([0.0054, 0.0082])
    """
    f, p, t, rho = _checked(frequency_mhz, dry_pressure_hpa, temperature_c, water_vapour_g_per_m3)
    return same_shape(oxygen(f, *air_terms(p, t, rho)))


def water_vapour_attenuation_db_per_km(
    frequency_mhz: ArrayLike,
    dry_pressure_hpa: ArrayLike = 1013.0,
    temperature_c: ArrayLike = 15.0,
    water_vapour_g_per_m3: ArrayLike = 7.5,
) -> Array:
    """Specific attenuation by water vapour.

    γw = 0.1820 f Σ Si Fi, f in GHz: the lines with strength S and shape F.

    Parameters
    ----------
    frequency_mhz : scalar or array, MHz, 100 to 50 000
    dry_pressure_hpa : scalar or array, hPa, 300 to 1100, of the dry air
    temperature_c : scalar or array, °C, −80 to 60
    water_vapour_g_per_m3 : scalar or array, g/m³, 0 to 60

    Returns
    -------
    Specific attenuation in dB/km, the broadcast shape of the arguments.

    Raises
    ------
    RadioRangeError
        An argument outside the range given above.

    Source
    ------
    ITU-R P.676 Annex 1, Table 2 and its equation for N″(water vapour).

    Range
    -----
    Kept to 0.1–50 GHz, where P.452-18 needs it and where it was checked.

    Known disagreements
    -------------------
    Coefficients from memory; verified at 1013 hPa and 15 °C only, against the published P.452-18
    results.

    Examples
    --------
    >>> round(float(water_vapour_attenuation_db_per_km(22_235.0)), 3)
    0.179
    >>> water_vapour_attenuation_db_per_km(15_000.0, water_vapour_g_per_m3=[3.0, 10.0]).round(4)
    array([0.0073, 0.0268])
    """
    f, p, t, rho = _checked(frequency_mhz, dry_pressure_hpa, temperature_c, water_vapour_g_per_m3)
    return same_shape(water_vapour(f, *air_terms(p, t, rho)))


def gas_attenuation_db_per_km(
    frequency_mhz: ArrayLike,
    dry_pressure_hpa: ArrayLike = 1013.0,
    temperature_c: ArrayLike = 15.0,
    water_vapour_g_per_m3: ArrayLike = 7.5,
) -> Array:
    """Specific attenuation by dry air and water vapour together.

    Parameters
    ----------
    frequency_mhz : scalar or array, MHz, 100 to 50 000
    dry_pressure_hpa : scalar or array, hPa, 300 to 1100, of the dry air
    temperature_c : scalar or array, °C, −80 to 60
    water_vapour_g_per_m3 : scalar or array, g/m³, 0 to 60; P.452-18 takes 7.5 over land, 10 over sea

    Returns
    -------
    Specific attenuation in dB/km, the broadcast shape of the arguments.

    Raises
    ------
    RadioRangeError
        An argument outside the range given above.

    Source
    ------
    ITU-R P.676 Annex 1, γ = γo + γw; used by P.452-18 §4.1 with the path length.

    Range
    -----
    Kept to 0.1–50 GHz, where P.452-18 needs it and where it was checked.

    Known disagreements
    -------------------
    P.452 speaks of pressure; its published results take it as that of the dry air, as is done here.
    As the total pressure it would lower the loss by up to 2 %. Coefficients from memory; verified at
    1013 hPa and 15 °C only.

    Examples
    --------
    >>> round(float(gas_attenuation_db_per_km(750.0)), 4)
    0.0045
    >>> gas_attenuation_db_per_km([410.0, 7500.0, 22_235.0]).round(4)
    array([0.0024, 0.0109, 0.1923])
    """
    return same_shape(
        specific_attenuation(*_checked(frequency_mhz, dry_pressure_hpa, temperature_c, water_vapour_g_per_m3))
    )
