"""What OGC 17-069r4 (OGC API – Features, Part 1: Core) requires, clause by clause.

The requirement's name stands in each test; the abstract tests of Annex A ask for the same.
"""

from __future__ import annotations

import base64
from collections.abc import Iterator
from typing import Any

import pytest
import shapely
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from spectrum.models import Finding, Link
from tests.made import Register, site
from tests.small_register import PASSWORD, person_of_role

pytestmark = pytest.mark.django_db
CORE = "http://www.opengis.net/spec/ogcapi-features-1/1.0/conf/core"
NAMES = ["sites", "links", "findings"]


@pytest.fixture
def register() -> Register:
    """Links along the 47th parallel, one over the antimeridian, one with an end in time; findings of each sort."""
    made = Register()
    west, east = site("W", 47.0, 14.0), site("E", 47.0, 15.0)
    made.link("L-1", west, east)
    made.link(
        "L-2", site("N", 48.0, 14.5), site("N2", 48.1, 14.6), starts_on="2026-03-01", ends_on="2026-03-31"
    )
    made.link("L-3", site("D", -17.0, 179.0), site("D2", -17.0, -179.0), starts_on="2027-01-01")
    one, other = Link.objects.get(code="L-1"), Link.objects.get(code="L-2")
    values: dict[str, Any] = {"severity": "must_fix", "rank": 0, "last_seen_at": "2026-11-25T00:00:00Z"}
    Finding.objects.create(
        identity="pair", kind="co_channel", headline="pair", link=one, station_label="A", other_link=other,
        other_station_label="A", first_seen_at="2026-05-01T00:00:00Z", **values,
    )  # fmt: skip
    Finding.objects.create(
        identity="nowhere", kind="expired", headline="nowhere", licence=made.licence("1"),
        first_seen_at="2026-06-01T00:00:00Z", **values,
    )  # fmt: skip
    Finding.objects.create(
        identity="gone", kind="co_channel", headline="gone", link=one, first_seen_at="2026-01-01T00:00:00Z",
        gone_at="2026-02-01T00:00:00Z", **values,
    )  # fmt: skip
    return made


@pytest.fixture
def client(register: Register) -> Iterator[Client]:
    signed_in = Client()
    signed_in.force_login(person_of_role("viewer"))
    yield signed_in


def items(client: Client, name: str, **asked: Any) -> dict[str, Any]:
    answer = client.get(f"/ogc/collections/{name}/items", asked)
    assert answer.status_code == 200, answer.content
    assert answer["Content-Type"] == "application/geo+json"  # /req/geojson/definition
    found: dict[str, Any] = answer.json()
    assert found["type"] == "FeatureCollection"
    assert found["numberReturned"] == len(found["features"])  # /req/core/fc-numberReturned
    return found


def codes(client: Client, name: str, **asked: Any) -> set[str]:
    key = "what" if name == "findings" else "code"
    return {feature["properties"][key] for feature in items(client, name, **asked)["features"]}


def links_of(document: dict[str, Any], rel: str) -> list[dict[str, str]]:
    found = [link for link in document["links"] if link["rel"] == rel]
    assert all(link["type"] for link in document["links"])  # /req/core/fc-rel-type
    return found


def test_root_success(client: Client) -> None:
    landing = client.get("/ogc/").json()

    for rel in ("service-desc", "conformance", "data"):  # /req/core/root-success
        (link,) = links_of(landing, rel)
        answer = client.get(link["href"])
        assert answer.status_code == 200
        assert answer["Content-Type"] == link["type"]


def test_conformance_success(client: Client) -> None:
    assert CORE in client.get("/ogc/conformance").json()["conformsTo"]  # /req/core/conformance-success


def test_the_description_has_every_path_and_parameter(client: Client) -> None:
    described = client.get("/ogc/api").json()

    assert described["openapi"].startswith("3.0")  # /req/oas30/oas-definition-2
    known = described["components"]["parameters"]
    for name in NAMES:
        operation = described["paths"][f"/collections/{name}/items"]["get"]
        refs = {each["$ref"].rpartition("/")[2] for each in operation["parameters"]}
        assert {"bbox", "datetime", "limit", "as_of"} < refs <= set(known)
    assert known["bbox"]["explode"] is False  # /req/core/fc-bbox-definition
    assert known["limit"]["schema"]["minimum"] == 1  # /req/core/fc-limit-definition
    for path in described["paths"]:
        assert client.get("/ogc" + path.replace("{featureId}", "0")).status_code in (200, 404)


def test_collections_success(client: Client) -> None:
    listed = client.get("/ogc/collections").json()

    assert [each["id"] for each in listed["collections"]] == NAMES
    for each in listed["collections"]:  # /req/core/fc-md-items-links, /req/core/sfc-md-success
        assert links_of(each, "items")[0]["type"] == "application/geo+json"
        assert client.get(f"/ogc/collections/{each['id']}").json() == each
        west, south, east, north = each["extent"]["spatial"]["bbox"][0]  # /req/core/fc-md-extent
        assert (west, south, east, north) == (-179.0, -17.0, 179.0, 48.1)
        assert each["itemType"] == "feature"


@pytest.mark.parametrize("name", NAMES)
def test_a_feature_alone_is_the_feature_of_the_collection(name: str, client: Client) -> None:
    for feature in items(client, name)["features"]:
        answer = client.get(f"/ogc/collections/{name}/items/{feature['id']}")
        alone = answer.json()
        assert answer["Content-Type"] == "application/geo+json"
        assert links_of(alone, "self")[0]["href"].endswith(f"/{feature['id']}")  # /req/core/f-links
        assert links_of(alone, "collection")
        assert {key: value for key, value in alone.items() if key != "links"} == feature
        if feature["geometry"]:
            assert shapely.is_valid(shapely.geometry.shape(feature["geometry"]))


def test_the_collections_hold_what_the_lists_hold(client: Client) -> None:
    assert codes(client, "sites") == {"W", "E", "N", "N2", "D", "D2"}
    assert codes(client, "links") == {"L-1", "L-2", "L-3"}
    assert codes(client, "findings") == {"pair", "nowhere"}, "current findings only"


@pytest.mark.parametrize(
    ("name", "bbox", "expected"),
    [
        ("sites", "13.9,46.9,14.1,47.1", {"W"}),
        ("sites", "14,47,14,47", {"W"}),  # the edge belongs to the box
        ("sites", "178,-18,-178,-16", {"D", "D2"}),  # over the antimeridian
        ("sites", "13.9,46.9,0,14.1,47.1,1000", {"W"}),  # six numbers
        ("sites", "0,0,1,1", set()),
        ("links", "14.4,46.9,14.6,47.1", {"L-1"}),  # no end inside: the line crosses it
        ("links", "14.4,47.1,14.6,47.2", set()),
        ("links", "13.9,46.9,14.1,47.1", {"L-1"}),
        ("links", "179.5,-18,180,-16", {"L-3"}),
        ("links", "-180,-18,-179.5,-16", {"L-3"}),
        ("links", "0,-18,10,-16", set()),  # between its ends the long way round
        ("links", "-180,-90,180,90", {"L-1", "L-2", "L-3"}),
        ("findings", "14.2,47.4,14.3,47.6", {"pair", "nowhere"}),  # the line from W to N crosses it
        ("findings", "14.9,46.9,15.1,47.1", {"nowhere"}),  # without a place: every box selects it
    ],
)
def test_fc_bbox_response(name: str, bbox: str, expected: set[str], client: Client) -> None:
    assert codes(client, name, bbox=bbox) == expected


@pytest.mark.parametrize(
    ("name", "datetime", "expected"),
    [
        ("links", "2026-03-15T12:00:00Z", {"L-1", "L-2"}),
        ("links", "2026-03-15", {"L-1", "L-2"}),
        ("links", "2026-04-01T00:00:00Z", {"L-1"}),
        ("links", "2026-03-31T00:00:00Z/..", {"L-1", "L-2", "L-3"}),
        ("links", "../2026-02-28T23:59:59Z", {"L-1"}),
        ("links", "/2026-03-01T00:00:00+01:00", {"L-1"}),  # in UTC the day before
        ("links", "2027-01-01T00:00:00.5Z/2027-02-01T00:00:00Z", {"L-1", "L-3"}),
        ("findings", "2026-05-15T00:00:00Z", {"pair"}),
        ("findings", "2026-04-30T23:59:59Z", set()),
        ("findings", "2026-01-15T00:00:00Z/..", {"pair", "nowhere"}),
        ("sites", "1990-01-01T00:00:00Z", {"W", "E", "N", "N2", "D", "D2"}),  # no time: always selected
    ],
)
def test_fc_time_response(name: str, datetime: str, expected: set[str], client: Client) -> None:
    assert codes(client, name, datetime=datetime) == expected


def test_fc_limit_and_the_links_from_part_to_part(client: Client) -> None:
    seen: list[int] = []
    address = "/ogc/collections/sites/items?limit=4&bbox=-180,-90,180,90"
    while address:
        part = client.get(address).json()
        assert part["numberMatched"] == 6  # /req/core/fc-numberMatched
        seen += [feature["id"] for feature in part["features"]]
        onward = links_of(part, "next")
        address = onward[0]["href"] if onward else ""
    assert len(seen) == len(set(seen)) == 6
    assert links_of(part, "prev")
    assert len(items(client, "sites", limit=999_999)["features"]) == 6  # above the maximum is no error


@pytest.mark.parametrize(
    ("asked", "named"),
    [
        ({"limit": "0"}, "limit"),
        ({"limit": "-1"}, "limit"),
        ({"limit": "many"}, "limit"),
        ({"offset": "x"}, "offset"),
        ({"bbox": "1,2,3"}, "bbox"),
        ({"bbox": "a,b,c,d"}, "bbox"),
        ({"bbox": "0,10,1,5"}, "bbox"),
        ({"bbox": "0,0,200,5"}, "bbox"),
        ({"bbox": "nan,0,1,1"}, "bbox"),
        ({"datetime": "yesterday"}, "datetime"),
        ({"datetime": "2026-02-30"}, "datetime"),
        ({"datetime": "2026-02-20T25:00:00Z"}, "datetime"),
        ({"datetime": "../.."}, "datetime"),
        ({"datetime": "2026-12-01/2026-01-01"}, "datetime"),
        ({"datetime": "0001-01-01T00:00:00+23:00"}, "datetime"),
        ({"f": "html"}, "f"),
        ({"filter": "code=W"}, "filter"),
    ],
)
def test_query_param_invalid_and_unknown(asked: dict[str, str], named: str, client: Client) -> None:
    answer = client.get("/ogc/collections/sites/items", asked)

    assert answer.status_code == 400
    assert answer["Content-Type"] == "application/problem+json"
    assert answer.json()["errors"][0]["field"] == named


@pytest.mark.parametrize(
    "path", ["nothing", "collections/licences", "collections/sites/items/999999", "collections/sites/items/x",
             f"collections/sites/items/{10**30}"],
)  # fmt: skip
def test_what_is_not_there_is_a_problem_404(path: str, client: Client) -> None:
    answer = client.get(f"/ogc/{path}")

    assert answer.status_code == 404
    assert answer["Content-Type"] == "application/problem+json"


def _with_password(password: str) -> dict[str, str]:
    return {"Authorization": "Basic " + base64.b64encode(f"viewer:{password}".encode()).decode()}


def test_a_desktop_map_signs_in_with_name_and_password(register: Register) -> None:
    person_of_role("viewer")

    refused = Client().get("/ogc/collections/sites/items")
    assert refused.status_code == 401
    assert refused["WWW-Authenticate"].startswith("Basic ")
    assert Client().get("/ogc/", headers=_with_password("wrong")).status_code == 401
    assert Client().get("/ogc/", headers=_with_password(PASSWORD)).status_code == 200


def test_too_many_wrong_passwords_lock_out_here_as_on_the_sign_in_page(
    register: Register, settings: Any
) -> None:
    settings.AXES_ENABLED = True
    settings.AXES_FAILURE_LIMIT = 3
    person_of_role("viewer")
    answers = [Client().get("/ogc/", headers=_with_password("wrong")) for _ in range(4)]

    assert [answer.status_code for answer in answers] == [401, 401, 429, 429]
    assert answers[-1]["Content-Type"] == "application/problem+json"
    assert Client().get("/ogc/", headers=_with_password(PASSWORD)).status_code == 429


def test_somebody_without_a_role_reads_no_collection(register: Register) -> None:
    from sites.models import Person

    client = Client()
    client.force_login(Person.objects.create_user("guest", password=PASSWORD))
    answer = client.get("/ogc/collections/links/items")

    assert answer.status_code == 403
    assert "These roles include it" in answer.json()["detail"]


@pytest.mark.parametrize("name", NAMES)
def test_the_number_of_queries_does_not_grow_with_the_features(
    name: str, client: Client, register: Register
) -> None:
    counts = []
    for number in range(8):
        link = register.link(f"M-{number}", site(f"MA{number}", 47.2), site(f"MB{number}", 47.3))
        Finding.objects.create(
            identity=f"m{number}", kind="co_channel", headline="m", link=link, severity="note", rank=2,
            first_seen_at="2026-05-01T00:00:00Z", last_seen_at="2026-05-01T00:00:00Z",
        )  # fmt: skip
        if number in (0, 7):
            with CaptureQueriesContext(connection) as queries:
                items(client, name, bbox="10,40,20,50")
            counts.append(len(queries))
    assert counts[0] == counts[1]
