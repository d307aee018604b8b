"""The API of authorities, holders, licences, licensed channels and reminders."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from licences.models import Licence, LicensedChannel, Reminder
from sites.services import record
from tests.small_register import AUTHOR, SmallRegister, client_of, small_register

pytestmark = pytest.mark.django_db


@pytest.fixture
def register() -> SmallRegister:
    return small_register()


def _channel(register: SmallRegister, **values: Any) -> dict[str, Any]:
    return {
        "licence": register.licence.pk,
        "label": "2",
        "site": register.near.pk,
        "frequency_mhz": "451.00625",
        "channel_width_khz": "6.25",
    } | values


@pytest.mark.parametrize(
    ("sent", "hertz", "shown"),
    [
        ("451.00625", 451_006_250, "451.00625"),
        (451.00625, 451_006_250, "451.00625"),
        ("451", 451_000_000, "451.00000"),
        ("451.000001", 451_000_001, "451.000001"),
        (0.1 + 0.2, None, None),  # 0.30000000000000004 MHz is finer than 1 Hz
        ("4.5100625e2", 451_006_250, "451.00625"),
    ],
)
def test_a_frequency_is_stored_to_the_hertz_and_shown_with_all_its_digits(
    sent: Any, hertz: int | None, shown: str | None, register: SmallRegister
) -> None:
    answer = client_of("registrar").post("/api/v1/licensed-channels/", _channel(register, frequency_mhz=sent))

    if hertz is None:
        assert answer.status_code == 400
        assert "finer than 1 Hz" in answer.json()["detail"]
        return
    assert answer.status_code == 201, answer.content
    assert answer.json()["frequency_mhz"] == shown
    assert LicensedChannel.objects.get(pk=answer.json()["id"]).frequency_hz == hertz


def test_a_width_is_in_kilohertz(register: SmallRegister) -> None:
    body = client_of("registrar").post("/api/v1/licensed-channels/", _channel(register)).json()

    assert body["channel_width_khz"] == "6.25"
    assert LicensedChannel.objects.get(pk=body["id"]).channel_width_hz == 6_250


def test_a_channel_applies_at_a_site_or_inside_an_area(register: SmallRegister) -> None:
    area = {"type": "Polygon", "coordinates": [[[11, 47], [12, 47], [12, 48], [11, 47]]]}
    client = client_of("registrar")

    inside = client.post("/api/v1/licensed-channels/", _channel(register, site=None, area=area))
    both = client.post("/api/v1/licensed-channels/", _channel(register, label="3", area=area))

    assert inside.status_code == 201
    assert inside.json()["area"] == area
    assert both.status_code == 400
    assert "give one of the two" in both.json()["detail"]


def test_a_wrong_emission_designator_is_said_under_its_field(register: SmallRegister) -> None:
    answer = client_of("registrar").post(
        "/api/v1/licensed-channels/", _channel(register, emission_designators=["11K0F1D", "NONSENSE"])
    )

    assert answer.json()["errors"][0]["field"] == "emission_designators"


def test_dates_out_of_order_are_refused(register: SmallRegister) -> None:
    answer = client_of("registrar").patch(
        f"/api/v1/licences/{register.licence.pk}/", {"expires_on": "2023-01-01", "version": 1}
    )

    assert "must not lie before" in answer.json()["detail"]
    register.licence.refresh_from_db()
    assert register.licence.expires_on == dt.date(2028, 12, 31)


def test_a_number_stands_once_with_an_authority(register: SmallRegister) -> None:
    answer = client_of("registrar").post(
        "/api/v1/licences/",
        {
            "authority": register.authority.pk,
            "number": "L-1",
            "holder": register.own.pk,
            "granted_on": "2025-01-01",
            "in_force_from": "2025-01-01",
        },
    )

    assert answer.status_code == 400
    assert "in the register already" in answer.json()["detail"]


def test_licences_are_filtered_by_their_dates(register: SmallRegister) -> None:
    client = client_of("viewer")

    def count(**filters: Any) -> int:
        return int(client.get("/api/v1/licences/", filters).json()["count"])

    assert count(expires_until="2028-12-31") == 1
    assert count(expires_until="2028-12-30") == 0
    assert count(in_force_on="2028-12-31") == 1  # the last day of validity counts
    assert count(in_force_on="2029-01-01") == 0
    assert count(in_force_on="2023-12-31") == 0
    assert count(own="true", authority=register.authority.pk, search="l-1") == 1
    assert count(holder=register.other.pk) == 0


def test_channels_are_filtered_by_frequency_and_ordered_by_it(register: SmallRegister) -> None:
    client = client_of("viewer")

    low = client.get("/api/v1/licensed-channels/", {"frequency_max_mhz": "451"}).json()["results"]
    both = client.get("/api/v1/licensed-channels/", {"ordering": "-frequency_mhz"}).json()["results"]

    assert [row["label"] for row in low] == ["go"]
    assert [row["frequency_mhz"] for row in both] == ["461.00000", "451.00000"]
    assert both[0]["licence_label"] == "RA L-1"


def test_removing_a_licence_removes_its_channels_and_records_both(register: SmallRegister) -> None:
    assert client_of("registrar").delete(f"/api/v1/licences/{register.licence.pk}/").status_code == 204
    assert not LicensedChannel.objects.exists()

    rows = client_of("manager").get("/api/v1/change-records/", {"action": "remove"}).json()["results"]
    assert sorted(row["object_type"] for row in rows) == [
        "licences.licence",
        "licences.licensedchannel",
        "licences.licensedchannel",
    ]


LISTS = ["authorities", "renewal-policies", "holders", "licences", "licensed-channels", "reminders"]


@pytest.mark.parametrize("name", LISTS)
def test_a_list_takes_the_same_queries_whatever_its_length(name: str, register: SmallRegister) -> None:
    client = client_of("viewer")

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert client.get(f"/api/v1/{name}/", {"page_size": 500}).status_code == 200
        return len(seen)

    queries()  # permissions are remembered from here on
    few = queries()
    for number in range(15):
        _one_more_of_each(register, number)

    assert queries() == few
    assert few <= 3  # count and rows


def _one_more_of_each(register: SmallRegister, number: int) -> None:
    from licences.models import Authority, Holder, RenewalPolicy

    authority = record.create(Authority(code=f"R{number}", name="Office"), by=AUTHOR)
    record.create(RenewalPolicy(authority=authority), by=AUTHOR)
    holder = record.create(Holder(name=f"Party {number}"), by=AUTHOR)
    day = dt.date(2025, 1, 1)
    licence = record.create(
        Licence(
            authority=authority,
            number="1",
            holder=holder,
            responsible=register.responsible,
            granted_on=day,
            in_force_from=day,
        ),
        by=AUTHOR,
    )
    record.create(
        LicensedChannel(
            licence=licence, label="1", site=register.far, frequency_hz=460_000_000, channel_width_hz=12_500
        ),
        by=AUTHOR,
    )
    Reminder.objects.create(
        licence=licence,
        recipient=register.responsible,
        step="expired",
        about_on=day,
        act_by=day,
        due_on=day,
        ready_on=day,
    )
