"""Radio-frequency exposure: reference levels and the far-field distance to them. Guidance only.

The figures help to plan and to warn. They do not replace the exposure assessment, the local code or
licensed practice: whoever stands near an antenna goes by those.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from sites.words import gettext
from spectrum.radio.propagation.free_space import SPEED_OF_LIGHT_M_PER_S
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

GUIDANCE: Final = (
    "Guidance only: a far-field estimate for one antenna transmitting all the time. Local codes and the "
    "responsible person's assessment decide; switch off before working near an antenna."
)

REFLECTION_NONE: Final = 1.0
"""Factor on power density without reflection."""
REFLECTION_TYPICAL: Final = 2.56
"""Factor for typical ground reflection (FCC OET Bulletin 65; from memory, not verified)."""
REFLECTION_FULL: Final = 4.0
"""Factor for full reflection (FCC OET Bulletin 65; from memory, not verified)."""


class FieldLevels(NamedTuple):
    """ICNIRP 2020 reference levels; NaN where none is set.

    Attributes
    ----------
    electric_v_per_m, magnetic_a_per_m : root-mean-square fields
    power_density_w_per_m2 : incident power density
    """

    electric_v_per_m: Array
    magnetic_a_per_m: Array
    power_density_w_per_m2: Array


class ExposureDistance(NamedTuple):
    """Far-field distance to a power density, or why there is none.

    Attributes
    ----------
    distance_m : distance beyond which the level is kept; NaN where refused
    near_field_m : distance within which the far-field formula does not hold
    refused : True where the distance would lie inside the near field
    reasons : why, one text per element, empty where not refused
    guidance : the caution that belongs beside the figure
    """

    distance_m: Array
    near_field_m: Array
    refused: npt.NDArray[np.bool_]
    reasons: npt.NDArray[np.str_]
    guidance: str


def icnirp_2020_reference_levels(frequency_mhz: ArrayLike, *, occupational: bool = False) -> FieldLevels:
    """Reference levels of ICNIRP 2020 for whole-body exposure, averaged over 30 minutes.

    Parameters
    ----------
    frequency_mhz : array_like
        Frequency, MHz.
    occupational : bool
        Levels for occupational exposure instead of those for the general public.

    Returns
    -------
    FieldLevels
        Electric field (V/m), magnetic field (A/m), incident power density (W/m²); fields are NaN above
        2000 MHz, where only a power density is set.

    Raises
    ------
    RadioRangeError
        When the frequency is not above 30 MHz and at most 300 GHz.

    Source
    ------
    ICNIRP Guidelines 2020, Table 5. General public: above 30 to 400 MHz 27.7 V/m, 0.073 A/m, 2 W/m²;
    above 400 to 2000 MHz 1.375√f, 0.0037√f, f/200; above 2 to 300 GHz 10 W/m².

    Range
    -----
    Above 30 MHz to 300 GHz. Local and brief exposure have other levels.

    Known disagreements
    -------------------
    The occupational levels (61 V/m, 0.16 A/m, 10 W/m²; 3√f, 0.008√f, f/40; 50 W/m²) are from memory,
    not verified.

    Examples
    --------
    >>> float(icnirp_2020_reference_levels(410.0).power_density_w_per_m2)
    2.05
    >>> icnirp_2020_reference_levels([150.0, 6000.0], occupational=True).power_density_w_per_m2.tolist()
    [10.0, 50.0]
    """
    f = in_range("frequency_mhz", frequency_mhz, 30.0, 300e3, above=True, source="ICNIRP 2020 Table 5")
    low = (61.0, 0.16, 10.0) if occupational else (27.7, 0.073, 2.0)
    middle = (3.0, 0.008, 1 / 40.0) if occupational else (1.375, 0.0037, 1 / 200.0)
    high = (np.nan, np.nan, 50.0) if occupational else (np.nan, np.nan, 10.0)
    grows = (np.sqrt(f), np.sqrt(f), f)
    known = np.where(np.isnan(f), np.nan, 1.0)
    electric, magnetic, density = (
        same_shape(known * np.where(f <= 400.0, low[i], np.where(f <= 2000.0, middle[i] * grows[i], high[i])))
        for i in range(3)
    )
    return FieldLevels(electric, magnetic, density)


def cfr_1_1310_power_density_w_per_m2(frequency_mhz: ArrayLike, *, occupational: bool = False) -> Array:
    """Maximum permissible exposure of 47 CFR 1.1310 as power density.

    General population: S = 2 W/m² to 300 MHz, f/150 to 1500 MHz, 10 W/m² above; occupational: five times that.

    Parameters
    ----------
    frequency_mhz : array_like
        Frequency, MHz.
    occupational : bool
        Limits for occupational (controlled) exposure instead of those for the general population.

    Returns
    -------
    ndarray or scalar
        Power density, W/m² (mW/cm² of the rule times 10).

    Raises
    ------
    RadioRangeError
        When the frequency lies outside 30 MHz to 100 GHz.

    Source
    ------
    47 CFR 1.1310(e), Table 1: general population 0.2 mW/cm² (30 to 300 MHz), f/1500 (300 to 1500 MHz),
    1.0 (1500 MHz to 100 GHz); occupational 1.0, f/300, 5.

    Range
    -----
    30 MHz to 100 GHz. Both expressions agree at the boundaries.

    Examples
    --------
    >>> round(float(cfr_1_1310_power_density_w_per_m2(410.0)), 4)
    2.7333
    >>> cfr_1_1310_power_density_w_per_m2([150.0, 900.0, 6000.0], occupational=True).tolist()
    [10.0, 30.0, 50.0]
    """
    f = in_range("frequency_mhz", frequency_mhz, 30.0, 100e3, source="47 CFR 1.1310 Table 1")
    return same_shape(np.asarray(np.clip(f, 300.0, 1500.0) / (30.0 if occupational else 150.0)))


def near_field_limit_m(frequency_mhz: ArrayLike, antenna_size_m: ArrayLike = 0.0) -> Array:
    """Distance within which the far-field formula does not hold.

    d = max(λ/2π, 2 D²/λ).

    Parameters
    ----------
    frequency_mhz : array_like
        Frequency, MHz.
    antenna_size_m : array_like
        Largest dimension D of the antenna, m; 0 for one much shorter than a wavelength.

    Returns
    -------
    ndarray or scalar
        The greater of λ/2π (reactive near field) and 2D²/λ (radiating near field), m.

    Raises
    ------
    RadioRangeError
        When the frequency is not above 0 or the size is negative.

    Source
    ------
    Usual far-field conditions of antenna measurement; from memory, not verified.

    Range
    -----
    Any frequency.

    Known disagreements
    -------------------
    For small antennas some documents take λ/2π, others 2λ or more; the first is used here.

    Examples
    --------
    >>> round(float(near_field_limit_m(410.0)), 3)
    0.116
    >>> near_field_limit_m(410.0, [0.35, 3.0]).round(2).tolist()
    [0.34, 24.62]
    """
    wavelength = SPEED_OF_LIGHT_M_PER_S / 1e6 / in_range("frequency_mhz", frequency_mhz, 0.0, above=True)
    size = in_range("antenna_size_m", antenna_size_m, 0.0)
    return same_shape(np.asarray(np.maximum(wavelength / (2.0 * np.pi), 2.0 * size**2 / wavelength)))


def exposure_distance(
    eirp_w: ArrayLike,
    power_density_w_per_m2: ArrayLike,
    frequency_mhz: ArrayLike,
    antenna_size_m: ArrayLike = 0.0,
    reflection_factor: ArrayLike = REFLECTION_NONE,
) -> ExposureDistance:
    """Distance from an antenna beyond which a power density is kept, in its main beam. Guidance only.

    Where that distance would lie inside the near field the formula does not hold and no distance is
    given: the reason says up to where, and what to do instead.

    Parameters
    ----------
    eirp_w : array_like
        E.i.r.p. averaged over the time of the limit, W.
    power_density_w_per_m2 : array_like
        Reference level, W/m².
    frequency_mhz : array_like
        Frequency, MHz.
    antenna_size_m : array_like
        Largest dimension of the antenna, m.
    reflection_factor : array_like
        Factor F on the power density: 1 none, 2.56 typical ground reflection, 4 full reflection.

    Returns
    -------
    ExposureDistance
        d = √(F·EIRP/(4πS)) in m, or NaN and the reason.

    Raises
    ------
    RadioRangeError
        When e.i.r.p. is negative, the density or frequency not above 0, or F outside 1 to 4.

    Source
    ------
    Power density of a spherical wave, S = EIRP/(4πd²); factors F of FCC OET Bulletin 65 from memory.

    Range
    -----
    Far field: see :func:`near_field_limit_m`. One antenna; several add up in power density.

    Known disagreements
    -------------------
    The reflection factors 2.56 and 4 are from memory, not verified.

    Examples
    --------
    >>> found = exposure_distance(39.8107, 2.05, 410.0)
    >>> round(float(found.distance_m), 3), bool(found.refused)
    (1.243, False)
    >>> refused = exposure_distance(39.8107, 2.05, 410.0, antenna_size_m=3.0)
    >>> print(refused.reasons)
    The distance of 1.2 m lies inside the near field, which reaches to 24.6 m: the far-field formula does not hold there. Stay beyond it, or have the field measured or computed.
    """  # noqa: E501
    eirp = in_range("eirp_w", eirp_w, 0.0)
    density = in_range("power_density_w_per_m2", power_density_w_per_m2, 0.0, above=True)
    factor = in_range("reflection_factor", reflection_factor, 1.0, 4.0)
    distance, near = np.broadcast_arrays(
        np.sqrt(factor * eirp / (4.0 * np.pi * density)), near_field_limit_m(frequency_mhz, antenna_size_m)
    )
    refused = (distance < near) & (eirp > 0)
    texts = [
        gettext(
            "The distance of {distance_m:.1f} m lies inside the near field, which reaches to {near_m:.1f} m: the "
            "far-field formula does not hold there. Stay beyond it, or have the field measured or computed."
        ).format(distance_m=d, near_m=n)
        if inside
        else ""
        for d, n, inside in zip(distance.flat, near.flat, refused.flat, strict=True)
    ]
    return ExposureDistance(
        same_shape(np.where(refused, np.nan, distance)),
        same_shape(np.array(near)),
        np.asarray(refused)[()],
        np.array(texts, dtype=np.str_).reshape(refused.shape)[()],
        GUIDANCE,
    )
