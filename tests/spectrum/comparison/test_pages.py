"""The pages of differences: what a person reads, decides, and is told when it cannot be."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from licences.models import Licence, LicensedChannel
from sites.services import record
from spectrum.models import Difference
from spectrum.roles import REGISTRAR, VIEWER
from tests.made import TESTS
from tests.small_register import client_of, person_of_role
from tests.spectrum.comparison.test_comparison import OURS, load, one, own_licence
from tests.spectrum.extracts.made import row

pytestmark = pytest.mark.django_db


def signed_in(client: Client, role: str = REGISTRAR) -> Client:
    client.force_login(person_of_role(role))
    return client


def decided(client: Client, difference: Difference, choice: str, **more: Any) -> Any:
    page = client.get(reverse("difference", args=[difference.pk]))
    body = {"choice": choice, "seen": page.context["seen"], **more}
    return client.post(reverse("difference-decide", args=[difference.pk]), body)


@pytest.fixture
def moved() -> LicensedChannel:
    """Our channel, which the regulator has 334 m further north."""
    own_licence()
    load(row(**OURS, From_lat="47.00300"))
    return LicensedChannel.objects.get()


def test_the_list_says_first_how_many_wait_and_shows_both_values_and_the_distance(
    client: Client, moved: LicensedChannel
) -> None:
    said = signed_in(client, VIEWER).get(reverse("difference-list")).content.decode()
    assert "2 of our own and 0 of other parties wait for a decision" in said
    assert "47.000000, 14.000000" in said
    assert "47.003000, 14.000000" in said
    assert "333.5" in said
    far = client.get(reverse("difference-list"), {"apart": 400})
    assert "Nothing in the register fits this filter" in far.content.decode()


def test_three_positions_stand_side_by_side(client: Client, moved: LicensedChannel) -> None:
    page = signed_in(client).get(reverse("difference", args=[one("position", record__kind="channel").pk]))
    said = page.content.decode()
    assert (
        "the register says 47.000000, 14.000000, the regulator says 47.003000, 14.000000, 333.5 m away"
        in said
    )
    words = [(place.words, place.apart_m) for place in page.context["found"].places]
    assert words == [
        ("as surveyed: site MAST", None),
        ("as licensed", 0.0),
        ("as the regulator holds it", pytest.approx(333.5, abs=0.1)),
    ]


def test_a_registrar_decides_on_the_page_and_the_list_is_shorter(
    client: Client, moved: LicensedChannel
) -> None:
    signed_in(client)
    answer = decided(client, one("position", record__kind="channel"), "regulator", reason="the paper says so")
    assert answer.status_code == 302
    moved.refresh_from_db()
    assert moved.latitude_deg == 47.003
    assert "1 of our own" in client.get(reverse("difference-list")).content.decode()


def test_what_is_wrong_with_a_decision_is_said_and_what_was_typed_stays(
    client: Client, moved: LicensedChannel
) -> None:
    signed_in(client)
    difference = one("position", record__kind="channel")
    answer = decided(client, difference, "aside", reason="")
    assert answer.status_code == 422
    assert "Setting a difference aside needs a reason" in answer.content.decode()
    stale = client.post(
        reverse("difference-decide", args=[difference.pk]),
        {"choice": "regulator", "seen": "of yesterday", "reason": "typed with care"},
    )
    assert stale.status_code == 409
    assert "typed with care" in stale.content.decode()
    moved.refresh_from_db()
    assert moved.latitude_deg == 47.0


def test_what_agrees_by_now_is_no_error(client: Client) -> None:
    load(row())
    licence = Licence.objects.get()
    licence.service = "mobile"
    record.change(licence, by=TESTS)
    signed_in(client)
    assert "service" in client.get(reverse("difference-list")).content.decode()
    licence.service = "fixed"
    record.change(licence, by=TESTS)
    assert "Register and regulator agree" in client.get(reverse("difference-list")).content.decode()


def test_the_list_needs_the_same_number_of_queries_however_long_it_is(
    client: Client, django_assert_max_num_queries: Any
) -> None:
    load(*(row(MHz=str(6010 + n), Number=f"F-{n}") for n in range(12)))
    for licence in Licence.objects.all():
        licence.service = "mobile"
        record.change(licence, by=TESTS)
    signed_in(client)
    client.get(reverse("difference-list"))
    with django_assert_max_num_queries(12):
        page = client.get(reverse("difference-list"))
    assert page.context["page"].paginator.count == 12


def test_the_api_gives_the_three_values(moved: LicensedChannel) -> None:
    said = client_of(VIEWER).get(
        reverse("api:difference-list"), {"state": "open", "kind": "channel", "apart_at_least_m": "100"}
    )
    [result] = said.json()["results"]
    assert (result["register"], result["then"], result["now"]) == ([47.0, 14.0], None, [47.003, 14.0])
    assert result["own"] is True
