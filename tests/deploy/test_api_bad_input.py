"""Wrong values of every sort, in every field of every address that takes a body or a parameter: 4xx and a sentence."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.db import transaction
from rest_framework import serializers
from rest_framework.test import APIClient

from deploy.api import router
from sites.api.views import RegisterViewSet
from sites.models import ChangeRecord
from spectrum.api.links import StationSerializer
from tests.deploy.test_api_problems import problem
from tests.small_register import SmallRegister, client_of, small_register

pytestmark = pytest.mark.django_db

REGISTRY: list[tuple[str, Any, str]] = list(router.registry)
WRITABLE = [row for row in REGISTRY if issubclass(row[1], RegisterViewSet)]
OF = {
    "site": "near", "antenna-type": "antenna_type", "authority": "authority", "renewal-policy": "policy",
    "holder": "other", "licence": "licence", "licensed-channel": "go", "channel-plan": "plan",
    "radio-type": "radio_type", "radio-mode": "mode", "radio-mask": "mask", "link": "link",
    "protection-criterion": "criterion", "extract-mapping": "mapping", "variant": "variant",
    "application": "application", "document": "document", "commissioning-record": "found",
    "interference-entry": "interference",
}  # fmt: skip


class Raw(float):
    """A number that JSON can carry and Python would write otherwise."""

    def __new__(cls, text: str) -> Raw:
        self = super().__new__(cls, 0.0)
        self.text = text
        return self

    text: str

    def __repr__(self) -> str:
        return self.text


DEEP: Any = []
for _ in range(60):
    DEEP = [DEEP]

# What no field of the register takes, whatever its type.
NEVER: dict[str, Any] = {
    "a number beyond every float": Raw("1e999"),
    "1e308": 1e308,
    "an endless whole number": 10**400,
    "an object": {"a": {"b": [1, None]}},
    "a deep list": DEEP,
    "a list of lists of objects": [[{}]],
    "text with NUL": "a\x00b",
    "half a surrogate pair": "\ud800",
    "overlong text": "x" * 30_000,
}
# What many fields take and the others must refuse.
SOMETIMES: dict[str, Any] = {
    "null": None,
    "true": True,
    "empty text": "",
    "text": "seventy",
    "text of a number": "NaN",
    "Infinity as text": "Infinity",
    "signalling NaN as text": "sNaN",
    "a negative number": -1,
    "zero": 0,
    "a fraction": 0.123456789,
    "a large whole number": 2**63,
    "an unknown id": 987_654_321,
    "an empty list": [],
    "an empty object": {},
    "a list of a number": [5],
    "a list of a text": ["x"],
    "a date that is none": "2026-02-30",
    "the first year": "0001-01-01",
    "Arabic digits": "٤٥١",
}


def _with_raw(value: Any) -> bytes:
    if isinstance(value, Raw):
        return value.text.encode()
    if isinstance(value, dict):
        return b"{" + b",".join(json.dumps(k).encode() + b":" + _with_raw(v) for k, v in value.items()) + b"}"
    if isinstance(value, list):
        return b"[" + b",".join(_with_raw(v) for v in value) + b"]"
    return json.dumps(value).encode()


def send(client: APIClient, method: str, address: str, body: Any) -> Any:
    return client.generic(method, address, _with_raw(body).decode(), content_type="application/json")


@pytest.fixture
def register() -> SmallRegister:
    return small_register()


def _writable_fields(view: Any) -> list[str]:
    serializer = view.serializer_class()
    return [name for name, field in serializer.fields.items() if not field.read_only]


def _stored(client: APIClient, prefix: str, name: str, register: SmallRegister) -> tuple[str, dict[str, Any]]:
    """An object as it is read, ready to be sent back."""
    address = f"/api/v1/{prefix}/{getattr(register, OF[name]).pk}/"
    body = client.get(address).json()
    if name == "site":
        body.pop("position_epsg")
    return address, body


@pytest.mark.parametrize(
    ("prefix", "view", "name"), WRITABLE, ids=lambda value: value if isinstance(value, str) else ""
)
def test_what_was_read_can_be_sent_back(prefix: str, view: Any, name: str, register: SmallRegister) -> None:
    """The ground of the tests below: what they spoil is accepted when it is not spoilt."""
    client = client_of("administrator")
    address, body = _stored(client, prefix, name, register)
    before = ChangeRecord.objects.count()

    answer = send(client, "PUT", address, body)

    assert answer.status_code == 200, answer.content
    unchanged = answer.json()
    assert {k: v for k, v in unchanged.items() if k not in ("version", "changed_at", "position_typed")} == {
        k: v
        for k, v in client.get(address).json().items()
        if k not in ("version", "changed_at", "position_typed")
    }
    if name != "site":  # its position was typed anew, as two numbers
        assert ChangeRecord.objects.count() == before
        assert unchanged == body


@pytest.mark.parametrize(
    ("prefix", "view", "name"), WRITABLE, ids=lambda value: value if isinstance(value, str) else ""
)
@pytest.mark.parametrize("method", ["POST", "PUT"])
def test_what_no_field_takes_is_named_for_every_field(
    method: str, prefix: str, view: Any, name: str, register: SmallRegister
) -> None:
    client = client_of("administrator")
    address, _ = _stored(client, prefix, name, register)
    fields = _writable_fields(view)
    for label, value in NEVER.items():
        where = address if method == "PUT" else f"/api/v1/{prefix}/"
        answer = send(client, method, where, dict.fromkeys(fields, value))

        rows = problem(answer, 400, "values")["errors"]
        left_to_the_model = (
            {"area", "columns", "reading", "statuses", "stand_ins"} if label == "an object" else set()
        )
        assert {row["field"].split(".")[0] for row in rows} == set(fields) - left_to_the_model, label


@pytest.mark.parametrize(
    ("prefix", "view", "name"), WRITABLE, ids=lambda value: value if isinstance(value, str) else ""
)
def test_a_doubtful_value_in_one_field_is_taken_or_a_problem_and_never_a_failure(
    prefix: str, view: Any, name: str, register: SmallRegister
) -> None:
    client = client_of("administrator")
    address, body = _stored(client, prefix, name, register)
    before = ChangeRecord.objects.count()
    for spoilt in _writable_fields(view):
        for label, value in SOMETIMES.items():
            with transaction.atomic():
                answer = send(client, "PUT", address, body | {spoilt: value})
                written = ChangeRecord.objects.count() - before
                transaction.set_rollback(True)
            _judge(answer, f"{spoilt}: {label}", must_fail=False)
            assert written == 0 or answer.status_code == 200, f"{spoilt}: {label} was half-written"


def _judge(answer: Any, what: str, *, must_fail: bool) -> None:
    if answer.status_code < 300:
        assert not must_fail, f"{what} was accepted"
        return
    assert 400 <= answer.status_code < 500, what
    body = problem(answer, answer.status_code, answer.json()["type"].rstrip("/").rsplit("/", 1)[1])
    assert body["detail"].endswith((".", "…", ")", "]", "”")), f"{what}: {body['detail']}"


STATION_FIELDS = [name for name, field in StationSerializer().fields.items() if not field.read_only]


@pytest.mark.parametrize("spoilt", STATION_FIELDS)
def test_a_wrong_value_in_a_station_is_named_with_its_place(spoilt: str, register: SmallRegister) -> None:
    client = client_of("administrator")
    address, body = _stored(client, "links", "link", register)
    for label, value in (NEVER | SOMETIMES).items():
        second = body["stations"][1] | {spoilt: value}
        with transaction.atomic():
            answer = send(client, "PUT", address, body | {"stations": [body["stations"][0], second]})
            transaction.set_rollback(True)
        _judge(answer, f"{spoilt}: {label}", must_fail=label in NEVER)
        if answer.status_code == 400 and label in NEVER:
            assert answer.json()["errors"][0]["field"].startswith(f"stations.1.{spoilt}"), answer.content


@pytest.mark.parametrize(
    ("name", "sent"),
    [
        ("antenna-type", {"pattern": "measured", "pattern_points": [[0, 0], [90, True]]}),
        ("antenna-type", {"pattern": "measured", "pattern_points": [[0, 0], [90, -(10**30)]]}),
        ("antenna-type", {"pattern": "measured", "pattern_points": [[0, 0], [90]]}),
        ("radio-mask", {"points": [[0, 0], ["x", -60]]}),
        ("radio-mask", {"points": [[0, 0], [0, 0]]}),
        ("renewal-policy", {"reminder_steps_days": [90, 90]}),
        ("renewal-policy", {"reminder_steps_days": [True]}),
        ("renewal-policy", {"reminder_steps_days": [10**9]}),
        ("licensed-channel", {"site": None, "area": {"type": "Point", "coordinates": [1, 2]}}),
        ("licensed-channel", {"site": None, "area": {"type": "Polygon", "coordinates": [[["a", "b"]] * 4]}}),
        ("licensed-channel", {"site": None, "area": {"type": "Polygon", "coordinates": []}}),
        ("licensed-channel", {"site": None, "area": {"type": "Polygon", "coordinates": [[[0, 0], [1, 1]]]}}),
        ("licensed-channel", {"site": None, "area": {"type": ["Polygon"], "coordinates": None}}),
        ("licensed-channel", {"site": None, "area": {"type": "Feature", "geometry": 5}}),
        ("licensed-channel", {"site": None, "area": [1, 2]}),
        ("licensed-channel", {"site": None, "area": {"type": "Polygon", "coordinates": [[[0, 0, 1, 2], [1], [2, 3]]]}}),
        (
            "licensed-channel",
            {"site": None, "area": {"type": "Polygon", "coordinates": [[[1e14, 0], [1, 1], [0, 1], [1e14, 0]]]}},
        ),
        ("licensed-channel", {"emission_designators": ["11K0"]}),
        ("licensed-channel", {"paired_with": 0}),
        ("licensed-channel", {"frequency_mhz": "451.0062501"}),
        ("licensed-channel", {"frequency_mhz": "451." + "0" * 40 + "1"}),
        ("licensed-channel", {"frequency_mhz": 0}),
        ("licensed-channel", {"channel_width_khz": -12.5}),
        ("site", {"position": "91 N 11 E", "latitude_deg": None, "longitude_deg": None}),
        ("site", {"position": "47 60 00 N 11 00 00 E", "latitude_deg": None, "longitude_deg": None}),
        ("site", {"position_epsg": 31287}),
        ("site", {"position_epsg": 1, "position": "500000 200000"}),
        ("link", {"stations": []}),
        ("link", {"stations": None}),
        ("link", {"stations": {"A": 1}}),
        ("link", {"stations": [5]}),
        ("link", {"stations": [{}, {}]}),
        ("link", {"starts_on": "2027-01-02", "ends_on": "2027-01-01"}),
        ("licence", {"yearly_fee": "1e400"}),
        ("extract-mapping", {"columns": {"licence_number": 5}}),
        ("extract-mapping", {"reading": {"frequency_unit": []}}),
        ("extract-mapping", {"reading": {"encoding": {}}}),
        ("extract-mapping", {"reading": {"date_format": 5}}),
        ("extract-mapping", {"reading": {"position_accuracy_m": "x"}}),
        ("extract-mapping", {"reading": {"unknown": 1}}),
        ("extract-mapping", {"statuses": {"in_use": [[]]}}),
        ("extract-mapping", {"stand_ins": {}}),
        ("extract-mapping", {"stand_ins": {"bands": [5]}}),
        ("extract-mapping", {"stand_ins": {"bands": {}}}),
        ("extract-mapping", {"stand_ins": {"bands": [{"name": []}]}}),
        ("licence", {"yearly_fee": "-1"}),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)  # fmt: skip
def test_what_hides_inside_a_value_is_found(name: str, sent: dict[str, Any], register: SmallRegister) -> None:
    client = client_of("administrator")
    prefix = next(prefix for prefix, _, known in WRITABLE if known == name)
    address, body = _stored(client, prefix, name, register)

    answer = send(client, "PUT", address, body | sent)

    problem(answer, 400, "values")


ACTIONS = [
    "links/{link}/check/", "network-check/", "findings/{finding}/accept/", "token/", "reminders/{reminder}/put-off/",
    "reminders/{reminder}/acknowledge/",
]  # fmt: skip


@pytest.mark.parametrize("address", ACTIONS)
@pytest.mark.parametrize("value", (NEVER | SOMETIMES).values(), ids=(NEVER | SOMETIMES).keys())
def test_an_action_with_a_wrong_body(address: str, value: Any, register: SmallRegister) -> None:
    client = client_of("administrator")
    address = "/api/v1/" + address.format(
        link=register.link.pk, finding=register.finding.pk, reminder=register.reminder.pk
    )
    field = {"check": "as_of", "accept": "reason", "token": "password", "put-off": "reason"}.get(
        address.split("/")[-2], "as_of"
    )
    for body in (value, {field: value}, {field: value, "username": value}):
        with transaction.atomic():
            answer = send(client, "POST", address, body)
            transaction.set_rollback(True)
        _judge(answer, f"{address} {body!r:.80}", must_fail=False)


PARAMETERS = [
    "NaN", "Infinity", "1e308", "-1", "0", "9" * 400, "x" * 5000, "a\x00b", "", "٤٥١", "maybe", "0001-01-01", "[1]", "%",
    "'",
]  # fmt: skip


@pytest.mark.parametrize(
    ("prefix", "view", "name"), REGISTRY, ids=lambda value: value if isinstance(value, str) else ""
)
def test_a_list_with_wrong_parameters(prefix: str, view: Any, name: str, register: SmallRegister) -> None:
    client = client_of("administrator")
    for parameter in [
        *view.filterset_class.base_filters,
        "search",
        "ordering",
        "page",
        "page_size",
        "ordring",
    ]:
        for value in PARAMETERS:
            answer = client.get(f"/api/v1/{prefix}/", {parameter: value})
            _judge(answer, f"{parameter}={value[:40]}", must_fail=parameter == "ordring")


@pytest.mark.parametrize(
    ("prefix", "view", "name"), REGISTRY, ids=lambda value: value if isinstance(value, str) else ""
)
def test_every_order_and_every_search_that_is_offered_works(
    prefix: str, view: Any, name: str, register: SmallRegister
) -> None:
    client = client_of("administrator")
    assert view.orderings
    assert view.search_fields
    for order in view.orderings:
        for sign in ("", "-"):
            assert client.get(f"/api/v1/{prefix}/", {"ordering": sign + order}).status_code == 200
    assert client.get(f"/api/v1/{prefix}/", {"search": "nothing-has-this-word"}).json()["count"] == 0


def test_serializers_have_no_field_type_that_these_tests_do_not_know() -> None:
    """A plain FloatField would take 1e308, a plain CharField a text without end."""
    plain = (serializers.FloatField, serializers.CharField, serializers.JSONField, serializers.DateField)
    for prefix, view, _ in WRITABLE:
        for name, field in view.serializer_class().fields.items():
            assert field.read_only or type(field) not in plain, f"{prefix}: {name}"
