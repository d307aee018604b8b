"""GeoJSON of the map's layers: what is taken, and what is said of what is not."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from sites.models import MapLayer
from sites.services import record
from sites.shapes import ShapeError, shapes_of
from tests.admin_pages import what_was_refused
from tests.made import TESTS
from tests.small_register import person_of_role

RING = [[14.0, 47.0], [14.5, 47.0], [14.5, 47.5], [14.0, 47.0]]
OFF = {"type": "Point", "coordinates": [47.0, 140.0]}
LINE = {"type": "LineString", "coordinates": [[14.0, 47.0], [14.5, 47.5]]}
# RFC 7946, section 1.5: the example that the standard begins with
EXAMPLE_OF_THE_STANDARD = {
    "type": "FeatureCollection",
    "features": [
        {
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [102.0, 0.5]},
            "properties": {"prop0": "value0"},
        },
        {
            "type": "Feature",
            "geometry": {
                "type": "LineString",
                "coordinates": [[102.0, 0.0], [103.0, 1.0], [104.0, 0.0], [105.0, 1.0]],
            },
            "properties": {"prop0": "value0", "prop1": 0.0},
        },
        {
            "type": "Feature",
            "geometry": {
                "type": "Polygon",
                "coordinates": [[[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]]],
            },
            "properties": {"prop0": "value0", "prop1": {"this": "that"}},
        },
    ],
}


def test_the_example_of_the_standard_is_read() -> None:
    shapes = shapes_of(json.dumps(EXAMPLE_OF_THE_STANDARD))

    assert [shape["type"] for shape in shapes] == ["Point", "LineString", "Polygon"]
    assert shapes[1]["coordinates"][2] == [104.0, 0.0]


@pytest.mark.parametrize(
    "shape",
    [
        LINE,
        {"type": "Polygon", "coordinates": [RING]},
        {"type": "MultiPolygon", "coordinates": [[RING], [RING]]},
        {"type": "MultiPoint", "coordinates": [[14, 47]]},
        {"type": "Point", "coordinates": [14, 47, 530.0]},
        {"type": "GeometryCollection", "geometries": [LINE]},
        {"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": None}, {"type": "Feature", "geometry": LINE}]},
    ],
)  # fmt: skip
def test_every_kind_of_geometry_is_taken(shape: dict[str, Any]) -> None:
    assert shapes_of(json.dumps(shape))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "Line 1, column 1 cannot be read as JSON"),
        ('{"type": "Point",\n "coordinates" [1, 2]}', "Line 2, column 16 cannot be read as JSON"),
        ("[1, 2]", "The text has no type. FeatureCollection, Feature, Point"),
        ('{"type": "Circle"}', "The text has the type “Circle”"),
        ('{"type": "Topology", "objects": {}}', "the type “Topology”"),
        ('{"type": ["Point"]}', "the type “['Point']”"),
        ('{"type": "FeatureCollection"}', "a FeatureCollection without a list of features"),
        ('{"type": "FeatureCollection", "features": []}', "There is no geometry in it"),
        (
            json.dumps({"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": g} for g in (LINE, OFF)]}),
            "Feature 2: [47, 140] lies off the earth. Longitude (-180 to 180) comes before latitude",
        ),
        ('{"type": "Point", "coordinates": [2734271.8, 669459.6]}', "have to be converted to WGS 84 first"),
        ('{"type": "Point", "coordinates": [NaN, 1]}', "NaN stands for a number"),
        ('{"type": "Point", "coordinates": [1e999, 1]}', "is not finite"),
        ('{"type": "Point", "coordinates": ["14", 47]}', "is no position of the Point"),
        ('{"type": "Point", "coordinates": [true, 47]}', "is no position of the Point"),
        ('{"type": "Point"}', "nested otherwise than expected"),
        ('{"type": "LineString", "coordinates": [[14, 47]]}', "has 1 position; at least 2 were expected"),
        ('{"type": "LineString", "coordinates": [14, 47]}', "14 is no position of the LineString"),
        (json.dumps({"type": "Polygon", "coordinates": [[*RING[:-1], [14.2, 47.9]]]}), "a ring of the Polygon is not closed"),
        ("[" * 100_000, "nested too deep"),
        (json.dumps({"type": "MultiPoint", "coordinates": [[1, 1]] * 100_001}), "100,001 positions; up to 100,000 are drawn"),
        (" " * 2_000_001, "longer than 2 MB"),
    ],
)  # fmt: skip
def test_what_is_no_drawing_is_refused_with_a_sentence(text: str, says: str) -> None:
    with pytest.raises(ShapeError) as refused:
        shapes_of(text)
    assert says in str(refused.value)


@pytest.fixture
def admin(db: None) -> Client:
    client = Client(raise_request_exception=True)
    client.force_login(person_of_role("administrator", is_staff=True))
    return client


ADD = "admin:places_maplayer_add"
FIELDS = {"name": "Supply area", "source": "own survey, 2025", "place": "10", "shown": "on"}


def test_an_administrator_adds_a_layer_from_a_file_and_everybody_sees_it(admin: Client) -> None:
    file = SimpleUploadedFile("area.geojson", b"\xef\xbb\xbf" + json.dumps(LINE).encode())
    answer = admin.post(reverse(ADD), FIELDS | {"file": file})
    assert answer.status_code == 302, what_was_refused(answer)

    viewer = Client()
    viewer.force_login(person_of_role("viewer"))
    shown = viewer.get("/map/layers/")
    assert shown.json() == [{"name": "Supply area", "source": "own survey, 2025", "shapes": [LINE]}]
    assert viewer.get("/map/layers/", headers={"If-None-Match": shown["ETag"]}).status_code == 304

    layer = MapLayer.objects.get()
    layer.shown = False
    record.change(layer, by=TESTS)
    assert viewer.get("/map/layers/", headers={"If-None-Match": shown["ETag"]}).json() == []


def test_a_layer_can_be_pasted_as_well(admin: Client) -> None:
    assert admin.post(reverse(ADD), FIELDS | {"shapes": json.dumps(LINE)}).status_code == 302
    assert json.loads(MapLayer.objects.get().shapes) == LINE


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({}, "Give a GeoJSON file, or its text below."),
        ({"shapes": '{"type": "Circle"}'}, "the type “Circle”"),
        ({"file": SimpleUploadedFile("a.geojson", b"\xff\xfe\x00bad")}, "The file is not text in UTF-8"),
        ({"file": SimpleUploadedFile("a.geojson", b" " * 2_100_000)}, "The file has 2.1 MB; at most 2 MB"),
        ({"file": SimpleUploadedFile("a.geojson", b"<gpx/>")}, "Line 1, column 1 cannot be read as JSON"),
    ],
)  # fmt: skip
def test_a_layer_that_cannot_be_drawn_is_refused_and_nothing_is_stored(
    admin: Client, given: dict[str, Any], says: str
) -> None:
    for file in given.values():
        if not isinstance(file, str):
            file.seek(0)
    answer = admin.post(reverse(ADD), FIELDS | given)

    assert says in what_was_refused(answer)
    assert not MapLayer.objects.exists()
