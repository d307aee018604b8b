"""Reminders: each step once per licence and person, one mail per day, later when the mail server is away.

The authorities, holders and people are invented; the days were counted with a calendar.
"""

from __future__ import annotations

import datetime as dt
import smtplib
import threading
from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.core import mail
from django.core.mail import EmailMessage
from django.db import connections

from licences.models import Authority, Holder, Licence, Reminder, RenewalPolicy
from licences.services import reminders
from sites.models import Job, Person
from sites.services import jobs, record
from sites.services.record import Author

pytestmark = pytest.mark.django_db(transaction=True)
BY = Author.system("test")
EXPIRES = dt.date(2026, 12, 31)
# Window opens 2026-10-02; last filing day 2026-12-01; steps 2026-11-01 and 2026-11-24; expired 2027-01-01.
POLICY = {"window_opens_days": 90, "last_filing_days": 30, "reminder_steps_days": [30, 7]}


def at(day: str, clock: str = "09:00") -> dt.datetime:
    return dt.datetime.fromisoformat(f"{day}T{clock}:00+00:00")


@pytest.fixture
def mira() -> Person:
    return Person.objects.create_user("mira", "mira@tarn.example", first_name="Mira", last_name="Holt")


@pytest.fixture
def manager() -> Person:
    person = Person.objects.create_user("odd", "odd@tarn.example", first_name="Odd", last_name="Berg")
    person.groups.add(Group.objects.get_or_create(name="manager")[0])
    return person


@pytest.fixture
def authority() -> Authority:
    authority = record.create(Authority(code="SPA", name="Spectrum Authority"), by=BY)
    record.create(RenewalPolicy(authority=authority, **POLICY), by=BY)
    return authority


@pytest.fixture
def ours() -> Holder:
    return record.create(Holder(name="Tarn Valley Power", own=True), by=BY)


@pytest.fixture
def new_licence(authority: Authority, ours: Holder, mira: Person) -> Callable[..., Licence]:
    def new_licence(number: str = "4711", **fields: Any) -> Licence:
        values: dict[str, Any] = {
            "authority": authority,
            "holder": ours,
            "responsible": mira,
            "granted_on": dt.date(2020, 1, 1),
            "in_force_from": dt.date(2020, 1, 1),
            "expires_on": EXPIRES,
            **fields,
        }
        return record.create(Licence(number=number, **values), by=BY)

    return new_licence


def sent_steps() -> list[tuple[str, int]]:
    rows = Reminder.objects.filter(state="sent").order_by("due_on")
    return [(row.step, row.days_before) for row in rows]


def states() -> dict[tuple[str, int], str]:
    return {(row.step, row.days_before): row.state for row in Reminder.objects.all()}


class Server:
    """Takes the place of the mail server: answers, refuses, is away, or ends the process."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.accepted: list[EmailMessage] = []
        self.error: BaseException | None = None
        self.error_after: BaseException | None = None
        monkeypatch.setattr(EmailMessage, "send", self._send_with(self))

    @staticmethod
    def _send_with(server: Server) -> Callable[..., int]:
        def send(message: EmailMessage, fail_silently: bool = False) -> int:
            if server.error is not None:
                raise server.error
            server.accepted.append(message)
            if server.error_after is not None:
                raise server.error_after
            return 1

        return send


class PowerCut(BaseException):
    """The process ends: nothing after it runs that catches ordinary errors."""


@pytest.fixture
def server(monkeypatch: pytest.MonkeyPatch) -> Server:
    return Server(monkeypatch)


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
            ("expired", 0),
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
        reminders.remind(at("2027-02-01"))
        assert mail.outbox == []
        assert set(states().values()) == {"overtaken"}

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
        assert sent.expires_on == dt.date(2027, 12, 31)

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
        mira.time_zone = time_zone
        record.change(mira, by=BY)
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


class TestWhenTheMailServerIsAway:
    def test_later_and_not_never(self, new_licence: Callable[..., Licence], server: Server) -> None:
        new_licence()
        server.error = ConnectionRefusedError("connection refused")
        outcome = reminders.remind(at("2026-11-24", "07:15"))
        assert outcome.failed == {"Mira Holt": "ConnectionRefusedError: connection refused"}
        row = Reminder.objects.get(step="before_last_day", days_before=7)
        assert (row.state, row.claimed_until, row.attempts) == ("waiting", None, 1)
        assert row.last_error == "ConnectionRefusedError: connection refused"
        server.error = None
        assert reminders.remind(at("2026-11-24", "08:15")).mails == 1
        row.refresh_from_db()
        assert (row.state, row.attempts, row.last_error) == ("sent", 2, "")
        assert len(server.accepted) == 1

    def test_nobody_else_is_tried_on_a_server_that_is_away(
        self, new_licence: Callable[..., Licence], server: Server, manager: Person
    ) -> None:
        new_licence("100")
        new_licence("101", responsible=manager)
        server.error = TimeoutError("timed out")
        assert len(reminders.remind(at("2026-11-24")).failed) == 1
        assert Reminder.objects.filter(state="waiting").count() == 2

    def test_an_address_that_is_refused_does_not_stop_the_others(
        self, new_licence: Callable[..., Licence], manager: Person, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        new_licence("100")
        new_licence("101", responsible=manager)
        accepted: list[EmailMessage] = []

        def send(message: EmailMessage, fail_silently: bool = False) -> int:
            if message.to == ["mira@tarn.example"]:
                raise smtplib.SMTPRecipientsRefused({"mira@tarn.example": (550, b"no such mailbox")})
            accepted.append(message)
            return 1

        monkeypatch.setattr(EmailMessage, "send", send)
        outcome = reminders.remind(at("2026-11-24"))
        assert list(outcome.failed) == ["Mira Holt"]
        assert [m.to for m in accepted] == [["odd@tarn.example"]]

    def test_the_job_says_so(self, new_licence: Callable[..., Licence], server: Server) -> None:
        new_licence(expires_on=dt.date(2021, 1, 1), responsible=None)
        job = jobs.submit("send_reminders", {})
        job.refresh_from_db()
        assert job.state == Job.State.DONE
        assert job.result["nobody_for"] == ["SPA 4711"]


class TestWhenTheSenderDies:
    def test_between_claim_and_sending_the_claim_runs_out(
        self, new_licence: Callable[..., Licence], server: Server
    ) -> None:
        new_licence()
        server.error = PowerCut()
        with pytest.raises(PowerCut):
            reminders.remind(at("2026-11-24", "07:00"))
        server.error = None
        assert reminders.remind(at("2026-11-24", "07:09")).mails == 0
        assert reminders.remind(at("2026-11-24", "07:11")).mails == 1
        assert Reminder.objects.get(state="sent").attempts == 2

    def test_between_sending_and_marking_the_same_mail_is_recognised(
        self, new_licence: Callable[..., Licence], server: Server
    ) -> None:
        new_licence("100")
        new_licence("101")
        server.error_after = PowerCut()
        with pytest.raises(PowerCut):
            reminders.remind(at("2026-11-24", "07:00"))
        server.error_after = None
        new_licence("102")  # is not mixed into the mail that is repeated
        reminders.remind(at("2026-11-24", "08:15"))
        reminders.remind(at("2026-11-25", "08:15"))
        first, again, next_day = (m.extra_headers["Message-ID"] for m in server.accepted)
        assert first == again != next_day
        assert server.accepted[0].body == server.accepted[1].body
        assert Reminder.objects.filter(state="sent").count() == 3

    def test_what_was_overtaken_meanwhile_is_not_sent_again(
        self, new_licence: Callable[..., Licence], server: Server
    ) -> None:
        licence = new_licence()
        server.error_after = PowerCut()
        with pytest.raises(PowerCut):
            reminders.remind(at("2026-11-24", "07:00"))
        server.error_after = None
        licence.renewal_filed_on = dt.date(2026, 11, 24)
        record.change(licence, by=BY)
        reminders.remind(at("2026-11-25"))
        assert len(server.accepted) == 1

    def test_a_sender_that_was_slow_does_not_mark_what_another_took_over(
        self, new_licence: Callable[..., Licence], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        new_licence()
        sent: list[str] = []

        def send(message: EmailMessage, fail_silently: bool = False) -> int:
            sent.append(str(message.extra_headers["Message-ID"]))
            if len(sent) == 1:
                reminders.send_due(at("2026-11-24", "07:30"))  # this mail took longer than its claim
            return 1

        monkeypatch.setattr(EmailMessage, "send", send)
        reminders.remind(at("2026-11-24", "07:00"))
        assert len(set(sent)) == 1
        assert Reminder.objects.get(state="sent").sent_at == at("2026-11-24", "07:30")
