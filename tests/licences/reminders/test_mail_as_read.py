"""A reminder mail is written as its recipient reads: language, days, figures."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from email import message_from_bytes, policy

import pytest
from django.core import mail
from django.test import Client
from django.utils import translation

from licences.models import Licence, Reminder
from licences.services import reminders
from licences.services.reminders.signed import Purpose, link
from sites.models import Person
from sites.reading import NEUTRAL, as_read_by, current_reader
from tests.licences.reminders.made import at

pytestmark = pytest.mark.django_db


def parts(message: mail.EmailMessage) -> tuple[str, str, str]:
    """Subject, text and HTML as they travel, read back by the standard library."""
    sent = message_from_bytes(message.message().as_bytes(), policy=policy.default)
    return tuple(  # type: ignore[return-value]
        [str(sent["subject"])]
        + [
            sent.get_body((kind,)).get_content()  # type: ignore[union-attr]
            for kind in ("plain", "html")
        ]
    )


@pytest.fixture
def both(new_licence: Callable[..., Licence], mira: Person, manager: Person, pseudo_language: str) -> None:
    """A licence of somebody who reads as usual, and one of somebody who reads another language and other figures."""
    Person.objects.filter(pk=mira.pk).update(
        language=pseudo_language, formats="de", time_zone="Europe/Vienna", power_unit="W"
    )
    mira.refresh_from_db()
    fee = {"yearly_fee": Decimal("1490.50"), "fee_currency": "EUR", "fee_due_on": dt.date(2026, 12, 1)}
    new_licence("100", responsible=mira, **fee)
    new_licence("101", responsible=manager, **fee)


@pytest.mark.usefixtures("both")
def test_two_people_of_one_run_get_a_mail_each_in_their_own_language_and_figures() -> None:
    reminders.remind(at("2026-11-24"))

    by_person = {message.to[0]: parts(message) for message in mail.outbox}
    usual, other = by_person["odd@tarn.example"], by_person["mira@tarn.example"]
    for text in other:
        assert "⟦" in text
        assert ".2026" in text
        assert "2026-" not in text
    for text in usual:
        assert "⟦" not in text
        assert "2026-" in text
    assert "1490.50 EUR" in usual[1]
    assert "1490,50 EUR" in other[1]
    assert '<html lang="xx">' in other[2]
    assert '<html lang="en">' in usual[2]


@pytest.mark.usefixtures("both")
def test_who_asks_for_the_run_makes_no_difference_and_is_not_changed_by_it(manager: Person) -> None:
    """An administrator may ask for it on a page; the mails are still written as their recipients read."""
    reader = Person(username="r", formats="fr", language="en")
    with as_read_by(reader) as asking:
        reminders.remind(at("2026-11-24"))
        assert current_reader() == asking
    assert current_reader() is NEUTRAL
    assert translation.get_language() == "en"
    texts = {message.to[0]: parts(message) for message in mail.outbox}
    assert "2026-" in texts[manager.email][0]
    assert not any("/2026" in text for three in texts.values() for text in three[:2])


@pytest.mark.usefixtures("both")
def test_a_mail_that_cannot_be_written_leaves_the_next_in_its_own_language(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    send = mail.EmailMultiAlternatives.send

    def refused(message: mail.EmailMessage, *args: object) -> int:
        if message.to == ["mira@tarn.example"]:
            raise ValueError("refused")
        return send(message)

    monkeypatch.setattr(mail.EmailMultiAlternatives, "send", refused)
    outcome = reminders.remind(at("2026-11-24"))

    assert list(outcome.failed) == ["Mira Holt"]
    (usual,) = (parts(message) for message in mail.outbox)
    assert "⟦" not in usual[1]


@pytest.mark.usefixtures("both")
def test_the_link_in_a_mail_opens_a_page_as_its_recipient_reads(mira: Person) -> None:
    """Nobody is signed in, or somebody else is on this browser: the mail's recipient answers."""
    reminders.remind(at("2026-11-24"))
    theirs = Reminder.objects.filter(recipient=mira)[0]
    page = Client().get(link(Purpose.PUT_OFF, theirs, dt.datetime.now(dt.UTC).date()))
    text = page.content.decode()
    assert page.status_code == 200
    assert "⟦" in text
