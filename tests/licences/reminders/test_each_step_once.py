"""Each step once per licence and person, whatever runs twice; and what still matters after days off."""

from __future__ import annotations

import datetime as dt
import threading
from collections.abc import Callable
from typing import Any

import pytest
from django.core import mail
from django.db import connections

from licences.life import Step, Taken
from licences.models import Authority, Holder, Licence, Reminder
from licences.services import reminders
from licences.services.life import take_step
from sites.services import record
from tests.licences.reminders.made import BY, at, sent_steps, states

pytestmark = pytest.mark.django_db(transaction=True)


class TestEachStepOnce:
    def test_a_licence_through_its_last_months_with_a_run_every_hour(
        self, new_licence: Callable[..., Licence]
    ) -> None:
        new_licence()
        sent_on: list[str] = []
        day = dt.date(2026, 9, 28)
        while day < dt.date(2027, 1, 12):
            for clock in ("00:15", "06:15", "07:15", "23:15"):
                if reminders.remind(at(str(day), clock)).mails:
                    sent_on.append(f"{day} {clock}")
            day += dt.timedelta(days=1)
        assert sent_on == ["2026-10-02 06:15", "2026-11-01 06:15", "2026-11-24 06:15", "2027-01-01 06:15"]
        assert sent_steps() == [
            ("window_opens", 0),
            ("before_last_day", 30),
            ("before_last_day", 7),
            ("expired", -1),
        ]
        assert len(mail.outbox) == 4

    def test_two_runs_at_once_send_one_mail(self, new_licence: Callable[..., Licence]) -> None:
        for number in range(5):
            new_licence(f"T-{number}")
        start, failures = threading.Barrier(4), []

        def run() -> None:
            try:
                start.wait()
                reminders.remind(at("2026-11-01"))
            except Exception as error:
                failures.append(error)
            finally:
                connections.close_all()

        threads = [threading.Thread(target=run) for _ in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert failures == []
        assert len(mail.outbox) == 1
        assert Reminder.objects.filter(state="sent", attempts=1).count() == 5

    def test_a_step_is_not_repeated_when_the_policy_moves_it(
        self, new_licence: Callable[..., Licence], authority: Authority
    ) -> None:
        new_licence()
        reminders.remind(at("2026-11-01"))
        policy = authority.renewal_policy
        policy.reminder_steps_days = [35, 7]
        record.change(policy, by=BY)
        reminders.remind(at("2026-11-03"))
        assert len(mail.outbox) == 1

    def test_a_clock_that_jumps_back_repeats_nothing(self, new_licence: Callable[..., Licence]) -> None:
        new_licence()
        reminders.remind(at("2026-11-24"))
        reminders.remind(at("2026-11-02"))
        assert sent_steps() == [("before_last_day", 7)]
        assert Reminder.objects.filter(state="waiting").count() == 0


class TestWhatStillMatters:
    def test_after_days_off_only_the_latest_step_goes_out(self, new_licence: Callable[..., Licence]) -> None:
        new_licence()
        reminders.plan(at("2026-10-02"))
        reminders.remind(at("2026-11-28"))
        assert states() == {
            ("window_opens", 0): "overtaken",
            ("before_last_day", 30): "overtaken",
            ("before_last_day", 7): "sent",
        }
        assert len(mail.outbox) == 1

    def test_a_filed_renewal_ends_what_is_open(self, new_licence: Callable[..., Licence]) -> None:
        licence = new_licence()
        reminders.plan(at("2026-11-24"))
        licence.renewal_filed_on = dt.date(2026, 11, 24)
        record.change(licence, by=BY)
        reminders.remind(at("2026-11-24"))
        reminders.remind(at("2026-12-31"))
        assert mail.outbox == []
        assert set(states().values()) == {"overtaken"}

    @pytest.mark.parametrize("continues", [False, True])
    def test_a_filed_renewal_that_is_undecided_after_the_expiry_is_told_until_it_is_decided(
        self, continues: bool, new_licence: Callable[..., Licence]
    ) -> None:
        own = "continues" if continues else "ends"
        licence = new_licence(renewal_filed_on=dt.date(2026, 11, 24), while_undecided=own)
        for _twice in range(2):
            reminders.remind(at("2027-01-01"))
        (letter,) = mail.outbox
        assert "filed on 2026-11-24, is not decided" in str(letter.body)
        assert ("stays in force until then" in str(letter.body)) is continues
        assert ("Nothing may be transmitted under it" in str(letter.body)) is not continues
        assert ("1 renewal is not decided" in letter.subject) is continues
        assert ("expired on" in letter.subject) is not continues
        if continues:
            taken = Taken(step=Step.REFUSE_RENEWAL, on=dt.date(2027, 1, 8))
            take_step(licence, taken, by=BY, today=dt.date(2027, 1, 8))
            reminders.remind(at("2027-03-01"))
            assert len(mail.outbox) == 1

    def test_a_filing_entered_by_mistake_brings_the_step_back(
        self, new_licence: Callable[..., Licence]
    ) -> None:
        licence = new_licence()
        reminders.plan(at("2026-11-24"))
        for filed in (dt.date(2026, 11, 24), None):
            licence.renewal_filed_on = filed
            record.change(licence, by=BY)
            reminders.plan(at("2026-11-24"))
        reminders.remind(at("2026-11-25"))
        assert sent_steps() == [("before_last_day", 7)]

    def test_a_new_expiry_starts_anew(self, new_licence: Callable[..., Licence]) -> None:
        licence = new_licence()
        reminders.plan(at("2026-11-24"))
        licence.expires_on = dt.date(2027, 12, 31)
        record.change(licence, by=BY)
        reminders.remind(at("2026-11-24"))
        assert mail.outbox == []
        reminders.remind(at("2027-11-24"))
        (sent,) = Reminder.objects.filter(state="sent")
        assert sent.about_on == dt.date(2027, 12, 31)

    @pytest.mark.parametrize(
        "fields",
        [
            {"ended_on": dt.date(2026, 6, 1)},
            {"in_force_from": dt.date(2026, 12, 30)},
            {"expires_on": None},
        ],
        ids=["ended", "not yet in force", "no fixed end"],
    )
    def test_no_reminder_of_a_licence_that_needs_none(
        self, new_licence: Callable[..., Licence], fields: dict[str, Any]
    ) -> None:
        new_licence(**fields)
        reminders.remind(at("2026-11-24"))
        assert not Reminder.objects.exists()

    def test_other_holders_mind_their_own_licences(self, new_licence: Callable[..., Licence]) -> None:
        new_licence(holder=record.create(Holder(name="Fell Water Works"), by=BY))
        reminders.remind(at("2026-11-24"))
        assert not Reminder.objects.exists()

    def test_an_authority_without_a_policy_is_treated_by_the_default(
        self, new_licence: Callable[..., Licence]
    ) -> None:
        new_licence(authority=record.create(Authority(code="RRB", name="Regional Radio Board"), by=BY))
        reminders.remind(at("2026-12-01"))  # default: last filing day is the day of expiry, 30 days ahead
        assert sent_steps() == [("before_last_day", 30)]
