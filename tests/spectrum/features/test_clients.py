"""Clients that others wrote read the live register over HTTP: OWSLib, and GDAL as desktop maps use it."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from typing import Any

import pytest
import requests
from owslib.ogcapi.features import Features
from owslib.util import Authentication

from sites.models import Person
from spectrum.models import Link
from tests.made import Register, site
from tests.small_register import PASSWORD, person_of_role


@pytest.fixture
def ogc(live_server: Any) -> Iterator[str]:
    """The address of the landing page over a register of 12 links."""
    register = Register()
    for number in range(12):
        ends = site(f"A{number}", 47 + number / 10), site(f"B{number}", 47 + number / 10, 14.5)
        register.link(f"L-{number}", *ends)
    person_of_role("viewer")
    yield f"{live_server.url}/ogc/"


@pytest.mark.django_db(transaction=True)
def test_owslib_reads_collections_items_and_parts(ogc: str) -> None:
    features = Features(ogc, auth=Authentication("viewer", PASSWORD))

    assert features.links
    assert (
        "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/core" in features.conformance()["conformsTo"]
    )
    assert features.api()["openapi"].startswith("3.0")
    assert features.feature_collections() == ["sites", "links", "findings"]
    assert features.collection("links")["id"] == "links"
    found = features.collection_items("links", bbox=[13.9, 46.95, 14.6, 47.25], limit=10)
    assert {each["properties"]["code"] for each in found["features"]} == {"L-0", "L-1", "L-2"}
    first = features.collection_items("links", limit=5)
    assert (first["numberMatched"], first["numberReturned"]) == (12, 5)
    assert features.collection_items("links", limit=5, offset=10)["numberReturned"] == 2
    one = features.collection_item("links", str(first["features"][0]["id"]))
    assert one["properties"] == first["features"][0]["properties"]
    by_day = features.collection_items("links", datetime_="2026-11-25T00:00:00Z/..")
    assert by_day["numberMatched"] == 12


@pytest.mark.django_db(transaction=True)
def test_a_wrong_password_is_refused_to_owslib(ogc: str) -> None:
    refused = Features(ogc, auth=Authentication("viewer", "wrong"))
    with pytest.raises(RuntimeError, match="password is wrong"):
        refused.conformance()


# GDAL keeps the interpreter while it waits for an answer, so it reads from a process of its own.
GDAL_READS = """
import json, sys
import pyogrio, shapely
pyogrio.set_gdal_config_options({"GDAL_HTTP_USERPWD": sys.argv[2], "OAPIF_PAGE_SIZE": "5"})
source = "OAPIF:" + sys.argv[1]
meta, _, wkb, columns = pyogrio.raw.read(source, layer="links")
found = dict(zip(meta["fields"], columns))
lines = shapely.from_wkb(wkb)
inside = pyogrio.raw.read(source, layer="sites", bbox=(14.4, 46.9, 14.6, 47.15))
print(json.dumps({
    "layers": [str(name) for name, _kind in pyogrio.list_layers(source)],
    "codes": [str(code) for code in found["code"]],
    "sends_mhz": [float(value) for value in found["a_or_hub_sends_mhz"]],
    "kinds": sorted({line.geom_type for line in lines}),
    "bounds": shapely.bounds(lines[0]).tolist(),
    "inside": len(inside[2]),
}))
"""


@pytest.mark.django_db(transaction=True)
def test_gdal_opens_every_link_as_a_line_and_follows_the_parts(ogc: str) -> None:
    asked = [sys.executable, "-c", GDAL_READS, ogc, f"viewer:{PASSWORD}"]
    ended = subprocess.run(asked, capture_output=True, text=True, timeout=120, check=False)
    assert ended.returncode == 0, ended.stderr
    read = json.loads(ended.stdout)

    assert read["layers"] == ["sites", "links", "findings"]
    assert set(read["codes"]) == set(Link.objects.values_list("code", flat=True))
    assert len(read["codes"]) == 12, "in parts of five"
    assert set(read["sends_mhz"]) == {410.0}
    assert read["kinds"] == ["LineString"]
    assert read["bounds"] == [14.0, 47.0, 14.5, 47.0]
    assert read["inside"] == 2


@pytest.mark.django_db(transaction=True)
def test_a_token_opens_it_too(ogc: str) -> None:
    from rest_framework.authtoken.models import Token

    token = Token.objects.create(user=Person.objects.get(username="viewer")).key
    answer = requests.get(f"{ogc}collections", headers={"Authorization": f"Token {token}"}, timeout=10)

    assert answer.status_code == 200
