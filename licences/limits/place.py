"""The limits on where and how the antenna stands: position, height, azimuth, polarisation."""

from __future__ import annotations

from typing import Final

from licences.areas import AreaError, distance_inside_m, geodesic_distance_m
from licences.limits.records import (
    LICENCE,
    STATION,
    Allowance,
    LimitResult,
    LimitTerm,
    Transmission,
    not_limited,
    unknown,
)

_ELLIPSOID: Final = "geodesic on the WGS 84 ellipsoid"


def position(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The place of the station against the licensed point or area."""
    if sent.latitude_deg is None or sent.longitude_deg is None:
        return unknown("position", "m", "The position cannot be judged: the station's site has none.")
    if allowed.area is not None:
        try:
            inside_m = distance_inside_m(allowed.area, sent.latitude_deg, sent.longitude_deg)
        except AreaError as error:
            return unknown("position", "m", f"The position cannot be judged: {error}")
        within = inside_m >= 0
        boundary = (
            LimitTerm(
                f"distance to the boundary of the licensed area, {'inside' if within else 'outside'}",
                inside_m,
                "m",
                _ELLIPSOID,
            ),
        )
        sentence = (
            f"The station stands {abs(inside_m):.0f} m {'inside' if within else 'outside'} "
            f"the boundary of the licensed area."
        )
        return LimitResult("position", within, inside_m, "m", boundary, sentence)
    if allowed.latitude_deg is None or allowed.longitude_deg is None:
        return unknown(
            "position",
            "m",
            "The position cannot be judged: the licensed channel has neither a point nor an area.",
        )
    distance_m = geodesic_distance_m(
        sent.latitude_deg, sent.longitude_deg, allowed.latitude_deg, allowed.longitude_deg
    )
    if allowed.tolerance_m is None:
        return unknown(
            "position",
            "m",
            f"The position cannot be judged: the station stands {distance_m:.0f} m from the licensed "
            f"position, and the licensed channel states no tolerance.",
        )
    margin_m = allowed.tolerance_m - distance_m
    terms = (
        LimitTerm("tolerance of the licensed position", allowed.tolerance_m, "m", LICENCE),
        LimitTerm("less distance from the licensed position", -distance_m, "m", _ELLIPSOID),
    )
    sentence = (
        f"The station stands {distance_m:.0f} m from the licensed position; "
        f"the tolerance is {allowed.tolerance_m:.0f} m."
    )
    return LimitResult("position", margin_m >= 0, margin_m, "m", terms, sentence)


def antenna_height(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The antenna height against the greatest licensed one."""
    limit_m = allowed.antenna_height_max_agl_m
    if limit_m is None:
        return not_limited("antenna_height", "m", "the antenna height")
    if sent.antenna_height_agl_m is None:
        return unknown(
            "antenna_height", "m", "The antenna height cannot be judged: the station does not state it."
        )
    margin_m = limit_m - sent.antenna_height_agl_m
    terms = (
        LimitTerm("greatest antenna height above ground", limit_m, "m", LICENCE),
        LimitTerm("less antenna height above ground", -sent.antenna_height_agl_m, "m", STATION),
    )
    side = "keeps within" if margin_m >= 0 else f"is {-margin_m:.1f} m above"
    return LimitResult(
        "antenna_height",
        margin_m >= 0,
        margin_m,
        "m",
        terms,
        f"The antenna at {sent.antenna_height_agl_m:.1f} m above ground {side} the licensed {limit_m:.1f} m.",
    )


def azimuth(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The azimuth against the licensed one and its tolerance."""
    if allowed.azimuth_deg is None:
        return not_limited("azimuth", "deg", "the azimuth")
    if sent.azimuth_deg is None:
        return unknown("azimuth", "deg", "The azimuth cannot be judged: the station does not state it.")
    if allowed.azimuth_tolerance_deg is None:
        return unknown(
            "azimuth", "deg", "The azimuth cannot be judged: the licensed channel states no tolerance for it."
        )
    difference_deg = abs((sent.azimuth_deg - allowed.azimuth_deg + 180.0) % 360.0 - 180.0)
    margin_deg = allowed.azimuth_tolerance_deg - difference_deg
    terms = (
        LimitTerm("tolerance of the licensed azimuth", allowed.azimuth_tolerance_deg, "deg", LICENCE),
        LimitTerm(
            f"less difference of {sent.azimuth_deg:.1f} from {allowed.azimuth_deg:.1f}",
            -difference_deg,
            "deg",
            f"{STATION} and {LICENCE}",
        ),
    )
    return LimitResult(
        "azimuth",
        margin_deg >= 0,
        margin_deg,
        "deg",
        terms,
        f"The antenna points to {sent.azimuth_deg:.1f}°, {difference_deg:.1f}° from the licensed "
        f"{allowed.azimuth_deg:.1f}°; the tolerance is {allowed.azimuth_tolerance_deg:.1f}°.",
    )


def polarisation(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The polarisation against the licensed one."""
    if not allowed.polarisation:
        return not_limited("polarisation", "", "the polarisation")
    if not sent.polarisation:
        return unknown(
            "polarisation", "", "The polarisation cannot be judged: the station does not state it."
        )
    used, licensed = sent.polarisation.strip().upper(), allowed.polarisation.strip().upper()
    within = used == licensed or (licensed == "D" and used in {"H", "V"})
    verb = "is covered by" if within else "is not covered by"
    return LimitResult(
        "polarisation", within, None, "", (), f"Polarisation {used} {verb} the licensed {licensed}."
    )
