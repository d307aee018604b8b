"""Pages of sites: what was typed stays, the first to save is named, a list says what it left out."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from sites.models import ChangeRecord, Site
from sites.services import record
from tests.made import TESTS, Register, person, site
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db

PERMISSIONS = (
    "places.view_site",
    "places.add_site",
    "places.change_site",
    "places.delete_site",
    "places.view_changerecord",
)
TYPED = {
    "code": "K-01",
    "name": "Kalvarienberg",
    "position_typed": "47 30 00 N 14 15 00 E",
    "position_source": "survey",
    "ground_height_m": "812,5",
    "structure": "lattice",
    "environment": "rural",
    "own": "on",
}


@pytest.fixture
def client() -> Client:
    signed_in = Client()
    signed_in.force_login(person("anna", *PERMISSIONS, first_name="Anna", last_name="Auer"))
    return signed_in


def text(answer: Any) -> str:
    return str(answer.content.decode())


def test_a_site_is_entered_in_degrees_minutes_seconds_and_keeps_what_was_typed(client: Client) -> None:
    answer = client.post(reverse("site-add"), TYPED, follow=True)

    entered = Site.objects.get(code="K-01")
    assert (entered.latitude_deg, entered.longitude_deg) == (47.5, 14.25)
    assert entered.position_typed == "47 30 00 N 14 15 00 E"
    assert entered.position_notation == "degrees, minutes and seconds"
    assert entered.ground_height_m == 812.5
    assert "K-01 Kalvarienberg is in the register as you entered it." in text(answer)
    assert ChangeRecord.objects.filter(object_type="places.site", by_name="Anna Auer").count() == 1


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        ("position_typed", "91 00 00 N 14 00 00 E", "91 00 00 N"),
        ("position_typed", "somewhere", "somewhere"),
        ("position_epsg", "999999", "999999"),
        ("ground_height_m", "high", "“high” was typed; a number was expected"),
        ("ground_height_m", "9000", "Ground height must lie between -430 and 8850 m"),
        ("code", "", "Give the code."),
        ("structure", "castle", "castle"),
    ],
)
def test_what_was_typed_stays_on_the_page_when_something_is_wrong(
    client: Client, field: str, typed: str, said: str
) -> None:
    answer = client.post(reverse("site-add"), {**TYPED, field: typed})

    assert answer.status_code == 422
    assert said in text(answer)
    for name, value in {**TYPED, field: typed}.items():
        if name in ("code", "name", "position_typed", "ground_height_m") and value:
            assert f'value="{value}"' in text(answer)
    assert not Site.objects.exists()


def test_a_code_that_is_taken_is_said_beside_the_code(client: Client) -> None:
    site("K-01")

    answer = client.post(reverse("site-add"), TYPED)

    assert answer.status_code == 422
    assert "is in the register already; choose another" in text(answer)


def test_whoever_saves_second_reads_who_was_first_and_keeps_what_was_typed(client: Client) -> None:
    first = site("K-01")
    seen = first.version
    first.name = "Renamed by Bert"
    record.change(first, by=TESTS)

    answer = client.post(
        reverse("site-change", args=[first.pk]), {**TYPED, "name": "Renamed by Anna", "version": seen}
    )

    assert answer.status_code == 409
    assert "was changed by tests on" in text(answer)
    assert 'value="Renamed by Anna"' in text(answer)
    assert "In the register now: Renamed by Bert" in text(answer)
    first.refresh_from_db()
    assert first.name == "Renamed by Bert"


def test_removal_names_what_still_uses_the_site(client: Client) -> None:
    register = Register()
    used, unused = site("K-01"), site("K-02")
    register.link("L-1", used, site("K-03"))

    blocked = client.get(reverse("site-remove", args=[used.pk]))
    free = client.get(reverse("site-remove", args=[unused.pk]))

    assert "It cannot be removed: it is still used." in text(blocked)
    assert "L-1/A" in text(blocked)
    assert "Nothing else depends on it." in text(free)
    assert client.post(reverse("site-remove", args=[used.pk])).status_code == 409
    answer = client.post(reverse("site-remove", args=[unused.pk]), {"reason": "entered twice"}, follow=True)
    assert "The change record keeps what it was." in text(answer)
    assert ChangeRecord.objects.get(action="remove", object_id=unused.pk).reason == "entered twice"


def test_the_list_is_filtered_and_ordered_by_its_address(client: Client) -> None:
    site("K-01", region="North")
    site("K-02", region="South")
    site("X-01", region="South")

    south = text(client.get(reverse("site-list"), {"region": "sou", "sort": "-code"}))
    found = text(client.get(reverse("site-list"), {"q": "x-0"}))

    assert "K-01" not in south
    assert south.index("X-01") < south.index("K-02")
    assert "X-01" in found
    assert "K-02" not in found


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ({"sort": "password"}, "The list cannot be ordered by “password”"),
        ({"page": "minus one"}, "There is no page “minus one”; page 1 of 1 is shown."),
        ({"page": "99999999999999999999"}, "page 1 of 1 is shown"),
        ({"structure": "castle"}, "Filter “structure” with “castle” was left out."),
        ({"whose": "'; drop table"}, "was left out"),
        ({"q": "a\x00b"}, "was left out"),
        ({"q": "a" * 300}, "was left out"),
    ],
)
def test_a_query_that_cannot_be_read_gives_the_list_and_a_sentence(
    client: Client, query: dict[str, str], said: str
) -> None:
    site("K-01")

    answer = client.get(reverse("site-list"), query)

    assert answer.status_code == 200
    assert said in text(answer)
    assert "K-01" in text(answer)


@pytest.mark.parametrize("number", [0, 987654, 2**63, 10**30])
def test_a_number_that_no_site_has_is_a_page_that_is_not_there(client: Client, number: int) -> None:
    answer = client.get(f"/sites/{number}/change/")

    assert answer.status_code == 404
    assert "There is no such page" in text(answer)


def test_an_empty_list_says_what_belongs_there(client: Client) -> None:
    assert "Sites belong here" in text(client.get(reverse("site-list")))
    assert "fits this filter" in text(client.get(reverse("site-list"), {"q": "x"}))


def test_the_change_record_speaks_in_the_words_of_the_forms(client: Client) -> None:
    register = Register()
    link = register.link("L-1", site("K-01"), site("K-02"))

    shown = text(client.get(reverse("change-list"), {"object_type": "spectrum.station"}))
    of_link = text(
        client.get(reverse("change-list"), {"object_type": "spectrum.link", "object_id": str(link.pk)})
    )

    assert "transmit frequency: 410.00000 MHz" in shown
    assert "antenna type: Whip" in shown
    assert "site: K-01 Place K-01" in shown
    assert "holder: Own utility" in of_link


def test_whoever_may_not_reads_which_role_could() -> None:
    viewer = Client()
    viewer.force_login(person_of_role("viewer"))

    answer = viewer.get(reverse("site-add"))

    assert answer.status_code == 403
    assert "does not include entering a site" in text(answer)
    assert "planner" in text(answer)
    assert "registrar" in text(answer)
