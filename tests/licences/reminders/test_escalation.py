"""The managers are told of what nobody acknowledged; acknowledging and putting off keep them out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from django.core import mail

from licences.models import Licence, Reminder, RenewalPolicy
from licences.services import reminders
from sites.errors import RegisterError
from sites.models import ChangeRecord, Person
from sites.services import record
from sites.services.record import Author
from tests.licences.reminders.made import BY, at

pytestmark = pytest.mark.django_db


def mails_to(person: Person) -> list[str]:
    return [str(m.body) for m in mail.outbox if m.to == [person.email]]


@pytest.fixture
def sent(new_licence: Callable[..., Licence], manager: Person) -> Reminder:
    """The step of 2026-11-01, sent to Mira on its day; the managers are told after 7 days."""
    new_licence()
    reminders.remind(at("2026-11-01"))
    return Reminder.objects.get(state="sent")


def test_the_managers_are_told_once_after_days_without_acknowledgement(
    sent: Reminder, manager: Person
) -> None:
    for day in ("2026-11-07", "2026-11-08", "2026-11-09", "2026-11-10"):
        reminders.remind(at(day))
    (body,) = mails_to(manager)
    assert "Mira Holt is responsible for it and nobody has acknowledged the reminder." in body
    row = Reminder.objects.get(escalated=True)
    assert (row.recipient, row.step, row.days_before) == (manager, "before_last_day", 30)
    assert (row.ready_on, str(row.sent_at)) == (dt.date(2026, 11, 8), "2026-11-08 09:00:00+00:00")


def test_each_further_step_is_told_while_nobody_acknowledges(sent: Reminder, manager: Person) -> None:
    for day in ("2026-11-08", "2026-11-24", "2026-11-25"):
        reminders.remind(at(day))
    told = Reminder.objects.filter(escalated=True, state="sent").order_by("due_on")
    assert [row.days_before for row in told] == [30, 7]


def test_an_acknowledgement_keeps_the_managers_out_and_the_next_step_in(
    sent: Reminder, manager: Person, mira: Person
) -> None:
    reminders.acknowledge(sent, by=mira, author=Author.of(mira), now=at("2026-11-02"))
    reminders.remind(at("2026-11-20"))
    assert mails_to(manager) == []
    reminders.remind(at("2026-11-24"))
    assert len(mails_to(mira)) == 2
    reminders.remind(at("2026-12-01"))
    assert len(mails_to(manager)) == 1


def test_a_manager_acknowledges_for_all(sent: Reminder, manager: Person, mira: Person) -> None:
    reminders.remind(at("2026-11-08"))
    row = Reminder.objects.get(escalated=True)
    reminders.acknowledge(row, by=manager, author=Author.of(manager), now=at("2026-11-08"))
    reminders.remind(at("2026-11-20"))
    assert Reminder.objects.filter(escalated=True).count() == 1


def test_a_policy_without_escalation(sent: Reminder, manager: Person) -> None:
    policy = RenewalPolicy.objects.get()
    policy.escalate_after_days = None
    record.change(policy, by=BY)
    reminders.remind(at("2026-11-20"))
    assert mails_to(manager) == []


def test_a_filed_renewal_ends_the_escalation(sent: Reminder, manager: Person) -> None:
    reminders.plan(at("2026-11-08"))
    licence = sent.licence
    licence.renewal_filed_on = dt.date(2026, 11, 7)
    record.change(licence, by=BY)
    reminders.remind(at("2026-11-08"))
    assert mails_to(manager) == []
    assert Reminder.objects.get(escalated=True).state == "overtaken"


def test_a_manager_who_was_reminded_in_the_first_place_is_not_told_again(
    new_licence: Callable[..., Licence], manager: Person
) -> None:
    new_licence(responsible=None)
    for day in ("2026-11-01", "2026-11-08", "2026-11-09"):
        reminders.remind(at(day))
    assert len(mails_to(manager)) == 1


class TestPuttingOff:
    def put_off(self, row: Reminder, until: str, person: Person) -> Reminder:
        return reminders.put_off(
            row, dt.date.fromisoformat(until), "Waiting for the owner.", author=Author.of(person),
            now=at("2026-11-02"),
        )  # fmt: skip

    def test_it_is_sent_again_on_its_day_once_and_as_another_mail(
        self, sent: Reminder, mira: Person, manager: Person
    ) -> None:
        self.put_off(sent, "2026-11-12", mira)
        for day in ("2026-11-09", "2026-11-11", "2026-11-12", "2026-11-13"):
            reminders.remind(at(day))
        first, again = (m for m in mail.outbox if m.to == [mira.email])
        assert first.extra_headers["Message-ID"] != again.extra_headers["Message-ID"]
        sent.refresh_from_db()
        assert str(sent.sent_at) == "2026-11-12 09:00:00+00:00"
        assert mails_to(manager) == []
        reminders.remind(at("2026-11-19"))
        assert len(mails_to(manager)) == 1

    def test_a_later_step_comes_all_the_same(self, sent: Reminder, mira: Person) -> None:
        self.put_off(sent, "2026-11-28", mira)
        for day in ("2026-11-24", "2026-11-28", "2026-11-29"):
            reminders.remind(at(day))
        assert len(mails_to(mira)) == 2
        sent.refresh_from_db()
        assert sent.state == "overtaken"

    def test_the_reason_is_in_the_change_record(self, sent: Reminder, mira: Person) -> None:
        self.put_off(sent, "2026-11-12", mira)
        entry = ChangeRecord.objects.filter(object_type="licences.licence", object_id=sent.licence_id)[0]
        assert (entry.by_name, entry.reason) == ("Mira Holt", "Waiting for the owner.")
        assert entry.changes == {
            "reminder 30 days before the last filing day (2026-12-31)": ["sent", "put off until 2026-11-12"]
        }

    @pytest.mark.parametrize("until", ["2026-11-02", "2026-10-01", "2026-12-02"])
    def test_a_day_that_is_not_ahead_or_too_late_is_refused(
        self, sent: Reminder, mira: Person, until: str
    ) -> None:
        with pytest.raises(RegisterError, match=r"after today \(2026-11-02\) and not after 2026-12-01"):
            self.put_off(sent, until, mira)

    def test_what_is_acknowledged_cannot_be_put_off(self, sent: Reminder, mira: Person) -> None:
        reminders.acknowledge(sent, by=mira, author=Author.of(mira), now=at("2026-11-02"))
        with pytest.raises(RegisterError, match="acknowledged by Mira Holt already"):
            self.put_off(sent, "2026-11-12", mira)

    def test_a_second_acknowledgement_changes_nothing(
        self, sent: Reminder, mira: Person, manager: Person
    ) -> None:
        for person in (mira, manager):
            reminders.acknowledge(sent, by=person, author=Author.of(person), now=at("2026-11-02"))
        sent.refresh_from_db()
        assert sent.acknowledged_by == mira
        assert (
            ChangeRecord.objects.filter(
                changes__has_key="reminder 30 days before the last filing day (2026-12-31)"
            ).count()
            == 1
        )
