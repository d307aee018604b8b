"""The path profile as coordinates: distance to the right, height upward, in the units of the picture."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sites.templatetags.figures import fixed
from sites.words import gettext
from spectrum.conflicts.path_report import CLEARANCE_WANTED, Profile

LEFT, RIGHT, TOP, BOTTOM = 52.0, 704.0, 34.0, 262.0

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Label:
    """A word or figure, where it stands and which way it grows."""

    x: float
    y: float
    text: str
    anchor: str


@dataclass(frozen=True)
class ProfilePicture:
    """Polygons and lines of the picture, each as the points of an SVG path."""

    ground: str
    clutter: str
    zone: str
    ray: str
    masts: str
    worst_line: str
    worst: tuple[float, float]
    worst_label: Label
    clear: bool
    x_ticks: list[Label]
    y_ticks: list[Label]


def profile_picture(profile: Profile, first_agl_m: float, last_agl_m: float) -> ProfilePicture:
    """Draw a profile. The mast heights are those of the antennas above the ground at both ends, m."""
    along = profile.distance_km
    cover = np.zeros(len(along)) if profile.clutter_m is None else profile.clutter_m
    zone = CLEARANCE_WANTED * profile.fresnel_radius_m
    lowest = float(min(profile.ground_m.min(), (profile.ray_m - zone).min()))
    highest = float(max((profile.ground_m + cover).max(), (profile.ray_m + zone).max()))
    step = _step(max(highest - lowest, 10.0) / 5)
    low, high = math.floor(lowest / step) * step, math.ceil(highest / step) * step
    if low > float(profile.ground_m.min()) - 0.3 * step:
        low -= step

    def x(km: Array | float) -> Array:
        return LEFT + np.asarray(km) / along[-1] * (RIGHT - LEFT)

    def y(metres: Array | float) -> Array:
        return BOTTOM - (np.asarray(metres) - low) / (high - low) * (BOTTOM - TOP)

    across, top = x(along), y(profile.ground_m)
    closed = f" L{RIGHT:.1f} {BOTTOM:.1f} L{LEFT:.1f} {BOTTOM:.1f} Z"
    covered = y(profile.ground_m + cover)
    upper, lower = y(profile.ray_m + zone), y(profile.ray_m - zone)
    ray = y(profile.ray_m)
    at = profile.worst
    foot, tip = float(covered[at]), float(ray[at])
    worst_x = float(across[at])
    masts = " ".join(
        f"M{float(place):.1f} {float(y(antenna - height)):.1f} V{float(y(antenna)):.1f}"
        for place, antenna, height in (
            (LEFT, profile.ray_m[0], first_agl_m),
            (RIGHT, profile.ray_m[-1], last_agl_m),
        )
    )
    km = _step(float(along[-1]) / 6)
    return ProfilePicture(
        ground=_line(across, top) + closed,
        clutter=_line(across, covered) + " L" + _line(across[::-1], top[::-1])[1:] + " Z"
        if cover.any()
        else "",
        zone=_line(across, upper) + " L" + _line(across[::-1], lower[::-1])[1:] + " Z",
        ray=f"M{LEFT:.1f} {ray[0]:.1f} L{RIGHT:.1f} {ray[-1]:.1f}",
        masts=masts,
        worst_line=f"M{worst_x:.1f} {foot:.1f} V{tip:.1f}",
        worst=(round(worst_x, 1), round(foot, 1)),
        worst_label=Label(
            round(worst_x, 1),
            round(foot - 10 if foot < tip and foot > TOP + 24 else min(BOTTOM - 8, max(foot, tip) + 20), 1),
            gettext("{clearance_m} m at {distance_km} km")
            .format(
                clearance_m=fixed(profile.worst_clearance_m, 1), distance_km=fixed(profile.worst_at_km, 2)
            )
            .replace("-", "−"),
            "start"
            if worst_x < LEFT + 0.25 * (RIGHT - LEFT)
            else "end"
            if worst_x > LEFT + 0.75 * (RIGHT - LEFT)
            else "middle",
        ),
        clear=profile.clear,
        x_ticks=[
            Label(round(float(x(n * km)), 1), BOTTOM + 16, f"{n * km:g}", "middle")
            for n in range(int(float(along[-1]) / km + 1e-9) + 1)
        ],
        y_ticks=[
            Label(
                LEFT - 6, round(float(y(low + n * step)), 1), f"{low + n * step:g}".replace("-", "−"), "end"
            )
            for n in range(round((high - low) / step) + 1)
        ],
    )


def _step(raw: float) -> float:
    """The next of 1, 2 and 5 times a power of ten."""
    power = 10.0 ** math.floor(math.log10(raw))
    return next(float(m * power) for m in (1, 2, 5, 10) if m * power >= raw * (1 - 1e-9))


def _line(x: Array, y: Array) -> str:
    return "M" + " L".join(f"{a:.1f} {b:.1f}" for a, b in zip(x.tolist(), y.tolist(), strict=True))
