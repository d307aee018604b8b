"""KML 2.2 (OGC 07-147r2): one placemark a row, its columns as extended data."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any
from xml.sax.saxutils import escape, quoteattr

from .cells import as_text, restored
from .geometry import Geometry

MEDIA_TYPE = "application/vnd.google-earth.kml+xml"
NAMESPACE = "http://www.opengis.net/kml/2.2"
# XML 1.0 § 2.2 has no other control characters than tab, line feed and carriage return.
_NOT_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")

Placemark = tuple[str, Geometry | None, Mapping[str, Any]]


def document_parts(title: str, placemarks: Iterable[Placemark]) -> Iterator[str]:
    """The text of a document, placemark by placemark. What has no place is left out."""
    yield f'<?xml version="1.0" encoding="UTF-8"?>\n<kml xmlns="{NAMESPACE}"><Document>'
    yield f"<name>{_escaped(title)}</name>\n"
    for name, geometry, properties in placemarks:
        if geometry is None:
            continue
        data = "".join(
            f"<Data name={quoteattr(key)}><value>{_escaped(restored(as_text(value)))}</value></Data>"
            for key, value in properties.items()
        )
        yield (
            f"<Placemark><name>{_escaped(name)}</name><ExtendedData>{data}</ExtendedData>"
            f"{_geometry(geometry.kind, geometry.coordinates)}</Placemark>\n"
        )
    yield "</Document></kml>\n"


def _geometry(kind: str, coordinates: Any) -> str:
    if kind.startswith("Multi"):
        inner = "".join(_geometry(kind.removeprefix("Multi"), part) for part in coordinates)
        return f"<MultiGeometry>{inner}</MultiGeometry>"
    if kind == "Point":
        return f"<Point>{_coordinates([coordinates])}</Point>"
    if kind == "LineString":
        return f"<LineString>{_coordinates(coordinates)}</LineString>"
    outer, *holes = coordinates
    inner = "".join(
        f"<innerBoundaryIs><LinearRing>{_coordinates(ring)}</LinearRing></innerBoundaryIs>" for ring in holes
    )
    return (
        f"<Polygon><outerBoundaryIs><LinearRing>{_coordinates(outer)}</LinearRing></outerBoundaryIs>"
        f"{inner}</Polygon>"
    )


def _coordinates(positions: Iterable[Iterable[float]]) -> str:
    return (
        f"<coordinates>{' '.join(','.join(repr(part) for part in each) for each in positions)}</coordinates>"
    )


def _escaped(text: str) -> str:
    return escape(_NOT_XML.sub("\ufffd", text))
