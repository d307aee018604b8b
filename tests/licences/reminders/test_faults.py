"""A mail server that refuses and a sender that dies: later, never lost, and recognised when repeated."""

from __future__ import annotations

import datetime as dt
import smtplib
from collections.abc import Callable

import pytest
from django.core.mail import EmailMessage

from licences.models import Licence, Reminder
from licences.services import reminders
from sites.models import Job, Person
from sites.services import jobs, record
from tests.licences.reminders.made import BY, PowerCut, Server, at

pytestmark = pytest.mark.django_db(transaction=True)


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
