"""How often, on which day, of what: as each person chose; and fees, use and its notice besides renewals."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.core import mail

from licences.life import Step, Taken
from licences.models import Licence, Reminder, ReminderSettings, RenewalPolicy
from licences.services import reminders
from licences.services.life import take_step
from licences.services.reminders.rhythm import latest_slot
from sites.models import Person
from sites.services import record
from tests.licences.reminders.made import BY, at

pytestmark = pytest.mark.django_db


def chooses(person: Person, **wishes: Any) -> None:
    record.create(ReminderSettings(person=person, **wishes), by=BY)


def run_every_hour(first: str, last: str) -> list[str]:
    """When mail went out, to the hour (UTC)."""
    went: list[str] = []
    now, end = at(first, "00:15"), at(last, "23:15")
    while now <= end:
        if now.hour in (0, 5, 6, 7, 9, 10, 23) and reminders.remind(now).mails:
            went.append(f"{now:%a %Y-%m-%d %H}")
        now += dt.timedelta(hours=1)
    return went


@pytest.mark.parametrize(
    ("here", "hour", "weekday", "expected"),
    [
        ("2026-11-25T07:00", 6, None, "2026-11-25T06:00"),
        ("2026-11-25T05:59", 6, None, "2026-11-24T06:00"),
        ("2026-11-25T07:00", 6, 0, "2026-11-23T06:00"),  # a Wednesday; the Monday before
        ("2026-11-23T05:00", 6, 0, "2026-11-16T06:00"),
        ("2026-11-23T06:00", 6, 0, "2026-11-23T06:00"),
        ("2026-11-25T07:00", 6, 6, "2026-11-22T06:00"),
    ],
)
def test_the_last_moment_at_which_a_mail_goes_out(
    here: str, hour: int, weekday: int | None, expected: str
) -> None:
    read = dt.datetime.fromisoformat
    assert latest_slot(read(here), hour, weekday) == read(expected)


def test_a_weekly_mail_goes_out_on_its_day(new_licence: Callable[..., Licence], mira: Person) -> None:
    """The step of Sunday 2026-11-01 comes in the mail of the Wednesday after, at nine."""
    chooses(mira, rhythm="weekly", weekday=2, hour=9)
    new_licence()
    reminders.remind(at("2026-10-07", "09:15"))  # the opening of the window
    assert run_every_hour("2026-10-28", "2026-11-12") == ["Wed 2026-11-04 09"]


def test_a_weekly_mail_does_not_let_a_date_pass(new_licence: Callable[..., Licence], mira: Person) -> None:
    """The last filing day is Tuesday 2026-12-01: the step of 11-24 cannot wait for Wednesday 12-02."""
    chooses(mira, rhythm="weekly", weekday=2, hour=9)
    new_licence()
    reminders.remind(at("2026-11-04", "09:15"))
    assert run_every_hour("2026-11-23", "2026-12-03") == ["Wed 2026-11-25 09"]
    mail.outbox.clear()
    new_licence("late", expires_on=dt.date(2026, 12, 27))  # its last filing day is Friday 2026-11-27
    reminders.remind(at("2026-11-26", "09:15"))
    assert "SPA late" in mail.outbox[0].body


def test_a_weekly_mail_that_was_missed_goes_out_when_the_register_is_back(
    new_licence: Callable[..., Licence], mira: Person
) -> None:
    chooses(mira, rhythm="weekly", weekday=2, hour=9)
    new_licence()
    reminders.remind(at("2026-10-28", "09:15"))  # the window
    mail.outbox.clear()
    assert reminders.remind(at("2026-11-01", "10:15")).mails == 0
    assert reminders.remind(at("2026-11-06", "10:15")).mails == 1  # Wednesday the 4th was missed
    assert reminders.remind(at("2026-11-07", "10:15")).mails == 0


def test_at_once_sends_a_second_mail_on_the_same_day(
    new_licence: Callable[..., Licence], mira: Person
) -> None:
    chooses(mira, rhythm="at_once", hour=6)
    new_licence("1")
    assert reminders.remind(at("2026-11-24", "07:15")).mails == 1
    new_licence("2")
    assert reminders.remind(at("2026-11-24", "08:15")).mails == 1
    assert reminders.remind(at("2026-11-24", "09:15")).mails == 0


def test_the_hour_is_the_recipients(new_licence: Callable[..., Licence], mira: Person) -> None:
    """Nine in Auckland (UTC+13) is eight in the evening of the day before in UTC."""
    chooses(mira, hour=9)
    mira.time_zone = "Pacific/Auckland"
    record.change(mira, by=BY)
    new_licence()
    reminders.remind(at("2026-10-20"))
    assert reminders.remind(at("2026-10-31", "19:59")).mails == 0
    assert reminders.remind(at("2026-10-31", "20:00")).mails == 1


class TestOfWhat:
    @pytest.fixture
    def licence(self, new_licence: Callable[..., Licence]) -> Licence:
        return new_licence(
            granted_on=dt.date(2026, 1, 1), in_force_from=dt.date(2026, 1, 1), expires_on=None,
            bring_into_use_by=dt.date(2026, 12, 1), use_notice_by=dt.date(2026, 12, 15),
            fee_due_on=dt.date(2026, 12, 10), yearly_fee=120, fee_currency="EUR",
        )  # fmt: skip

    def test_fee_use_and_notice_are_reminded_of(self, licence: Licence) -> None:
        reminders.remind(at("2026-12-03"))
        (message,) = mail.outbox
        assert message.subject == "1 licence needs attention: 3 other dates, the nearest 2026-12-01"
        text = message.body
        assert "It was to be brought into use by 2026-12-01 and no such day is entered." in text
        assert "Pay the fee of 120.00 EUR by 2026-12-10 (in 7 days), and enter the payment." in text
        assert "Send the authority the notice of the bringing into use by 2026-12-15 (in 12 days)." in text

    def test_one_other_date_stands_in_the_subject(self, licence: Licence) -> None:
        reminders.remind(at("2026-11-10"))
        assert mail.outbox[0].subject == ("1 licence needs attention: 2 other dates, the nearest 2026-12-01")
        mail.outbox.clear()
        reminders.remind(at("2026-12-01"))
        assert mail.outbox[0].subject == ("1 licence needs attention: 2 other dates, the nearest 2026-12-01")

    def test_a_paid_fee_ends_its_reminders_until_the_next(self, licence: Licence) -> None:
        reminders.plan(at("2026-11-10"))
        take_step(
            licence, Taken(step=Step.PAY_FEE, on=dt.date(2026, 11, 9)), by=BY, today=dt.date(2026, 11, 10)
        )
        reminders.plan(at("2026-11-10"))
        assert Reminder.objects.get(step="fee").state == "overtaken"
        reminders.plan(at("2027-11-10"))
        assert Reminder.objects.get(step="fee", state="waiting").about_on == dt.date(2027, 12, 10)

    def test_what_somebody_leaves_out_goes_to_the_managers(
        self, licence: Licence, mira: Person, manager: Person
    ) -> None:
        chooses(mira, topics=["use", "notice", "renewal"])
        reminders.remind(at("2026-12-03"))
        told = {m.to[0]: m.body for m in mail.outbox}
        assert "Pay the fee" not in told[mira.email]
        assert "Pay the fee" in told[manager.email]
        assert "brought into use" not in told[manager.email]

    def test_a_topic_that_nobody_wants_is_named(self, licence: Licence, mira: Person) -> None:
        chooses(mira, topics=[])
        assert reminders.remind(at("2026-12-03")).nobody_for == ["SPA 4711"]

    def test_the_days_are_the_policys(self, licence: Licence) -> None:
        policy = RenewalPolicy.objects.get()
        policy.fee_steps_days, policy.use_steps_days, policy.notice_steps_days = [20], [], []
        record.change(policy, by=BY)
        reminders.plan(at("2026-11-19"))
        assert not Reminder.objects.exists()
        reminders.plan(at("2026-11-20"))
        assert [(r.step, r.days_before) for r in Reminder.objects.all()] == [("fee", 20)]
