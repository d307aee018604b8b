"""The administration in a real browser, under the pages' strict content security policy."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse

from spectrum.models import Station
from spectrum.roles import ADMINISTRATOR
from tests.made import Register, site
from tests.small_register import person_of_role

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_link_is_changed_with_its_stations(sign_in: Callable[[Any], Any]) -> None:
    link = Register().link("L-1", site("S-1"), site("S-2", 47.2))
    page = sign_in(person_of_role(ADMINISTRATOR, username="ada", is_staff=True))
    page.goto(reverse("admin:spectrum_link_change", args=[link.pk]))
    page.get_by_text("Add another Station").wait_for()  # made by the page's own script
    page.fill("#id_stations-0-tx_power_dbm", "2 W")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_text("was changed successfully").wait_for()
    assert Station.objects.get(link=link, label="A").tx_power_dbm == pytest.approx(33.01)
