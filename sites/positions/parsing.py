"""From what a person typed to a position on WGS 84."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from sites.positions.angles import (
    Angle,
    Axis,
    Notation,
    Number,
    angle_from_number,
    normalise,
    parse_angle,
)
from sites.positions.errors import PositionError
from sites.positions.grids import (
    AREA_MARGIN_DEG,
    WGS84_EPSG,
    Area,
    Wgs84Point,
    area_of_use,
    coordinate_system,
    example_coordinates,
    inside,
    to_wgs84,
)
from sites.positions.splitting import split_position
from sites.sentences import joined, sentence
from sites.words import gettext_noop as _
from sites.words import ngettext_lazy

Typed = str | Number
DEGREES_EXAMPLE = "50.1234, 24.5678"


@dataclass(frozen=True)
class Position:
    """A position on WGS 84, beside it what was typed and how the one came from the other.

    Attributes
    ----------
    latitude_deg, longitude_deg : WGS 84, signed decimal degrees
    typed : the text as typed; a pair joined by a comma and a space
    notation : how it was written
    epsg : code of the coordinate system it was typed in
    transformation : name of the transformation to WGS 84
    accuracy_m : stated accuracy of that transformation in metres; None when not stated
    notices : what the person should know, such as a fallback without a datum grid
    """

    latitude_deg: float
    longitude_deg: float
    typed: str
    notation: Notation
    epsg: int
    transformation: str
    accuracy_m: float | None
    notices: tuple[str, ...] = ()


def parse_position(
    text_or_pair: str | Sequence[Typed],
    *,
    epsg: int | None = None,
    expected_area: Area | None = None,
) -> Position:
    """Read a position typed as degrees, or as easting and northing of a grid.

    Parameters
    ----------
    text_or_pair : one text, or two texts or numbers
        Latitude before longitude, unless letters say otherwise; easting before northing.
        Points or commas as decimal signs, where it is clear which.
    epsg : code of a projected grid, or of a geographic system; None means WGS 84 (EPSG:4326)
    expected_area : west, south, east, north in degrees
        Where positions are expected, such as the box around the network. A position outside
        it whose swapped axes fall inside is refused; one merely outside gets a notice.
        For a grid the EPSG area of use is checked as well.

    Returns
    -------
    Position

    Raises
    ------
    PositionError
        The text cannot be read or cannot be meant; names the field, the text typed,
        what was expected, and an example.

    Source
    ------
    Grids and datums: EPSG register as carried by PROJ, through pyproj.

    Range
    -----
    Latitude −90…90, longitude −180…180; a grid within half a degree of its area of use.

    Examples
    --------
    >>> position = parse_position("50°07'24.5\\"N 24°33'10\\"E")
    >>> print(f"{position.latitude_deg:.6f} {position.longitude_deg:.6f} {position.notation}")
    50.123472 24.552778 degrees, minutes and seconds
    >>> position = parse_position("669459.62 2734271.72", epsg=32638)
    >>> print(f"{position.latitude_deg:.6f} {position.longitude_deg:.6f}")
    24.713600 46.675300
    """
    system_epsg = WGS84_EPSG if epsg is None else epsg
    projected = coordinate_system(system_epsg).is_projected
    first, second, typed = _two(text_or_pair)
    if projected:
        return _from_grid(first, second, typed, system_epsg, expected_area)
    try:
        latitude, longitude = _angles(first, second, typed)
    except PositionError as error:
        raise _as_typed(error, typed) from error
    point = to_wgs84(longitude.value_deg, latitude.value_deg, system_epsg)
    swapped = to_wgs84(latitude.value_deg, longitude.value_deg, system_epsg)
    notation = max(latitude.notation, longitude.notation, key=list(Notation).index)
    return _position(point, swapped, typed, notation, system_epsg, expected_area)


def _two(text_or_pair: str | Sequence[Typed]) -> tuple[Typed, Typed, str]:
    if isinstance(text_or_pair, str):
        if not text_or_pair.strip():
            raise _pair_error(sentence(_("nothing was typed.")), text_or_pair)
        first, second = split_position(normalise(text_or_pair), text_or_pair)
        return first, second, text_or_pair
    typed = ", ".join(str(part) for part in text_or_pair)
    if len(text_or_pair) != 2:
        raise _pair_error(
            sentence(
                ngettext_lazy("there is {count} coordinate.", "there are {count} coordinates."),
                count=len(text_or_pair),
            ),
            typed,
        )
    return text_or_pair[0], text_or_pair[1], typed


def _angles(first: Typed, second: Typed, typed: str) -> tuple[Angle, Angle]:
    """Latitude and longitude, by their letters where they have any, else by their order."""
    letters = [_axis_of(first), _axis_of(second)]
    if letters[0] is not None and letters[0] is letters[1]:
        raise PositionError(
            sentence(_("both coordinates carry the letter of a latitude."))
            if letters[0] is Axis.LATITUDE
            else sentence(_("both coordinates carry the letter of a longitude.")),
            field="position",
            typed=typed,
            expected=sentence(_("one latitude (N or S) and one longitude (E or W)")),
            example="50.1234 N, 24.5678 E",
        )
    if Axis.LONGITUDE is letters[0] or Axis.LATITUDE is letters[1]:
        first, second = second, first
    return _angle(first, Axis.LATITUDE), _angle(second, Axis.LONGITUDE)


def _axis_of(part: Typed) -> Axis | None:
    if not isinstance(part, str):
        return None
    letter = re.search(r"[NSEW]", normalise(part))
    if letter is None:
        return None
    return Axis.LATITUDE if letter[0] in "NS" else Axis.LONGITUDE


def _angle(part: Typed, axis: Axis) -> Angle:
    return parse_angle(part, axis) if isinstance(part, str) else angle_from_number(part, axis)


def _from_grid(first: Typed, second: Typed, typed: str, epsg: int, expected_area: Area | None) -> Position:
    if _axis_of(first) is Axis.LATITUDE and _axis_of(second) is not Axis.LATITUDE:
        first, second = second, first
    try:
        easting, northing = _grid_number(first, "easting", epsg), _grid_number(second, "northing", epsg)
    except PositionError as error:
        raise _as_typed(error, typed) from error
    point, swapped = to_wgs84(easting, northing, epsg), to_wgs84(northing, easting, epsg)
    return _position(point, swapped, typed, Notation.EASTING_NORTHING, epsg, expected_area)


def _grid_number(part: Typed, field: str, epsg: int) -> float:
    if isinstance(part, str):
        bare = re.sub(r"[NE]", "", normalise(part).replace("M", ""), count=1).strip()
        comma = re.fullmatch(r"[+-]?\d+,(\d+)", bare)
        if comma and len(comma[1]) != 3:
            bare = bare.replace(",", ".")
        if not re.fullmatch(r"[+-]?\d+(?:\.\d+)?", bare):
            problem = sentence(_("it is not one plain number."))
            if comma:
                problem = joined(
                    " ", [problem, sentence(_("A comma before three digits can mean thousands."))]
                )
            raise _grid_error(problem, field, part, epsg)
        value = float(bare)
    else:
        value = float(part) if isinstance(part, int | float | Decimal) else math.nan
    if not math.isfinite(value):
        raise _grid_error(sentence(_("it is not a finite number.")), field, part, epsg)
    return value


def _position(
    point: Wgs84Point | None,
    swapped: Wgs84Point | None,
    typed: str,
    notation: Notation,
    epsg: int,
    expected_area: Area | None,
) -> Position:
    """The position, unless it lies where nobody can have meant it."""
    area = area_of_use(epsg)
    for box in (area, expected_area):
        if box is not None and _only_swap_inside(point, swapped, box):
            raise _swapped_error(typed, notation, epsg, box)
    if point is None or (
        area is not None and not inside(area, point.latitude_deg, point.longitude_deg, AREA_MARGIN_DEG)
    ):
        raise _outside_error(typed, notation, epsg)
    notices = point.notices
    if expected_area is not None and not inside(expected_area, point.latitude_deg, point.longitude_deg):
        outside = sentence(
            _("The position lies outside the expected area ({area})."), area=_area_text(expected_area)
        )
        notices = (*notices, outside)
    return Position(
        latitude_deg=point.latitude_deg + 0.0,  # minus zero becomes zero
        longitude_deg=point.longitude_deg + 0.0,
        typed=typed,
        notation=notation,
        epsg=epsg,
        transformation=point.transformation,
        accuracy_m=point.accuracy_m,
        notices=notices,
    )


def _only_swap_inside(point: Wgs84Point | None, swapped: Wgs84Point | None, area: Area) -> bool:
    if swapped is None or abs(swapped.latitude_deg) > Axis.LATITUDE.limit_deg:
        return False
    outside = point is None or not inside(area, point.latitude_deg, point.longitude_deg)
    return outside and inside(area, swapped.latitude_deg, swapped.longitude_deg)


def _area_text(area: Area) -> str:
    west, south, east, north = area
    return sentence(
        _("latitude {south} to {north}, longitude {west} to {east}"),
        south=f"{south:g}",
        north=f"{north:g}",
        west=f"{west:g}",
        east=f"{east:g}",
    )


def _example(notation: Notation, epsg: int) -> str:
    return example_coordinates(epsg) if notation is Notation.EASTING_NORTHING else DEGREES_EXAMPLE


def _as_typed(error: PositionError, typed: str) -> PositionError:
    """The same error about the whole text, as the person typed it."""
    return PositionError(
        error.problem, field=error.field, typed=typed, expected=error.expected, example=error.example
    )


def _swapped_error(typed: str, notation: Notation, epsg: int, area: Area) -> PositionError:
    on_grid = notation is Notation.EASTING_NORTHING
    return PositionError(
        sentence(
            _(
                "the axes look swapped: as typed it lies outside the area {area}; "
                "with its two coordinates exchanged it lies inside."
            ),
            area=_area_text(area),
        ),
        field="position",
        typed=typed,
        expected=sentence(_("easting first, then northing"))
        if on_grid
        else sentence(_("latitude first, then longitude")),
        example=_example(notation, epsg),
    )


def _outside_error(typed: str, notation: Notation, epsg: int) -> PositionError:
    area = area_of_use(epsg)
    grid = f"EPSG:{epsg} {coordinate_system(epsg).name}"
    problem = (
        sentence(_("it lies outside the area of use of {grid} ({area})."), grid=grid, area=_area_text(area))
        if area
        else sentence(_("it lies outside the area of use of {grid}."), grid=grid)
    )
    return PositionError(
        problem,
        field="position",
        typed=typed,
        expected=sentence(_("a position inside that area, or the code of the grid it was read from")),
        example=_example(notation, epsg),
    )


def _grid_error(problem: str, field: str, typed: object, epsg: int) -> PositionError:
    system = coordinate_system(epsg)
    unit = system.axis_info[0].unit_name
    return PositionError(
        problem,
        field=field,
        typed=typed,
        expected=sentence(
            _("a number in {unit} of EPSG:{epsg} ({system}), without thousands separators"),
            unit=unit,
            epsg=epsg,
            system=system.name,
        ),
        example=example_coordinates(epsg),
    )


def _pair_error(problem: str, typed: str) -> PositionError:
    return PositionError(
        problem,
        field="position",
        typed=typed,
        expected=sentence(_("two coordinates: latitude and longitude, or easting and northing")),
        example=DEGREES_EXAMPLE,
    )
