"""Steps written to the register: dates and step together, the past, two people at once, what is refused."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from rest_framework.test import APIClient

from licences import selectors
from licences.life import Step, Taken
from licences.models import Licence, LicenceEvent, LicensedChannel
from licences.services.life import Told, correct_for_import, end_channel_alone, take_step
from licences.standing import Standing
from sites.errors import RegisterError, StaleWriteError
from sites.models import ChangeRecord
from sites.services import record
from tests.made import DAY, TESTS, TODAY, Register, person, site

pytestmark = pytest.mark.django_db


def enter(
    licence: Licence, step: Step, on: dt.date, *, told: Told | None = None, **more: Any
) -> LicenceEvent:
    return take_step(
        licence, Taken(step=step, on=on, **more), by=TESTS, told=told or Told(), today=TODAY,
        expected_version=Licence.objects.get(pk=licence.pk).version,
    )  # fmt: skip


def fresh(licence: Licence) -> Licence:
    return Licence.objects.select_related("authority__renewal_policy", "holder").get(pk=licence.pk)


def test_a_licence_lives_from_the_application_to_its_surrender_and_every_day_is_known_afterwards() -> None:
    register = Register()
    licence = register.licence(
        "application 17", applied_on=TODAY - 3000 * DAY, granted_on=None, in_force_from=None, expires_on=None
    )
    first_end, second_end = TODAY - 1200 * DAY, TODAY + 600 * DAY
    enter(
        licence, Step.GRANT, TODAY - 2900 * DAY, until=first_end, fee_due_on=TODAY - 2535 * DAY,
        told=Told(number="L 1", proof="letter 9"),
    )  # fmt: skip
    enter(licence, Step.BRING_INTO_USE, TODAY - 2700 * DAY)
    enter(licence, Step.NOTIFY_USE, TODAY - 2690 * DAY, told=Told(proof="registered mail 44"))
    enter(licence, Step.FILE_RENEWAL, first_end - 100 * DAY)
    enter(licence, Step.RENEW, first_end - 20 * DAY, until=second_end)
    enter(licence, Step.TRANSFER, TODAY - 500 * DAY, holder_id=register.other.pk)
    enter(licence, Step.SURRENDER, TODAY - 10 * DAY, told=Told(note="the link was taken down"))
    stored = fresh(licence)
    assert (stored.number, stored.expires_on, stored.ended_how) == ("L 1", second_end, "surrendered")
    assert stored.ended_why == "the link was taken down"
    stood = {
        TODAY - 2950 * DAY: Standing.APPLIED,
        TODAY - 2800 * DAY: Standing.IN_FORCE,
        first_end - 150 * DAY: Standing.RENEWAL_OPEN,
        first_end - 50 * DAY: Standing.FILED,
        first_end + 50 * DAY: Standing.IN_FORCE,
        TODAY - 11 * DAY: Standing.IN_FORCE,
        TODAY - 10 * DAY: Standing.SURRENDERED,
    }
    for day, expected in stood.items():
        assert selectors.standing_on(stored, day, selectors.later_steps(day)) is expected, day
        assert list(Licence.objects.filter(selectors.has_standing(expected, day))) == [stored], day
        allowed = [stored] if expected.allows_transmission else []
        assert list(selectors.in_force_on(Licence.objects.all(), day)) == allowed, day
    held = [(each.holder.name, each.since, each.until) for each in selectors.holders_of(stored)]
    moved = TODAY - 500 * DAY
    assert held == [("Own utility", TODAY - 2900 * DAY, moved), ("Other party", moved, None)]
    assert ChangeRecord.objects.filter(object_type="licences.licenceevent").count() == 7


def test_a_step_that_is_refused_writes_nothing_and_says_why() -> None:
    licence = Register().licence("L 2", expires_on=TODAY + 200 * DAY)
    with pytest.raises(RegisterError, match="may be filed from") as refused:
        enter(licence, Step.FILE_RENEWAL, TODAY)
    assert refused.value.field == "on"
    assert not LicenceEvent.objects.exists()
    assert fresh(licence).version == licence.version


def test_of_two_people_who_step_at_once_the_second_is_told() -> None:
    licence = Register().licence("L 3", fee_due_on=TODAY)
    seen = licence.version
    pay = Taken(step=Step.PAY_FEE, on=TODAY)
    take_step(licence, pay, by=TESTS, expected_version=seen, today=TODAY)
    with pytest.raises(StaleWriteError, match="after you opened it"):
        take_step(fresh(licence), pay, by=TESTS, expected_version=seen, today=TODAY)
    assert fresh(licence).fee_due_on == dt.date(TODAY.year + 1, TODAY.month, TODAY.day)
    assert LicenceEvent.objects.count() == 1


def test_of_two_people_who_end_a_channel_and_its_licence_at_once_the_second_is_told() -> None:
    register = Register()
    licence = register.licence("L 4")
    channel = register.channel(licence, site=site("S1"))
    seen = licence.version
    end_channel_alone(channel, Taken(step=Step.CANCEL, on=TODAY), by=TESTS)
    with pytest.raises(StaleWriteError):
        take_step(licence, Taken(step=Step.SURRENDER, on=TODAY), by=TESTS, expected_version=seen, today=TODAY)


def test_one_channel_ends_and_the_licence_with_the_others_stays() -> None:
    register = Register()
    licence = register.licence("L 5")
    gone, kept = (register.channel(licence, label, site=site(f"S{label}")) for label in "12")
    event = end_channel_alone(gone, Taken(step=Step.SURRENDER, on=TODAY), by=TESTS, told=Told(proof="form 3"))
    stored = LicensedChannel.objects.get(pk=gone.pk)
    assert (stored.ended_on, stored.ended_how, event.channel_id) == (TODAY, "surrendered", gone.pk)
    assert LicensedChannel.objects.get(pk=kept.pk).ended_on is None
    assert selectors.standing_on(fresh(licence), TODAY) is Standing.IN_FORCE
    with pytest.raises(RegisterError, match="already"):
        end_channel_alone(stored, Taken(step=Step.CANCEL, on=TODAY), by=TESTS)


def test_a_date_that_a_step_has_set_is_changed_by_a_step_only() -> None:
    licence = Register().licence("L 6", expires_on=TODAY + 100 * DAY)
    enter(licence, Step.FILE_RENEWAL, TODAY)
    edited = fresh(licence)
    edited.renewal_filed_on = TODAY - DAY
    with pytest.raises(ValidationError, match="was set to 2026-06-01 by the step “renewal filed”"):
        record.change(edited, by=TESTS)
    edited = fresh(licence)
    edited.notes = "what no step has set may be edited"
    record.change(edited, by=TESTS)
    enter(licence, Step.CORRECT, TODAY, corrected=(("renewal_filed_on", TODAY - DAY),))
    assert fresh(licence).renewal_filed_on == TODAY - DAY


def test_a_wrong_surrender_is_corrected_and_never_was() -> None:
    licence = Register().licence("L 7")
    enter(licence, Step.SURRENDER, TODAY - 20 * DAY)
    enter(licence, Step.CORRECT, TODAY, corrected=(("ended_on", None), ("ended_how", "")))
    stored = fresh(licence)
    for day in (TODAY - 30 * DAY, TODAY - 10 * DAY, TODAY):
        assert selectors.standing_on(stored, day, selectors.later_steps(day)) is Standing.IN_FORCE


def test_an_import_that_knows_another_date_is_entered_as_a_correction() -> None:
    licence = Register().licence("L 8", fee_due_on=TODAY, expires_on=TODAY + 100 * DAY)
    enter(licence, Step.FILE_RENEWAL, TODAY)
    enter(licence, Step.RENEW, TODAY, until=TODAY + 900 * DAY)
    row = fresh(licence)
    row.expires_on = TODAY + 800 * DAY
    correct_for_import(row, by=TESTS, note="extract of June")
    record.change(row, by=TESTS)
    last = LicenceEvent.objects.latest("pk")
    assert (last.step, last.note) == ("correct", "extract of June")
    assert fresh(licence).expires_on == TODAY + 800 * DAY


def test_fees_that_are_due_are_listed_until_they_are_paid() -> None:
    register = Register()
    due = register.licence("L 9", fee_due_on=TODAY + 10 * DAY)
    register.licence("L 10", fee_due_on=TODAY + 50 * DAY)
    register.licence("L 11", fee_due_on=TODAY, ended_on=TODAY - DAY, ended_how="cancelled")
    register.licence("L 12", fee_due_on=TODAY, holder=register.other)
    assert list(selectors.fees_due(TODAY + 30 * DAY)) == [due]
    enter(due, Step.PAY_FEE, TODAY)
    assert list(selectors.fees_due(TODAY + 30 * DAY)) == []


def registrar() -> Any:
    return person(
        "remi", "licences.add_licenceevent", "licences.view_licence", "licences.view_licensedchannel"
    )


def test_the_page_offers_what_is_possible_and_says_why_the_rest_is_not(client: Client) -> None:
    licence = Register().licence("L 20", fee_due_on=dt.date(2020, 1, 1), expires_on=None)
    client.force_login(registrar())
    page = client.get(reverse("licence", args=[licence.pk])).content.decode()
    assert reverse("licence-step", args=[licence.pk, "pay_fee"]) in page
    assert reverse("licence-step", args=[licence.pk, "file_renewal"]) not in page
    assert "It has no fixed end, so there is nothing to renew." in page
    refused = client.get(reverse("licence-step", args=[licence.pk, "file_renewal"])).content.decode()
    assert "nothing to renew" in refused
    assert "<button>File the renewal</button>" not in refused
    assert client.get(reverse("licence-step", args=[licence.pk, "explode"])).status_code == 404


def test_a_step_is_entered_on_its_page_and_shown_on_the_licence(client: Client) -> None:
    licence = Register().licence("L 21", fee_due_on=dt.date(2026, 1, 1), expires_on=None)
    client.force_login(registrar())
    address = reverse("licence-step", args=[licence.pk, "pay_fee"])
    bad = client.post(address, {"on": "31.12.2025", "version": licence.version})
    assert (bad.status_code, b"year-month-day" in bad.content) == (422, True)
    ahead = client.post(address, {"on": "2199-01-01", "version": licence.version})
    assert (ahead.status_code, b"lies ahead" in ahead.content) == (400, True)
    done = client.post(
        address, {"on": "2025-12-20", "proof": "receipt 71", "version": licence.version}, follow=True
    )
    page = done.content.decode()
    assert "fee paid" in page
    assert "receipt 71" in page
    assert "2027-01-01" in page
    late = client.post(address, {"on": "2025-12-21", "version": licence.version})
    assert (late.status_code, b"after you opened it" in late.content) == (409, True)


def test_one_channel_is_surrendered_on_its_page(client: Client) -> None:
    register = Register()
    channel = register.channel(register.licence("L 22"), site=site("S1"))
    client.force_login(registrar())
    address = reverse("licensed-channel-step", args=[channel.pk, "surrender"])
    assert b"other channels stay" in client.get(address).content
    done = client.post(address, {"on": "2026-06-01", "version": channel.version}, follow=True)
    assert b"today surrendered" in done.content
    other = client.get(reverse("licensed-channel-step", args=[channel.pk, "pay_fee"]))
    assert b"a step of the whole licence" in other.content


def test_the_api_tells_the_life_and_takes_a_step() -> None:
    licence = Register().licence("L 30", fee_due_on=dt.date(2026, 1, 1), expires_on=None)
    api = APIClient()
    api.force_authenticate(registrar())
    address = reverse("api:licence-steps", args=[licence.pk])
    life = api.get(address).json()
    assert life["standing"] == "in_force"
    assert {one["step"]: one["why_not"] for one in life["possible"]}["pay_fee"] == ""
    body = {"step": "pay_fee", "on": "2025-12-20"}
    assert api.post(address, body, format="json").status_code == 428
    made = api.post(address, {**body, "version": licence.version}, format="json")
    assert (made.status_code, made.json()["changes"]) == (201, {"fee_due_on": ["2026-01-01", "2027-01-01"]})
    stale = api.post(address, {**body, "version": licence.version}, format="json")
    assert stale.status_code == 409
    for wrong in (
        {"step": "explode", "on": "2025-12-20"},
        {"step": "renew", "on": "yesterday"},
        {"step": "correct", "on": "2025-12-20", "corrected": [{"field": "number", "value": None}]},
        {"step": "transfer", "on": "2025-12-20", "holder": 10**9},
        {"step": "correct", "on": "2025-12-20"},
        {"step": "renew", "on": "2025-12-20"},
    ):
        answer = api.post(address, {**wrong, "version": 2}, format="json")
        assert answer.status_code == 400, wrong
        assert answer["Content-Type"].startswith("application/problem+json")
    undone = {
        "step": "correct",
        "on": "2026-01-05",
        "corrected": [{"field": "fee_due_on", "value": "2026-01-01"}],
    }
    assert api.post(address, {**undone, "version": 2}, format="json").status_code == 201
