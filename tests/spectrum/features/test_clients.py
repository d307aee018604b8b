"""Clients that others wrote read the live register over HTTP: OWSLib, and GDAL as desktop maps use it."""

from __future__ import annotations

import datetime as dt
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
from sites.services import record
from spectrum.models import Link
from spectrum.services.links import remove_link
from tests.made import DAY, TESTS, Register, site
from tests.replaying import replayed
from tests.small_register import PASSWORD, person_of_role
from tests.spectrum.test_pages_of_a_day import on


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
def test_owslib_reads_the_register_as_of_a_day(live_server: Any) -> None:
    """The day stands in the address of the landing page; OWSLib carries it to every other."""
    start = dt.date(2026, 1, 10)
    with on(start):
        register = Register()
        kept = register.link("KEPT", site("A0"), site("B0", 47.1), name="first name", starts_on=start)
        gone = register.link("GONE", site("A1", 47.2), site("B1", 47.3), starts_on=start + 60 * DAY)
        person_of_role("viewer")
    with on(start + 10 * DAY):
        stored = Link.objects.get(pk=kept.pk)
        stored.name = "second name"
        record.change(stored, by=TESTS)
        remove_link(Link.objects.get(pk=gone.pk), by=TESTS)
    auth = Authentication("viewer", PASSWORD)

    then = Features(f"{live_server.url}/ogc/?as_of={start + 5 * DAY}", auth=auth)
    assert then.feature_collections() == ["sites", "links"]
    found = then.collection_items("links")
    stood = replayed(start + 5 * DAY)["spectrum.link"].values()
    assert {(f["properties"]["code"], f["properties"]["name"]) for f in found["features"]} == {
        (row["code"], row["name"]) for row in stood
    }
    on_air = then.collection_items("links", datetime_=f"{start + 5 * DAY}")
    assert [f["properties"]["code"] for f in on_air["features"]] == ["KEPT"], "the other begins in March"
    assert then.collection_item("links", str(gone.pk))["properties"]["code"] == "GONE"
    now = Features(f"{live_server.url}/ogc/", auth=auth)
    assert [f["properties"]["name"] for f in now.collection_items("links")["features"]] == ["second name"]
    asked = now.collection_items("links", as_of=f"{start + 5 * DAY}", limit=1)
    assert (asked["numberMatched"], asked["numberReturned"]) == (2, 1)
    early = Features(f"{live_server.url}/ogc/?as_of={start - DAY}", auth=auth)
    assert early.collection_items("sites")["numberMatched"] == 0


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


GDAL_READS_A_DAY = """
import json, sys
import pyogrio
pyogrio.set_gdal_config_options({"GDAL_HTTP_USERPWD": sys.argv[2], "OAPIF_PAGE_SIZE": "5"})
source = "OAPIF:" + sys.argv[1]
meta, _, _, columns = pyogrio.raw.read(source, layer="links")
print(json.dumps({
    "layers": [str(name) for name, _kind in pyogrio.list_layers(source)],
    "codes": sorted(str(code) for code in dict(zip(meta["fields"], columns))["code"]),
}))
"""


@pytest.mark.django_db(transaction=True)
def test_gdal_follows_a_day_from_the_landing_page_through_every_part(live_server: Any) -> None:
    start = dt.date(2026, 1, 10)
    with on(start):
        register = Register()
        for number in range(12):
            ends = site(f"A{number}", 47 + number / 10), site(f"B{number}", 47 + number / 10, 14.5)
            register.link(f"L-{number}", *ends)
        person_of_role("viewer")
    with on(start + 10 * DAY):
        remove_link(Link.objects.get(code="L-3"), by=TESTS)
    address = f"{live_server.url}/ogc/?as_of={start + 5 * DAY}"
    asked = [sys.executable, "-c", GDAL_READS_A_DAY, address, f"viewer:{PASSWORD}"]
    ended = subprocess.run(asked, capture_output=True, text=True, timeout=120, check=False)
    assert ended.returncode == 0, ended.stderr
    assert json.loads(ended.stdout) == {
        "layers": ["sites", "links"],
        "codes": sorted(f"L-{number}" for number in range(12)),
    }


@pytest.mark.django_db(transaction=True)
def test_a_token_opens_it_too(ogc: str) -> None:
    from rest_framework.authtoken.models import Token

    token = Token.objects.create(user=Person.objects.get(username="viewer")).key
    answer = requests.get(f"{ogc}collections", headers={"Authorization": f"Token {token}"}, timeout=10)

    assert answer.status_code == 200
