"""One antenna, whatever its pattern: gain towards a direction."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from spectrum.radio.antennas import f699, f1245, f1336
from spectrum.radio.antennas.measured import Cut, measured_gain_dbi
from spectrum.radio.antennas.pointing import antenna_frame_deg, off_axis_deg
from spectrum.radio.antennas.simple import constant_gain_dbi, cosine_gain_dbi, dipole_gain_dbi
from spectrum.radio.ranges import Array, ArrayLike, in_range, same_shape

OMNIDIRECTIONAL: Final = ("f1336_omni", "dipole")
"""Kinds whose gain depends on the elevation only; a tilt of theirs is electrical."""

ANTENNA_KINDS: Final = (
    "f699",
    "f1245",
    "f1336_omni",
    "f1336_sector",
    "measured",
    "dipole",
    "cosine",
    "constant",
)
"""``constant`` is the maximum gain in every direction, for an antenna whose pattern is not known."""


@dataclass(frozen=True)
class Antenna:
    """What the pattern of an antenna follows from; hashable, so that stations can be grouped by it.

    Parameters
    ----------
    kind : str
        One of :data:`ANTENNA_KINDS`.
    max_gain_dbi : float
        Maximum gain in dBi.
    diameter_m : float, optional
        Diameter in m, for ``f699`` and ``f1245``; without it the size follows from the gain.
    beamwidth_deg : float, optional
        Half-power beamwidth in azimuth in degrees, for ``f1336_sector`` and ``cosine``.
    front_to_back_db : float, optional
        Front-to-back ratio in dB, for ``cosine``.
    k : float, optional
        Side-lobe parameter of F.1336 (k, kp or ka), 0.7.
    k_h, k_v : float, optional
        Side-lobe parameters of the F.1336 sector, 0.8 and 0.7.
    side_lobes : str, optional
        ``"peak"`` or ``"average"``, for F.1336.
    horizontal, vertical : Cut, optional
        Measured cuts, for ``measured``.

    Raises
    ------
    ValueError
        If the kind is unknown or lacks a figure that it needs.

    Source
    ------
    See the pattern of each kind.

    Range
    -----
    See the pattern of each kind.

    Examples
    --------
    >>> Antenna("f699", max_gain_dbi=22.4, diameter_m=1.8).kind
    'f699'
    >>> Antenna("f1336_sector", 15)
    Traceback (most recent call last):
    ...
    ValueError: An antenna of the kind 'f1336_sector' needs beamwidth_deg; give it, or choose another kind.
    """

    kind: str
    max_gain_dbi: float
    diameter_m: float | None = None
    beamwidth_deg: float | None = None
    front_to_back_db: float | None = None
    k: float = 0.7
    k_h: float = 0.8
    k_v: float = 0.7
    side_lobes: str = "peak"
    horizontal: Cut | None = None
    vertical: Cut | None = None

    def __post_init__(self) -> None:
        if self.kind not in ANTENNA_KINDS:
            raise ValueError(f"kind is {self.kind!r}; it must be one of {', '.join(ANTENNA_KINDS)}.")
        needed = {"f1336_sector": ("beamwidth_deg",), "cosine": ("beamwidth_deg", "front_to_back_db")}
        for name in needed.get(self.kind, ()):
            if getattr(self, name) is None:
                raise ValueError(
                    f"An antenna of the kind {self.kind!r} needs {name}; give it, or choose another kind."
                )
        if self.kind == "measured" and self.horizontal is None and self.vertical is None:
            raise ValueError(
                "An antenna of the kind 'measured' needs a cut; give a horizontal or a vertical one."
            )


def antenna_gain_dbi(
    antenna: Antenna, azimuth_deg: ArrayLike, elevation_deg: ArrayLike, frequency_mhz: ArrayLike
) -> Array:
    """Gain in a direction given in the antenna's own frame.

    Parameters
    ----------
    antenna : Antenna
        The antenna.
    azimuth_deg : scalar or array
        Azimuth from its axis in degrees, −180 to 180.
    elevation_deg : scalar or array
        Elevation above its horizontal plane in degrees, −90 to 90.
    frequency_mhz : scalar or array
        Frequency in MHz, in the range of the pattern.

    Returns
    -------
    scalar or array
        Gain in dBi; NaN where an argument is NaN.

    Raises
    ------
    RadioRangeError
        If an angle or the frequency is out of the pattern's range.

    Source
    ------
    See the pattern of each kind.

    Range
    -----
    See the pattern of each kind.

    Examples
    --------
    >>> dish = Antenna("f699", max_gain_dbi=19.96, diameter_m=3)
    >>> antenna_gain_dbi(dish, [0.0, 5.0, 180.0], 0.0, 410.0).round(2)
    array([19.96, 18.91, -5.07])
    >>> round(float(antenna_gain_dbi(Antenna("dipole", 2.15), 77, 39, 150)), 2)
    -0.85
    """
    azimuth = in_range("azimuth_deg", azimuth_deg, -180.0, 180.0)
    elevation = in_range("elevation_deg", elevation_deg, -90.0, 90.0)
    frequency = in_range("frequency_mhz", frequency_mhz, 0.0, above=True)
    off_axis = off_axis_deg(0.0, 0.0, azimuth, elevation)
    match antenna.kind:
        case "f699":
            gain = f699.gain_dbi(off_axis, frequency, antenna.diameter_m, antenna.max_gain_dbi)
        case "f1245":
            gain = f1245.gain_dbi(off_axis, frequency, antenna.diameter_m, antenna.max_gain_dbi)
        case "f1336_omni":
            gain = f1336.omni_gain_dbi(
                elevation, antenna.max_gain_dbi, antenna.k, antenna.side_lobes, frequency
            )
        case "f1336_sector":
            gain = f1336.sector_gain_dbi(
                azimuth,
                elevation,
                antenna.max_gain_dbi,
                _given(antenna.beamwidth_deg),
                k=antenna.k,
                k_h=antenna.k_h,
                k_v=antenna.k_v,
                side_lobes=antenna.side_lobes,
                frequency_mhz=frequency,
            )
        case "measured":
            gain = measured_gain_dbi(
                azimuth, elevation, antenna.max_gain_dbi, antenna.horizontal, antenna.vertical
            )
        case "dipole":
            gain = dipole_gain_dbi(elevation, antenna.max_gain_dbi)
        case "cosine":
            gain = cosine_gain_dbi(
                off_axis,
                antenna.max_gain_dbi,
                _given(antenna.beamwidth_deg),
                _given(antenna.front_to_back_db),
            )
        case _:
            gain = constant_gain_dbi(off_axis, antenna.max_gain_dbi)
    unknown = np.isnan(azimuth) & (antenna.kind not in OMNIDIRECTIONAL)
    return same_shape(np.where(unknown | np.isnan(frequency), np.nan, gain))


def gain_towards_dbi(
    antenna: Antenna,
    boresight_azimuth_deg: ArrayLike,
    boresight_elevation_deg: ArrayLike,
    azimuth_deg: ArrayLike,
    elevation_deg: ArrayLike,
    frequency_mhz: ArrayLike,
) -> Array:
    """Gain of a mounted antenna towards another station.

    A directional antenna is turned and tilted mechanically. The tilt of an omnidirectional one is
    electrical: F.1336 recommends 2.5 for its pattern; a dipole has none.

    Parameters
    ----------
    antenna : Antenna
        The antenna.
    boresight_azimuth_deg : scalar or array
        Azimuth of its axis from true north in degrees; no effect, and NaN allowed, for
        omnidirectional kinds.
    boresight_elevation_deg : scalar or array
        Elevation of its axis in degrees, −90 to 90; a downward tilt is negative.
    azimuth_deg, elevation_deg : scalar or array
        Direction of the other station: azimuth from true north, elevation above the horizontal, see
        :func:`spectrum.radio.antennas.pointing.elevation_deg`.
    frequency_mhz : scalar or array
        Frequency in MHz, in the range of the pattern.

    Returns
    -------
    scalar or array
        Gain in dBi; NaN where an argument that matters is NaN.

    Raises
    ------
    RadioRangeError
        If an angle or the frequency is out of the pattern's range.

    Source
    ------
    Rotation of the frame, see :mod:`spectrum.radio.antennas.pointing`; tilt of omnidirectional
    antennas: ITU-R F.1336-5, recommends 2.5.

    Range
    -----
    See the pattern of each kind.

    Examples
    --------
    >>> dish = Antenna("f699", max_gain_dbi=19.96, diameter_m=3)
    >>> gain_towards_dbi(dish, 350.0, 0.0, [350.0, 355.0, 170.0], 0.0, 410.0).round(2)
    array([19.96, 18.91, -5.07])
    >>> omni = Antenna("f1336_omni", 8)
    >>> round(float(gain_towards_dbi(omni, 0, -6, 123, -6, 450)), 2)
    8.0
    """
    azimuth = np.asarray(azimuth_deg, dtype=np.float64)
    if antenna.kind in OMNIDIRECTIONAL:
        elevation = in_range("elevation_deg", elevation_deg, -90.0, 90.0)
        if antenna.kind == "f1336_omni":
            tilt = -np.asarray(boresight_elevation_deg, dtype=np.float64)
            elevation = f1336.omni_tilted_elevation_deg(elevation, tilt)
        shape = np.broadcast(elevation, azimuth, np.asarray(boresight_azimuth_deg)).shape
        return antenna_gain_dbi(antenna, np.zeros(shape)[()], elevation, frequency_mhz)
    relative_azimuth, relative_elevation = antenna_frame_deg(
        boresight_azimuth_deg, boresight_elevation_deg, azimuth, elevation_deg
    )
    return antenna_gain_dbi(antenna, relative_azimuth, relative_elevation, frequency_mhz)


def _given(value: float | None) -> float:
    return np.nan if value is None else value
