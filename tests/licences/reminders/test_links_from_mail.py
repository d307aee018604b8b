"""Links in a mail: without signing in, for one act, for some days, and never by opening alone."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
import time_machine
from django.core import mail
from django.core.mail import EmailMultiAlternatives
from django.test import Client

from licences.models import Licence, Reminder
from licences.services import reminders
from sites.models import ChangeRecord, Person
from sites.services import record
from tests.licences.reminders.made import BY, at

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def today() -> Any:
    with time_machine.travel(at("2026-11-02"), tick=False):
        yield


@pytest.fixture
def links(new_licence: Callable[..., Licence], settings: Any) -> dict[str, str]:
    settings.REGISTER_ADDRESS = "https://register.tarn.example"
    new_licence()
    reminders.remind(at("2026-11-02"))
    found = re.findall(
        r"(Acknowledge|Put off): https://register\.tarn\.example(\S+)", str(mail.outbox[0].body)
    )
    return dict(found)


def test_the_html_part_has_the_same_links_and_sentences(links: dict[str, str]) -> None:
    message = mail.outbox[0]
    assert isinstance(message, EmailMultiAlternatives)
    html, kind = message.alternatives[0]
    assert kind == "text/html"
    assert all(link in str(html) for link in links.values())
    assert "The renewal may be filed" not in str(html)
    assert "File the renewal by 2026-12-01 (in 29 days); it expires on 2026-12-31." in str(html)


def test_a_scanner_that_opens_every_link_answers_nothing(links: dict[str, str]) -> None:
    scanner = Client()
    for link in links.values():
        for ask in (scanner.get, scanner.head, scanner.options):
            ask(link)
        page = scanner.get(link)
        assert page.status_code == 200
        assert "no-store" in page["Cache-Control"]
    row = Reminder.objects.get(state="sent")
    assert (row.acknowledged_at, row.snoozed_until, row.rounds) == (None, None, 0)


def test_a_post_without_the_form_of_the_page_is_refused(links: dict[str, str]) -> None:
    assert Client(enforce_csrf_checks=True).post(links["Acknowledge"]).status_code == 403
    assert Reminder.objects.get(state="sent").acknowledged_at is None


def test_the_button_acknowledges_as_the_recipient(links: dict[str, str], mira: Person) -> None:
    page = Client().post(links["Acknowledge"])
    assert page.status_code == 200
    assert "Acknowledged." in page.content.decode()
    row = Reminder.objects.get(state="sent")
    assert row.acknowledged_by == mira
    entry = ChangeRecord.objects.filter(object_type="licences.licence")[0]
    assert (entry.by_name, entry.by) == ("Mira Holt (by a link from a mail)", mira)
    assert "There is nothing more to answer" in Client().get(links["Acknowledge"]).content.decode()


def test_putting_off_needs_a_day_and_a_reason(links: dict[str, str]) -> None:
    page = Client().post(links["Put off"], {"until": "2027-05-01", "reason": "Holiday"})
    assert page.status_code == 422
    assert "not after 2026-12-01 was expected" in page.content.decode()
    assert 'value="Holiday"' in page.content.decode()
    assert Client().post(links["Put off"], {"until": "2026-11-10"}).status_code == 422
    assert Client().post(links["Put off"], {"until": "2026-11-10", "reason": "Holiday"}).status_code == 200
    row = Reminder.objects.get(state="snoozed")
    assert (str(row.snoozed_until), row.snooze_reason) == ("2026-11-10", "Holiday")
    assert Client().get(links["Put off"]).status_code == 410


def test_a_link_is_for_one_act(links: dict[str, str]) -> None:
    other = links["Acknowledge"].replace("/acknowledge/", "/put-off/")
    assert Client().post(other, {"until": "2026-11-10", "reason": "x"}).status_code == 404
    assert Client().get(links["Acknowledge"].replace("/acknowledge/", "/remove/")).status_code == 404


@pytest.mark.parametrize("spoil", [lambda link: link[:-3] + "AA/", lambda link: link[:60] + "/"])
def test_a_link_that_was_changed_or_cut_says_so(links: dict[str, str], spoil: Callable[[str], str]) -> None:
    page = Client().post(spoil(links["Acknowledge"]))
    assert page.status_code == 404
    assert "This is not a whole link from a reminder." in page.content.decode()


def test_a_link_holds_for_sixty_days(links: dict[str, str]) -> None:
    with time_machine.travel(at("2027-01-01"), tick=False):
        assert Client().get(links["Acknowledge"]).status_code == 200
    with time_machine.travel(at("2027-01-02"), tick=False):
        page = Client().post(links["Acknowledge"])
    assert page.status_code == 410
    assert "This link was valid until 2027-01-01." in page.content.decode()


def test_a_link_of_somebody_who_left_does_not_answer(links: dict[str, str], mira: Person) -> None:
    mira.is_active = False
    record.change(mira, by=BY)
    assert Client().post(links["Acknowledge"]).status_code == 410
