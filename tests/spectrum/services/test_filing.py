"""A change of a licensed link says before it is saved what it needs: the service, the form, the API."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from rest_framework.test import APIClient

from licences.filing import Verdict
from licences.life import Step, Taken
from licences.models import LicensedChannel, RenewalPolicy
from licences.services.life import take_step
from sites.services import record
from spectrum.models import Link, Station
from spectrum.services.filing import needs_filing
from tests.made import TESTS, TODAY, Register, person, site

pytestmark = pytest.mark.django_db


def licensed_link(register: Register) -> tuple[Link, list[Station], list[LicensedChannel]]:
    """A link whose two channels allow 1 dB more than its radios give."""
    here, there = site("S1"), site("S2", 47.1, 14.1)
    licence = register.licence("L 1")
    channels = [
        register.channel(licence, label, site=place, frequency_hz=frequency, power_limit_dbm=38.0, power_kind="tx_output")
        for label, place, frequency in (("A", here, 410_000_000), ("B", there, 420_000_000))
    ]  # fmt: skip
    link = register.link("K-1", here, there)
    stations = list(Station.objects.filter(link=link).order_by("label"))
    for station, channel in zip(stations, channels, strict=True):
        station.licensed_channel = channel
        record.change(station, by=TESTS)
    return link, stations, channels


def verdict_of(link: Link, stations: list[Station]) -> Verdict:
    return needs_filing(link, stations, as_of=TODAY).verdict


def test_a_change_of_the_notes_needs_nothing() -> None:
    link, stations, _ = licensed_link(Register())
    assert needs_filing(link, stations, as_of=TODAY).stations == []


def test_each_change_is_judged_against_the_station_s_own_channel() -> None:
    link, (a, b), _ = licensed_link(Register())
    a.tx_power_dbm = 38.0
    assert verdict_of(link, [a, b]) is Verdict.WITHIN
    a.tx_power_dbm = 38.5
    found = needs_filing(link, [a, b], as_of=TODAY)
    assert found.verdict is Verdict.NEW_GRANT
    assert [(one.station, [r.quantity for r in one.reasons]) for one in found.stations] == [
        ("K-1/A", ["power"])
    ]


def test_the_rules_of_the_authority_decide() -> None:
    register = Register()
    link, _, _ = licensed_link(register)
    policy = RenewalPolicy.objects.get(authority=register.authority)
    policy.filing_rules = [{"quantity": "power", "more_than": 1, "needs": "new_grant", "source": "rule 7"}]
    record.change(policy, by=TESTS)
    a, b = Station.objects.filter(link=link).order_by("label")
    a.tx_power_dbm = 38.9
    assert verdict_of(link, [a, b]) is Verdict.NOTICE
    a.tx_power_dbm = 39.1
    found = needs_filing(link, [a, b], as_of=TODAY)
    assert [r.source for r in found.stations[0].reasons] == ["rule 7"]


def test_a_move_to_another_site_needs_a_new_grant() -> None:
    link, (a, b), _ = licensed_link(Register())
    a.site = site("S3", 47.05, 14.0)
    found = needs_filing(link, [a, b], as_of=TODAY)
    assert found.verdict is Verdict.NEW_GRANT
    assert "position" in [r.quantity for r in found.stations[0].reasons]


def test_a_station_that_gives_up_its_channel_and_sends_on_needs_a_new_grant() -> None:
    link, (a, b), _ = licensed_link(Register())
    a.licensed_channel = None
    found = needs_filing(link, [a, b], as_of=TODAY)
    assert found.verdict is Verdict.NEW_GRANT
    a.tx_frequency_hz = a.tx_power_dbm = None
    assert verdict_of(link, [a, b]) is Verdict.WITHIN


def test_a_change_under_a_surrendered_licence_needs_a_new_grant_whatever_it_is() -> None:
    link, _, (channel, _) = licensed_link(Register())
    take_step(channel.licence, Taken(step=Step.SURRENDER, on=TODAY), by=TESTS, today=TODAY)
    a, b = Station.objects.filter(link=link).order_by("label")
    a.tx_power_dbm = 30.0
    found = needs_filing(link, [a, b], as_of=TODAY)
    assert found.verdict is Verdict.NEW_GRANT
    assert "surrendered" in found.stations[0].reasons[0].sentence


def test_nothing_is_written_and_the_rows_are_left_alone() -> None:
    link, (a, b), _ = licensed_link(Register())
    keys = (a.pk, b.pk, a.link_id)
    a.tx_power_dbm = 39.0
    needs_filing(link, [a, b], as_of=TODAY)
    assert (a.pk, b.pk, a.link_id) == keys
    assert Station.objects.get(pk=a.pk).tx_power_dbm == 37.0


def planner() -> Any:
    return person("petra", "spectrum.change_link", "spectrum.view_link", "spectrum.change_station")


def typed(client: Client, link: Link) -> dict[str, Any]:
    """The form of a link as the browser would send it back unchanged."""
    entry = client.get(reverse("link-change", args=[link.pk])).context["entry"]
    data: dict[str, Any] = {}
    for form in entry.all_forms:
        for field in form:
            value = field.value()
            data[field.html_name] = "" if value is None else field.field.prepare_value(value)
    return data


def test_the_form_says_it_before_saving_and_saves_when_it_is_confirmed(client: Client) -> None:
    link, (a, _), _ = licensed_link(Register())
    client.force_login(planner())
    address = reverse("link-change", args=[link.pk])
    data = typed(client, link) | {"a-tx_power_dbm": "40"}
    asked = client.post(address, data)
    page = asked.content.decode()
    assert asked.status_code == 422
    assert "This change needs a new grant before it is made." in page
    assert "common practice, no published source" in page
    assert "Nothing was saved yet: this change needs a new grant" in page
    assert Station.objects.get(pk=a.pk).tx_power_dbm == 37.0
    # Another change than the one that was confirmed is asked about again.
    seen = asked.context["filing"].digest
    other = client.post(address, data | {"a-tx_power_dbm": "42", "filing_seen": seen})
    assert other.status_code == 422
    done = client.post(address, data | {"filing_seen": seen})
    assert done.status_code == 302
    assert Station.objects.get(pk=a.pk).tx_power_dbm == 40.0


def test_a_change_within_the_licence_is_saved_at_once(client: Client) -> None:
    link, (a, _), _ = licensed_link(Register())
    client.force_login(planner())
    data = typed(client, link) | {"a-tx_power_dbm": "35"}
    assert client.post(reverse("link-change", args=[link.pk]), data).status_code == 302
    assert Station.objects.get(pk=a.pk).tx_power_dbm == 35.0


def test_the_api_answers_without_saving() -> None:
    link, (a, _), _ = licensed_link(Register())
    api = APIClient()
    api.force_authenticate(planner())
    address = reverse("api:link-needs-filing", args=[link.pk])
    assert api.post(address, {}, format="json").json() == {"verdict": "within", "stations": []}
    sent = api.get(reverse("api:link-detail", args=[link.pk])).json()["stations"]
    sent[0]["tx_power_dbm"] = 40.0
    answer = api.post(address, {"stations": sent}, format="json")
    assert (answer.status_code, answer.json()["verdict"]) == (200, "new_grant")
    assert answer.json()["stations"][0]["reasons"][0]["quantity"] == "power"
    assert Station.objects.get(pk=a.pk).tx_power_dbm == 37.0
    wrong = api.post(address, {"stations": [{"label": "Z"}]}, format="json")
    assert wrong.status_code == 400
