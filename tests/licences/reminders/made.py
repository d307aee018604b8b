"""What the tests of reminders share: days, how the rows stand, a stand-in for the mail server."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from django.core.mail import EmailMessage

from licences.models import Reminder
from sites.services.record import Author

BY = Author.system("test")
EXPIRES = dt.date(2026, 12, 31)
# Window opens 2026-10-02; last filing day 2026-12-01; steps 2026-11-01 and 2026-11-24; expired 2027-01-01.
POLICY = {"window_opens_days": 90, "last_filing_days": 30, "reminder_steps_days": [30, 7]}


def at(day: str, clock: str = "09:00") -> dt.datetime:
    return dt.datetime.fromisoformat(f"{day}T{clock}:00+00:00")


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
