"""The limits on where and how the antenna stands: position, height, azimuth, polarisation."""

from __future__ import annotations

from typing import Final

from licences.areas import AreaError, distance_inside_m, geodesic_distance_m
from licences.limits.records import (
    LICENCE,
    STATION,
    STATION_AND_LICENCE,
    Allowance,
    LimitResult,
    LimitTerm,
    Transmission,
    not_limited,
    unknown,
)
from sites.sentences import sentence
from sites.words import gettext_noop as _

_ELLIPSOID: Final = _("geodesic on the WGS 84 ellipsoid")


def position(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The place of the station against the licensed point or area."""
    if sent.latitude_deg is None or sent.longitude_deg is None:
        return unknown("position", "m", _("The position cannot be judged: the station's site has none."))
    if allowed.area is not None:
        try:
            inside_m = distance_inside_m(allowed.area, sent.latitude_deg, sent.longitude_deg)
        except AreaError as error:
            return unknown(
                "position", "m", sentence(_("The position cannot be judged: {reason}"), reason=str(error))
            )
        within = inside_m >= 0
        boundary = (
            LimitTerm(
                _("distance to the boundary of the licensed area, inside")
                if within
                else _("distance to the boundary of the licensed area, outside"),
                inside_m,
                "m",
                _ELLIPSOID,
            ),
        )
        said = (
            _("The station stands {distance:.0f} m inside the boundary of the licensed area.")
            if within
            else _("The station stands {distance:.0f} m outside the boundary of the licensed area.")
        )
        return LimitResult(
            "position", within, inside_m, "m", boundary, sentence(said, distance=abs(inside_m))
        )
    if allowed.latitude_deg is None or allowed.longitude_deg is None:
        return unknown(
            "position",
            "m",
            _("The position cannot be judged: the licensed channel has neither a point nor an area."),
        )
    distance_m = geodesic_distance_m(
        sent.latitude_deg, sent.longitude_deg, allowed.latitude_deg, allowed.longitude_deg
    )
    if allowed.tolerance_m is None:
        return unknown(
            "position",
            "m",
            sentence(
                _(
                    "The position cannot be judged: the station stands {distance:.0f} m from the licensed "
                    "position, and the licensed channel states no tolerance."
                ),
                distance=distance_m,
            ),
        )
    margin_m = allowed.tolerance_m - distance_m
    terms = (
        LimitTerm(_("tolerance of the licensed position"), allowed.tolerance_m, "m", LICENCE),
        LimitTerm(_("less distance from the licensed position"), -distance_m, "m", _ELLIPSOID),
    )
    said = sentence(
        _(
            "The station stands {distance:.0f} m from the licensed position; "
            "the tolerance is {tolerance:.0f} m."
        ),
        distance=distance_m,
        tolerance=allowed.tolerance_m,
    )
    return LimitResult("position", margin_m >= 0, margin_m, "m", terms, said)


def antenna_height(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The antenna height against the greatest licensed one."""
    limit_m = allowed.antenna_height_max_agl_m
    if limit_m is None:
        return not_limited("antenna_height", "m", _("The licence sets no limit on the antenna height."))
    if sent.antenna_height_agl_m is None:
        return unknown(
            "antenna_height", "m", _("The antenna height cannot be judged: the station does not state it.")
        )
    margin_m = limit_m - sent.antenna_height_agl_m
    terms = (
        LimitTerm(_("greatest antenna height above ground"), limit_m, "m", LICENCE),
        LimitTerm(_("less antenna height above ground"), -sent.antenna_height_agl_m, "m", STATION),
    )
    said = (
        _("The antenna at {height:.1f} m above ground keeps within the licensed {limit:.1f} m.")
        if margin_m >= 0
        else _(
            "The antenna at {height:.1f} m above ground is {excess:.1f} m above the licensed {limit:.1f} m."
        )
    )
    return LimitResult(
        "antenna_height",
        margin_m >= 0,
        margin_m,
        "m",
        terms,
        sentence(said, height=sent.antenna_height_agl_m, excess=-margin_m, limit=limit_m),
    )


def azimuth(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The azimuth against the licensed one and its tolerance."""
    if allowed.azimuth_deg is None:
        return not_limited("azimuth", "deg", _("The licence sets no limit on the azimuth."))
    if sent.azimuth_deg is None:
        return unknown("azimuth", "deg", _("The azimuth cannot be judged: the station does not state it."))
    if allowed.azimuth_tolerance_deg is None:
        return unknown(
            "azimuth",
            "deg",
            _("The azimuth cannot be judged: the licensed channel states no tolerance for it."),
        )
    difference_deg = abs((sent.azimuth_deg - allowed.azimuth_deg + 180.0) % 360.0 - 180.0)
    margin_deg = allowed.azimuth_tolerance_deg - difference_deg
    terms = (
        LimitTerm(_("tolerance of the licensed azimuth"), allowed.azimuth_tolerance_deg, "deg", LICENCE),
        LimitTerm(
            sentence(
                _("less difference of {azimuth:.1f} from {licensed:.1f}"),
                azimuth=sent.azimuth_deg,
                licensed=allowed.azimuth_deg,
            ),
            -difference_deg,
            "deg",
            STATION_AND_LICENCE,
        ),
    )
    return LimitResult(
        "azimuth",
        margin_deg >= 0,
        margin_deg,
        "deg",
        terms,
        sentence(
            _(
                "The antenna points to {azimuth:.1f}°, {difference:.1f}° from the licensed {licensed:.1f}°; "
                "the tolerance is {tolerance:.1f}°."
            ),
            azimuth=sent.azimuth_deg,
            difference=difference_deg,
            licensed=allowed.azimuth_deg,
            tolerance=allowed.azimuth_tolerance_deg,
        ),
    )


def polarisation(sent: Transmission, allowed: Allowance) -> LimitResult:
    """The polarisation against the licensed one."""
    if not allowed.polarisation:
        return not_limited("polarisation", "", _("The licence sets no limit on the polarisation."))
    if not sent.polarisation:
        return unknown(
            "polarisation", "", _("The polarisation cannot be judged: the station does not state it.")
        )
    used, licensed = sent.polarisation.strip().upper(), allowed.polarisation.strip().upper()
    within = used == licensed or (licensed == "D" and used in {"H", "V"})
    said = (
        _("Polarisation {used} is covered by the licensed {licensed}.")
        if within
        else _("Polarisation {used} is not covered by the licensed {licensed}.")
    )
    return LimitResult("polarisation", within, None, "", (), sentence(said, used=used, licensed=licensed))
