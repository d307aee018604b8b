"""Positions written out for people: degrees, minutes and seconds, rounded as a whole."""

from __future__ import annotations

import math

from sites.positions.angles import Axis

MOST_DECIMALS = 9


def format_angle(value_deg: float, axis: Axis, decimals: int = 1) -> str:
    """One latitude or longitude as degrees, minutes and seconds with its letter.

    The angle is rounded once, in units of the last decimal of a second, so that
    59.96″ carries into the next minute and 60 is never written.

    Parameters
    ----------
    value_deg : signed decimal degrees, within the range of the axis
    axis : latitude (two digits of degrees, N or S) or longitude (three digits, E or W)
    decimals : of the seconds, 0…9; one decimal is about 3 m

    Raises
    ------
    ValueError
        Not a number, beyond the axis' range, or decimals outside 0…9.

    Source
    ------
    Sexagesimal arithmetic; degrees in two and three digits are common practice, no published source.

    Range
    -----
    Latitude −90…90, longitude −180…180.

    Examples
    --------
    >>> format_angle(50.0 + 59.96 / 3600.0, Axis.LATITUDE)
    '50°01\\'00.0"N'
    >>> format_angle(-0.0083333333, Axis.LONGITUDE, decimals=0)
    '000°00\\'30"W'
    """
    if not 0 <= decimals <= MOST_DECIMALS:
        raise ValueError(f"decimals is {decimals}; it must lie between 0 and {MOST_DECIMALS}.")
    if math.isnan(value_deg) or abs(value_deg) > axis.limit_deg:
        limit = axis.limit_deg
        raise ValueError(f"{axis.value} is {value_deg:g}; it must lie between {-limit:g} and {limit:g}.")
    per_second = 10**decimals
    units = round(abs(value_deg) * 3600.0 * per_second)
    minutes, second_units = divmod(units, 60 * per_second)
    degrees, minutes = divmod(minutes, 60)
    negative = value_deg < 0.0 and units > 0
    letter = ("S" if negative else "N") if axis is Axis.LATITUDE else ("W" if negative else "E")
    whole, fraction = divmod(second_units, per_second)
    seconds = f"{whole:02d}.{fraction:0{decimals}d}" if decimals else f"{whole:02d}"
    width = 2 if axis is Axis.LATITUDE else 3
    return f"{degrees:0{width}d}°{minutes:02d}'{seconds}\"{letter}"


def format_dms(latitude_deg: float, longitude_deg: float, decimals: int = 1) -> str:
    """Latitude and longitude in degrees, minutes and seconds, as :func:`parse_position` reads them back.

    Parameters
    ----------
    latitude_deg, longitude_deg : signed decimal degrees
    decimals : of the seconds, 0…9

    Raises
    ------
    ValueError
        A value that is not a number or beyond its range, or decimals outside 0…9.

    Source
    ------
    See :func:`format_angle`.

    Range
    -----
    Latitude −90…90, longitude −180…180.

    Examples
    --------
    >>> print(format_dms(50.123472, 24.55277778))
    50°07'24.5"N 024°33'10.0"E
    >>> print(format_dms(-37.951033417, 144.424867889, decimals=5))
    37°57'03.72030"S 144°25'29.52440"E
    """
    return (
        f"{format_angle(latitude_deg, Axis.LATITUDE, decimals)} "
        f"{format_angle(longitude_deg, Axis.LONGITUDE, decimals)}"
    )
