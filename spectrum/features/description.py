"""The interface's own description: OpenAPI 3.0 (OGC 17-069r4 § 9, requirements class oas30)."""

from __future__ import annotations

from typing import Any, Final

from sites.tables import geojson

from .collections import COLLECTIONS
from .parameters import DEFAULT_LIMIT, EVERYWHERE, LARGEST_LIMIT

MEDIA_TYPE: Final = "application/vnd.oai.openapi+json;version=3.0"
PROBLEM: Final = "application/problem+json"
_SPEC: Final = "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf"
CONFORMANCE: Final = (f"{_SPEC}/core", f"{_SPEC}/oas30", f"{_SPEC}/geojson")

_F: Final[dict[str, Any]] = {
    "name": "f",
    "in": "query",
    "required": False,
    "description": "The representation; there is one.",
    "schema": {"type": "string", "enum": ["json", "geojson"], "default": "json"},
}
_BBOX: Final[dict[str, Any]] = {
    "name": "bbox",
    "in": "query",
    "required": False,
    "description": "West, south, east, north in degrees (WGS 84). What has no place is selected by every box. "
    "West above east: the box holds the antimeridian. Heights, of six numbers, are not looked at.",
    "schema": {
        "type": "array",
        "oneOf": [{"minItems": 4, "maxItems": 4}, {"minItems": 6, "maxItems": 6}],
        "items": {"type": "number"},
    },
    "style": "form",
    "explode": False,
}
_DATETIME: Final[dict[str, Any]] = {
    "name": "datetime",
    "in": "query",
    "required": False,
    "description": "A moment, or an interval with a slash, .. for an open end (RFC 3339): selects the features "
    "whose own time meets it, as each collection says; what has no time is selected by every one. It does not "
    "say as of which day the register is read: that is as_of.",
    "schema": {"type": "string"},
    "style": "form",
    "explode": False,
}
_AS_OF: Final[dict[str, Any]] = {
    "name": "as_of",
    "in": "query",
    "required": False,
    "description": "The register as it stood at the end of this day (UTC), out of its change record, or will stand "
    "on it by its dates. Every address takes it, and the links in an answer carry it on. What is selected, the "
    "extents included, is of that day. Findings are not kept by day and are refused with it. Without it: as the "
    "register stands now. This parameter is the register's own, not the standard's.",
    "schema": {"type": "string", "format": "date"},
}
_LIMIT: Final[dict[str, Any]] = {
    "name": "limit",
    "in": "query",
    "required": False,
    "description": "How many features to a part. More than the maximum is answered with the maximum.",
    "schema": {"type": "integer", "minimum": 1, "maximum": LARGEST_LIMIT, "default": DEFAULT_LIMIT},
    "style": "form",
    "explode": False,
}
_OFFSET: Final[dict[str, Any]] = {
    "name": "offset",
    "in": "query",
    "required": False,
    "description": "How many features to pass over. Follow the links of relation next instead of counting.",
    "schema": {"type": "integer", "minimum": 0, "default": 0},
    "style": "form",
    "explode": False,
}
_PARAMETERS: Final = {
    "f": _F,
    "bbox": _BBOX,
    "datetime": _DATETIME,
    "limit": _LIMIT,
    "offset": _OFFSET,
    "as_of": _AS_OF,
}
_ITEM_ID: Final[dict[str, Any]] = {
    "name": "featureId",
    "in": "path",
    "required": True,
    "schema": {"type": "integer", "minimum": 1},
}


def description(root: str) -> dict[str, Any]:
    """The whole description; ``root`` is the address of the landing page."""
    paths = {
        "/": _operation("getLandingPage", "Where everything begins", "application/json"),
        "/api": _operation("getDescription", "This description", MEDIA_TYPE),
        "/conformance": _operation("getConformance", "What this interface conforms to", "application/json"),
        "/collections": _operation("getCollections", "What there is", "application/json"),
    }
    for name, collection in COLLECTIONS.items():
        words, camel = collection.title.lower(), collection.title
        paths[f"/collections/{name}"] = _operation(
            f"describe{camel}", f"The collection of {words}", "application/json"
        )
        paths[f"/collections/{name}/items"] = _operation(
            f"get{camel}", collection.description, geojson.MEDIA_TYPE, tuple(_PARAMETERS)
        )
        one = _operation(f"getOneOf{camel}", f"One of the {words}", geojson.MEDIA_TYPE)
        one["get"]["parameters"].insert(0, _ITEM_ID)
        one["get"]["responses"]["404"] = {"$ref": "#/components/responses/Problem"}
        paths[f"/collections/{name}/items/{{featureId}}"] = one
    return {
        "openapi": "3.0.3",
        "info": {
            "title": "Link register for maps",
            "version": "1.0.0",
            "description": "Sites, links and findings as features (OGC API – Features, Part 1: Core). Read only.",
        },
        "servers": [{"url": root.rstrip("/")}],
        "security": [{"password": []}, {"token": []}],
        "paths": paths,
        "components": {
            "parameters": _PARAMETERS,
            "responses": {
                "Problem": {
                    "description": "What was wrong, and how to mend it (RFC 9457).",
                    "content": {PROBLEM: {"schema": {"type": "object"}}},
                }
            },
            "securitySchemes": {
                "password": {"type": "http", "scheme": "basic"},
                "token": {"type": "apiKey", "in": "header", "name": "Authorization"},
            },
        },
    }


def _operation(
    name: str, summary: str, media_type: str, parameters: tuple[str, ...] = EVERYWHERE
) -> dict[str, Any]:
    problem = {"$ref": "#/components/responses/Problem"}
    return {
        "get": {
            "operationId": name,
            "summary": summary,
            "parameters": [{"$ref": f"#/components/parameters/{each}"} for each in parameters],
            "responses": {
                "200": {"description": summary, "content": {media_type: {"schema": {"type": "object"}}}},
                "400": problem,
                "401": problem,
                "403": problem,
            },
        }
    }
