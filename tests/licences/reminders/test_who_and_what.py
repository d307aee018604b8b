"""Who is told, on the morning of which day, and what the mail says."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.core import mail

from licences.models import Licence
from licences.services import reminders
from sites.models import Person
from sites.services import record
from tests.licences.reminders.made import BY, at

pytestmark = pytest.mark.django_db(transaction=True)


class TestWhoIsTold:
    def test_the_responsible_person_and_not_the_managers(
        self, new_licence: Callable[..., Licence], manager: Person
    ) -> None:
        new_licence()
        reminders.remind(at("2026-11-24"))
        assert [m.to for m in mail.outbox] == [["mira@tarn.example"]]

    @pytest.mark.parametrize("missing", ["nobody", "left", "no address"])
    def test_the_managers_when_nobody_responsible_can_be_reached(
        self, new_licence: Callable[..., Licence], manager: Person, mira: Person, missing: str
    ) -> None:
        new_licence(responsible=None if missing == "nobody" else mira)
        mira.is_active = missing != "left"
        mira.email = "" if missing == "no address" else mira.email
        record.change(mira, by=BY)
        reminders.remind(at("2026-11-24"))
        assert [m.to for m in mail.outbox] == [["odd@tarn.example"]]

    def test_a_licence_of_which_nobody_can_be_told_is_named(
        self, new_licence: Callable[..., Licence]
    ) -> None:
        new_licence(responsible=None)
        assert reminders.remind(at("2026-11-24")).nobody_for == ["SPA 4711"]

    def test_who_takes_over_is_told_and_who_hands_over_is_left_alone(
        self, new_licence: Callable[..., Licence], manager: Person
    ) -> None:
        licence = new_licence()
        reminders.plan(at("2026-11-24"))
        licence.responsible = manager
        record.change(licence, by=BY)
        reminders.remind(at("2026-11-25"))
        assert [m.to for m in mail.outbox] == [["odd@tarn.example"]]

    @pytest.mark.parametrize(
        ("time_zone", "utc", "mails"),
        [
            ("Pacific/Auckland", "2026-10-31T16:59", 0),  # 1 November 05:59 there (UTC+13)
            ("Pacific/Auckland", "2026-10-31T17:00", 1),
            (
                "America/Los_Angeles",
                "2026-11-01T13:59",
                0,
            ),  # 05:59 there; summer time ended that night (UTC−8)
            ("America/Los_Angeles", "2026-11-01T14:00", 1),
            ("Nowhere/Land", "2026-11-01T06:00", 1),  # unknown: UTC
        ],
    )
    def test_mail_goes_out_on_the_morning_of_the_recipient(
        self, new_licence: Callable[..., Licence], mira: Person, time_zone: str, utc: str, mails: int
    ) -> None:
        Person.objects.filter(pk=mira.pk).update(
            time_zone=time_zone
        )  # an unknown one is not accepted any more
        new_licence()
        reminders.remind(at("2026-10-20"))  # the opening of the window, so that only the next step is left
        mail.outbox.clear()
        reminders.remind(dt.datetime.fromisoformat(f"{utc}:00+00:00"))
        assert len(mail.outbox) == mails


class TestTheMail:
    def test_several_licences_are_one_mail(self, new_licence: Callable[..., Licence]) -> None:
        new_licence("100")
        new_licence("101", expires_on=dt.date(2026, 12, 24))
        new_licence("102", expires_on=dt.date(2026, 11, 20))
        new_licence("103", expires_on=dt.date(2026, 12, 14))
        reminders.remind(at("2026-11-24"))
        (message,) = mail.outbox
        assert message.subject == "4 licences need attention: 1 expired; the nearest filing day is 2026-11-14"
        text = message.body
        assert "SPA 102, held by Tarn Valley Power\nIt expired on 2026-11-20." in text
        assert "SPA 103, held by Tarn Valley Power\nThe last filing day was 2026-11-14" in text
        assert "SPA 101, held by Tarn Valley Power\nThe last filing day was 2026-11-24" not in text
        assert "File the renewal by 2026-11-24 (today); it expires on 2026-12-24." in text
        assert "File the renewal by 2026-12-01 (in 7 days); it expires on 2026-12-31." in text
        assert text.index("SPA 103") < text.index("SPA 102") < text.index("SPA 101") < text.index("SPA 100")

    def test_every_licence_has_its_address(self, new_licence: Callable[..., Licence], settings: Any) -> None:
        settings.REGISTER_ADDRESS = "https://register.tarn.example/"
        licence = new_licence()
        reminders.remind(at("2026-11-24"))
        assert f"https://register.tarn.example/licences/{licence.pk}/" in mail.outbox[0].body

    @pytest.mark.parametrize(
        ("day", "subject"),
        [
            ("2026-11-24", "1 licence needs attention: the nearest filing day is 2026-12-01"),
            ("2027-01-01", "1 licence needs attention: 1 expired on 2026-12-31"),
        ],
    )
    def test_one_licence(self, new_licence: Callable[..., Licence], day: str, subject: str) -> None:
        new_licence()
        reminders.remind(at(day))
        assert mail.outbox[0].subject == subject

    def test_what_falls_due_later_that_day_waits_for_the_next(
        self, new_licence: Callable[..., Licence]
    ) -> None:
        new_licence("100")
        reminders.remind(at("2026-11-24", "07:15"))
        new_licence("101")
        reminders.remind(at("2026-11-24", "12:15"))
        assert len(mail.outbox) == 1
        reminders.remind(at("2026-11-25", "06:15"))
        assert len(mail.outbox) == 2
        assert "SPA 101" in mail.outbox[1].body
        assert "SPA 100" not in mail.outbox[1].body
