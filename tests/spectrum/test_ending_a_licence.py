"""Whoever ends a licence, or one of its channels, sees first which stations would be left without it."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from sites.services import record
from spectrum.models import Link
from tests.made import TESTS, Register, site
from tests.small_register import person_of_role

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("step", ["surrender", "cancel", "let_expire"])
def test_stations_on_the_air_under_it_are_named_before_it_ends(step: str) -> None:
    register = Register()
    licence = register.licence("L 7")
    places = site("S1"), site("S2", 47.2)
    go = register.channel(licence, "go", site=places[0])
    back = register.channel(licence, "back", site=places[1], frequency_hz=420_000_000)
    for code, status in (("AIR-1", Link.Status.ON_AIR), ("PLAN-1", Link.Status.PLANNED)):
        link = register.link(code, *places, status=status)
        for station, channel in zip(link.stations.order_by("pk"), (go, back), strict=True):
            station.licensed_channel = channel
            record.change(station, by=TESTS)
    client = Client()
    client.force_login(person_of_role("registrar"))
    page = client.get(reverse("licence-step", args=[licence.pk, step])).content.decode()
    assert "2 stations are on the air under it in the register:" in page
    assert "AIR-1/A" in page
    assert "AIR-1/B" in page
    assert "PLAN-1" not in page
    if step != "let_expire":
        page = client.get(reverse("licensed-channel-step", args=[go.pk, step])).content.decode()
        assert "1 station is on the air under it in the register:" in page


def test_a_step_that_ends_nothing_names_none() -> None:
    register = Register()
    licence = register.licence("L 7")
    near = site("S1")
    link = register.link("AIR-1", near, site("S2", 47.2), status=Link.Status.ON_AIR)
    station = link.stations.order_by("pk")[0]
    station.licensed_channel = register.channel(licence, site=near)
    record.change(station, by=TESTS)
    client = Client()
    client.force_login(person_of_role("registrar"))
    page = client.get(reverse("licence-step", args=[licence.pk, "correct"])).content.decode()
    assert "on the air under it" not in page
