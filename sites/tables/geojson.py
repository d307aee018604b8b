"""GeoJSON (RFC 7946): one feature a row, its columns as properties."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from .cells import as_json
from .geometry import Geometry

MEDIA_TYPE = "application/geo+json"


def feature(key: Any, geometry: Geometry | None, properties: Mapping[str, Any]) -> dict[str, Any]:
    """One feature (RFC 7946 § 3.2); without a place its geometry is null."""
    return {
        "type": "Feature",
        "id": key,
        "geometry": geometry.as_json() if geometry else None,
        "properties": {name: as_json(value) for name, value in properties.items()},
    }


def collection_parts(features: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    """The text of a feature collection (RFC 7946 § 3.3), feature by feature."""
    yield '{"type": "FeatureCollection", "features": ['
    for number, each in enumerate(features):
        yield ("," if number else "") + "\n" + json.dumps(each, ensure_ascii=False, allow_nan=False)
    yield "\n]}\n"
