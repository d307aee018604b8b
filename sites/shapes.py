"""GeoJSON (RFC 7946) read and checked, with a sentence for what is wrong with it. No Django."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from typing import Any

from sites.words import gettext, ngettext

MOST_BYTES = 2_000_000
MOST_POSITIONS = 100_000
#: How deep the positions of each geometry lie in lists (RFC 7946 § 3.1.2 to 3.1.7).
DEPTH = {
    "Point": 0,
    "MultiPoint": 1,
    "LineString": 1,
    "MultiLineString": 2,
    "Polygon": 2,
    "MultiPolygon": 3,
}
EXAMPLE = '{"type": "LineString", "coordinates": [[14.1, 47.2], [14.3, 47.4]]}'


class ShapeError(ValueError):
    """What was given is no drawing; the sentence says where and what was expected."""


def shapes_of(text: str) -> list[dict[str, Any]]:
    """The geometries of a GeoJSON text, those of collections one by one.

    Parameters
    ----------
    text : a FeatureCollection, a Feature or a geometry; coordinates WGS 84, longitude first, degrees

    Raises
    ------
    ShapeError
        It is too large, cannot be read, holds nothing, or a coordinate is out of range.

    Source: RFC 7946 § 3; rings are closed and of four or more positions (§ 3.1.6).

    >>> [shape["type"] for shape in shapes_of(EXAMPLE)]
    ['LineString']
    """
    if len(text.encode("utf-8", errors="replace")) > MOST_BYTES:
        raise ShapeError(
            gettext(
                "The text is longer than {most_mb} MB. Leave out what does not show at the scale of a "
                "network, or thin the lines out, and give it again."
            ).format(most_mb=MOST_BYTES // 1000000)
        )
    try:
        found = json.loads(text, parse_constant=_no_number)
    except json.JSONDecodeError as error:
        raise ShapeError(
            gettext(
                "Line {line}, column {column} cannot be read as JSON ({problem}). GeoJSON was expected, for "
                "example {example}"
            ).format(line=error.lineno, column=error.colno, problem=error.msg, example=EXAMPLE)
        ) from error
    except RecursionError as error:
        raise ShapeError(
            gettext(
                "The lists are nested too deep. A GeoJSON geometry has at most four lists in one another."
            )
        ) from error
    shapes = list(_geometries(found, gettext("The text")))
    if not shapes:
        raise ShapeError(gettext("There is no geometry in it. Give at least one point, line or polygon."))
    total = 0
    for where, shape in shapes:
        total += _checked(shape, where)
    if total > MOST_POSITIONS:
        raise ShapeError(
            gettext(
                "It has {total} positions; up to {most} are drawn. Thin the lines out and give it again."
            ).format(total=f"{total:,}", most=f"{MOST_POSITIONS:,}")
        )
    return [{"type": shape["type"], "coordinates": shape["coordinates"]} for _, shape in shapes]


def _no_number(word: str) -> float:
    raise ShapeError(
        gettext("{word} stands for a number; JSON knows no such number. Leave that position out.").format(
            word=word
        )
    )


def _geometries(found: Any, where: str) -> Iterator[tuple[str, dict[str, Any]]]:
    kind = found.get("type") if isinstance(found, dict) else None
    if kind == "FeatureCollection":
        features = found.get("features")
        if not isinstance(features, list):
            raise ShapeError(
                gettext("{where} is a FeatureCollection without a list of features.").format(where=where)
            )
        for number, feature in enumerate(features, start=1):
            yield from _geometries(feature, gettext("Feature {number}").format(number=number))
    elif kind == "Feature":
        if found.get("geometry") is not None:  # a feature without a place is allowed, § 3.2
            yield from _geometries(found["geometry"], where)
    elif kind == "GeometryCollection":
        parts = found.get("geometries")
        if not isinstance(parts, list):
            raise ShapeError(
                gettext("{where} is a GeometryCollection without a list of geometries.").format(where=where)
            )
        for part in parts:
            yield from _geometries(part, where)
    elif isinstance(kind, str) and kind in DEPTH:
        yield where, found
    else:
        pattern = (
            gettext(
                "{where} has the type “{kind}”. "
                "FeatureCollection, Feature, {known} or GeometryCollection was expected."
            )
            if kind is not None
            else gettext(
                "{where} has no type. FeatureCollection, Feature, {known} or GeometryCollection was expected."
            )
        )
        raise ShapeError(pattern.format(where=where, kind=kind, known=", ".join(DEPTH)))


def _checked(shape: dict[str, Any], where: str) -> int:
    """How many positions a geometry has; ShapeError when one of them is none."""
    kind = shape["type"]
    total = 0
    for part in _lists(shape.get("coordinates"), DEPTH[kind] - 1, where, kind):
        positions = [part] if DEPTH[kind] == 0 else part
        for position in positions:
            _check_position(position, where, kind)
        least = {"LineString": 2, "MultiLineString": 2, "Polygon": 4, "MultiPolygon": 4}.get(kind, 0)
        if len(positions) < least:
            raise ShapeError(
                ngettext(
                    "{where}: a part of the {kind} has {count} position; at least {least} were expected.",
                    "{where}: a part of the {kind} has {count} positions; at least {least} were expected.",
                    len(positions),
                ).format(where=where, kind=kind, count=len(positions), least=least)
            )
        if least == 4 and positions[0] != positions[-1]:
            raise ShapeError(
                gettext(
                    "{where}: a ring of the {kind} is not closed; its last position must be its first again."
                ).format(where=where, kind=kind)
            )
        total += len(positions)
    return total


def _lists(found: Any, depth: int, where: str, kind: str) -> Iterator[list[Any]]:
    """The lists of positions in nested lists."""
    if not isinstance(found, list):
        raise ShapeError(
            gettext(
                "{where}: the coordinates of the {kind} are nested otherwise than expected. For example "
                "{example}"
            ).format(where=where, kind=kind, example=EXAMPLE)
        )
    if depth <= 0:
        yield found
        return
    for inner in found:
        yield from _lists(inner, depth - 1, where, kind)


def _check_position(position: Any, where: str, kind: str) -> None:
    numbers = isinstance(position, list) and len(position) >= 2
    numbers = numbers and all(isinstance(n, int | float) and not isinstance(n, bool) for n in position[:2])
    if not numbers:
        raise ShapeError(
            gettext(
                "{where}: {position} is no position of the {kind}; longitude and latitude in degrees "
                "were expected, for example [14.1, 47.2]."
            ).format(where=where, position=str(position)[:60], kind=kind)
        )
    longitude, latitude = position[:2]
    if not (math.isfinite(longitude) and math.isfinite(latitude)):
        raise ShapeError(
            gettext("{where}: a coordinate of the {kind} is not finite.").format(where=where, kind=kind)
        )
    if not (-180 <= longitude <= 180 and -90 <= latitude <= 90):
        raise ShapeError(
            gettext(
                "{where}: [{longitude}, {latitude}] lies off the earth. Longitude (-180 to 180) comes "
                "before latitude (-90 to 90), in degrees; coordinates of a grid have to be converted to "
                "WGS 84 first."
            ).format(where=where, longitude=f"{longitude:g}", latitude=f"{latitude:g}")
        )
