"""Reference patterns of omnidirectional and sector antennas (ITU-R F.1336-5).

The public implementations that were read name the clauses; the Recommendation's text was not read.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

SOURCE: Final = "ITU-R F.1336-5"
OMNI_RANGE_MHZ: Final = (400.0, 70_000.0)
SECTOR_RANGE_MHZ: Final = (400.0, 6_000.0)
SIDE_LOBES: Final = ("peak", "average")
STEEPEST_TILT_DEG: Final = 45.0


def omni_elevation_beamwidth_deg(max_gain_dbi: ArrayLike) -> Array:
    """Half-power beamwidth in elevation of an omnidirectional antenna, 107.6 · 10^(−0.1 G0).

    Parameters
    ----------
    max_gain_dbi : scalar or array
        Maximum gain in dBi.

    Returns
    -------
    scalar or array
        θ3 in degrees.

    Source
    ------
    ITU-R F.1336-5, equation (1b).

    Range
    -----
    Gains of some 8 dBi or more; below that θ3 exceeds 17° and the pattern is not meant for dipoles.

    Examples
    --------
    >>> round(float(omni_elevation_beamwidth_deg(8)), 4)
    17.0535
    >>> omni_elevation_beamwidth_deg([10.15, 13.0]).round(4)
    array([10.3947,  5.3928])
    """
    return same_shape(np.asarray(107.6 * 10.0 ** (-0.1 * np.asarray(max_gain_dbi, dtype=np.float64))))


def omni_gain_dbi(
    elevation_deg: ArrayLike,
    max_gain_dbi: ArrayLike,
    k: ArrayLike = 0.7,
    side_lobes: str = "peak",
    frequency_mhz: ArrayLike | None = None,
) -> Array:
    """Gain of an omnidirectional antenna; it depends on the elevation only.

    With x = |θ|/θ3 and peak side lobes: G = G0 − 12 x² up to x = √(1 − log(k + 1)/1.2); then
    G0 − 12 + 10 log(k + 1) up to x = 1; then G0 − 12 + 10 log(x^−1.5 + k). For average side lobes the first ends
    at x = 1 and the second at x = √(1.25 + log(k + 1)/1.2), and 15 stands for 12 in the second and third.

    Parameters
    ----------
    elevation_deg : scalar or array
        Angle above the plane of maximum gain in degrees, −90 to 90.
    max_gain_dbi : scalar or array
        G0, maximum gain in dBi.
    k : scalar or array, optional
        Side-lobe parameter, 0 to 1: 0.7 typical from 0.4 to 3 GHz (default), 0 for improved antennas.
    side_lobes : str, optional
        ``"peak"`` for a single interferer (default), ``"average"`` for many.
    frequency_mhz : scalar or array, optional
        Frequency in MHz; only its range is checked, 400 to 70 000.

    Returns
    -------
    scalar or array
        Gain in dBi; NaN where any argument is NaN.

    Raises
    ------
    RadioRangeError
        If the elevation, k or the frequency is out of range.
    ValueError
        If ``side_lobes`` is neither of the two.

    Source
    ------
    ITU-R F.1336-5, recommends 2.1 (peak), 2.2 (average), 2.3 and 2.4 (k), equations (1a) to (1d).

    Range
    -----
    400 MHz to 70 GHz. For low gains the result is formula arithmetic, not a model of a dipole.

    Known disagreements
    -------------------
    Average side lobes: three public implementations end the level stretch after θ3 at three angles,
    θ3 √(1.25 ± log(k + 1)/1.2) or not beyond θ3. The plus sign is used, as in the one that names
    edition 5; it is on the safe side of the others, by at most 0.7 dB and only from θ3 to 1.2 θ3. All
    have the step at θ3 from −12 dB to −15 + 10 log(k + 1) dB.

    Examples
    --------
    >>> omni_gain_dbi([5.0, 10.0, 15.0, 30.0, 90.0], 8.0).round(3)
    array([ 6.968,  3.874, -1.284, -3.475, -5.065])
    >>> round(float(omni_gain_dbi(-30, 8, k=0, side_lobes="average", frequency_mhz=450)), 4)
    -10.6796
    """
    _check_side_lobes(side_lobes)
    angle = np.abs(in_range("elevation_deg", elevation_deg, -90.0, 90.0))
    level = in_range("k", k, 0.0, 1.0, source=f"{SOURCE}, recommends 2.3 and 2.4")
    if frequency_mhz is not None:
        in_range("frequency_mhz", frequency_mhz, *OMNI_RANGE_MHZ, source=SOURCE)
    g0 = np.asarray(max_gain_dbi, dtype=np.float64)
    x = angle / omni_elevation_beamwidth_deg(g0)
    drop = 12.0 if side_lobes == "peak" else 15.0
    main = -12.0 * x**2
    plateau = -drop + 10.0 * np.log10(level + 1.0)
    tail = -drop + 10.0 * np.log10(np.where(x > 0.0, x, 1.0) ** -1.5 + level)
    if side_lobes == "peak":
        main_end, plateau_end = np.sqrt(1.0 - np.log10(level + 1.0) / 1.2), np.asarray(1.0)
    else:
        main_end, plateau_end = np.asarray(1.0), np.sqrt(1.25 + np.log10(level + 1.0) / 1.2)
    relative = np.where(x < main_end, main, np.where(x < plateau_end, plateau, tail))
    return same_shape(np.where(np.isnan(x + level), np.nan, g0 + relative))


def omni_tilted_elevation_deg(elevation_deg: ArrayLike, downtilt_deg: ArrayLike) -> Array:
    """Elevation at which to read the pattern of an electrically tilted omnidirectional antenna.

    θe = 90 (θ + β)/(90 + β) for θ + β ≥ 0, else 90 (θ + β)/(90 − β).

    Parameters
    ----------
    elevation_deg : scalar or array
        Elevation above the horizon in degrees, −90 to 90.
    downtilt_deg : scalar or array
        Electrical tilt in degrees, positive below the horizon, −45 to 45.

    Returns
    -------
    scalar or array
        Elevation for :func:`omni_gain_dbi` in degrees; 0 at the tilt, ±90 at the zenith and nadir.

    Raises
    ------
    RadioRangeError
        If an angle is out of range.

    Source
    ------
    ITU-R F.1336-5, recommends 2.5, equation (1e), as read in two public implementations.

    Range
    -----
    The limit of 45° is ours; practical tilts are a few degrees.

    Examples
    --------
    >>> omni_tilted_elevation_deg([-90.0, -6.0, 90.0], 6.0)
    array([-90.,   0.,  90.])
    >>> round(float(omni_tilted_elevation_deg(0, 6)), 3)
    5.625
    """
    elevation = in_range("elevation_deg", elevation_deg, -90.0, 90.0)
    tilt = in_range("downtilt_deg", downtilt_deg, -STEEPEST_TILT_DEG, STEEPEST_TILT_DEG)
    above = elevation + tilt
    return same_shape(np.asarray(90.0 * above / np.where(above >= 0.0, 90.0 + tilt, 90.0 - tilt)))


def sector_elevation_beamwidth_deg(max_gain_dbi: ArrayLike, azimuth_beamwidth_deg: ArrayLike) -> Array:
    """Half-power beamwidth in elevation of a sector antenna, 31 000 · 10^(−0.1 G0) / φ3.

    Parameters
    ----------
    max_gain_dbi : scalar or array
        Maximum gain in dBi.
    azimuth_beamwidth_deg : scalar or array
        φ3, half-power beamwidth in azimuth in degrees, above 0.

    Returns
    -------
    scalar or array
        θ3 in degrees.

    Raises
    ------
    RadioRangeError
        If the beamwidth is not positive.

    Source
    ------
    ITU-R F.1336-5, recommends 3.3.

    Range
    -----
    Sectors up to about 120° (from memory, not verified).

    Examples
    --------
    >>> round(float(sector_elevation_beamwidth_deg(15, 65)), 4)
    15.0816
    >>> sector_elevation_beamwidth_deg([11.0, 17.0], [90.0, 65.0]).round(4)
    array([27.3602,  9.5159])
    """
    phi3 = in_range("azimuth_beamwidth_deg", azimuth_beamwidth_deg, 0.0, 360.0, above=True)
    return same_shape(
        np.asarray(31_000.0 * 10.0 ** (-0.1 * np.asarray(max_gain_dbi, dtype=np.float64)) / phi3)
    )


def sector_gain_dbi(
    azimuth_deg: ArrayLike,
    elevation_deg: ArrayLike,
    max_gain_dbi: ArrayLike,
    azimuth_beamwidth_deg: ArrayLike,
    elevation_beamwidth_deg: ArrayLike | None = None,
    k: ArrayLike = 0.7,
    k_h: ArrayLike = 0.8,
    k_v: ArrayLike = 0.7,
    side_lobes: str = "peak",
    frequency_mhz: ArrayLike | None = None,
) -> Array:
    """Gain of a sector antenna in azimuth and elevation.

    G = G0 + Ghr(φ/φ3) + R Gvr(θ/θ3), R = (Ghr(φ/φ3) − Ghr(180°/φ3)) / (Ghr(0) − Ghr(180°/φ3)).

    Ghr(x) = −12 x² up to x = 0.5, then −12 x^(2 − kh) − 3 (1 − 0.5^−kh); Gvr(x) = −12 x² up to √(1 − 0.36 kv), then
    −12 + 10 log(x^−1.5 + kv) up to x = 4, then a slope to the back lobe; neither below the back lobe,
    −12 + 10 log(1 + 8 kp) − 15 log(180/θ3). Average side lobes: 15 stands for 12, √(1.33 − 0.33 kv) ends the main lobe.

    Parameters
    ----------
    azimuth_deg : scalar or array
        Angle from the direction of maximum gain in its horizontal plane, degrees, −180 to 180.
    elevation_deg : scalar or array
        Angle above that plane in degrees, −90 to 90.
    max_gain_dbi : scalar or array
        G0, maximum gain in dBi.
    azimuth_beamwidth_deg : scalar or array
        φ3, half-power beamwidth in azimuth in degrees, above 0.
    elevation_beamwidth_deg : scalar or array, optional
        θ3, half-power beamwidth in elevation in degrees; without it from
        :func:`sector_elevation_beamwidth_deg`.
    k : scalar or array, optional
        kp (peak) or ka (average) of the back lobe, 0.7.
    k_h, k_v : scalar or array, optional
        Side-lobe parameters: 0.8 and 0.7 typical (default), 0.7 and 0.3 improved.
    side_lobes : str, optional
        ``"peak"`` for a single interferer (default), ``"average"`` for many.
    frequency_mhz : scalar or array, optional
        Frequency in MHz; only its range is checked, 400 to 6000.

    Returns
    -------
    scalar or array
        Gain in dBi; NaN where any argument is NaN.

    Raises
    ------
    RadioRangeError
        If an angle, a beamwidth, a parameter or the frequency is out of range.
    ValueError
        If ``side_lobes`` is neither of the two.

    Source
    ------
    ITU-R F.1336-5, recommends 3.1.1 (peak), 3.1.2 (average) and 3.3 (θ3).

    Range
    -----
    400 MHz to 6 GHz.

    Known disagreements
    -------------------
    Two public implementations disagree on the factor C of the far elevations. Only
    C = 10 log[(180/θ3)^1.5 (4^−1.5 + kv) / (1 + 8 kp)] / log(22.5/θ3) reaches the back lobe at 90°
    without a step, and that one is used; the other differs by up to 4.3 dB at large elevations and
    not at all elsewhere.

    Examples
    --------
    >>> sector_gain_dbi([0.0, 30.0, 180.0], 0.0, 15.0, 65.0).round(4)
    array([15.    , 12.4438, -4.9569])
    >>> round(float(sector_gain_dbi(10, -15, 15, 65, frequency_mhz=450)), 4)
    5.179
    """
    _check_side_lobes(side_lobes)
    phi = np.abs(in_range("azimuth_deg", azimuth_deg, -180.0, 180.0))
    theta = np.abs(in_range("elevation_deg", elevation_deg, -90.0, 90.0))
    g0 = np.asarray(max_gain_dbi, dtype=np.float64)
    phi3 = in_range("azimuth_beamwidth_deg", azimuth_beamwidth_deg, 0.0, 360.0, above=True)
    theta3 = (
        sector_elevation_beamwidth_deg(g0, phi3)
        if elevation_beamwidth_deg is None
        else in_range("elevation_beamwidth_deg", elevation_beamwidth_deg, 0.0, 180.0, above=True)
    )
    back = in_range("k", k, 0.0, 1.0)
    kh, kv = in_range("k_h", k_h, 0.0, 1.0), in_range("k_v", k_v, 0.0, 1.0)
    if frequency_mhz is not None:
        in_range("frequency_mhz", frequency_mhz, *SECTOR_RANGE_MHZ, source=SOURCE)

    drop = 12.0 if side_lobes == "peak" else 15.0
    back_lobe = -drop + 10.0 * np.log10(1.0 + 8.0 * back) - 15.0 * np.log10(180.0 / theta3)
    horizontal = _horizontal_db(phi / phi3, kh, back_lobe)
    at_the_back = _horizontal_db(180.0 / phi3, kh, back_lobe)
    compression = (horizontal - at_the_back) / -at_the_back  # the level at azimuth 0 is 0 dB
    main_end = np.sqrt(1.0 - 0.36 * kv) if side_lobes == "peak" else np.sqrt(1.33 - 0.33 * kv)
    vertical = _vertical_db(theta / theta3, theta3, kv, back, back_lobe, drop, main_end)
    gain = g0 + horizontal + compression * vertical
    return same_shape(np.where(np.isnan(phi + theta + kh), np.nan, gain))


def _horizontal_db(x: ArrayLike, kh: Array, back_lobe: Array) -> Array:
    """Relative reference gain in the horizontal plane at azimuth x φ3."""
    x = np.asarray(x)
    side = -12.0 * np.where(x > 0.0, x, 1.0) ** (2.0 - kh) - 3.0 * (1.0 - 0.5**-kh)
    return np.asarray(np.maximum(np.where(x <= 0.5, -12.0 * x**2, side), back_lobe))


def _vertical_db(
    x: Array, theta3: Array, kv: Array, back: Array, back_lobe: Array, drop: float, main_end: Array
) -> Array:
    """Relative reference gain in the vertical plane at elevation x θ3."""
    near = -drop + 10.0 * np.log10(np.where(x > 0.0, x, 1.0) ** -1.5 + kv)
    # Elevations beyond 4 θ3 exist only if θ3 < 22.5°; elsewhere the slope is not used.
    narrow = np.where(theta3 < 22.5, theta3, 1.0)
    at_four = 10.0 * np.log10(4.0**-1.5 + kv)
    slope = 10.0 * np.log10((180.0 / narrow) ** 1.5 * (4.0**-1.5 + kv) / (1.0 + 8.0 * back))
    slope = slope / np.log10(22.5 / narrow)
    far = -drop + at_four - slope * np.log10(np.where(x > 0.0, x / 4.0, 1.0))
    level = np.where(x < main_end, -12.0 * x**2, np.where(x < 4.0, near, far))
    return np.asarray(np.maximum(level, back_lobe))


def _check_side_lobes(side_lobes: str) -> None:
    if side_lobes not in SIDE_LOBES:
        raise ValueError(f"side_lobes is {side_lobes!r}; it must be one of {', '.join(SIDE_LOBES)}.")
