"""What a worker of these tests has that no other has: a clock that stands where a file says, and their mail server."""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path

from django.conf import settings
from django.utils import timezone


def move_in(clock: Path, mail_port: int) -> None:
    """Take the clock's file for the time, and the mail server of the test for ours."""
    timezone.now = lambda: dt.datetime.fromisoformat(clock.read_text())
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST = "127.0.0.1"
    settings.EMAIL_PORT = mail_port
    settings.EMAIL_TIMEOUT = 60


if "TEST_CLOCK" in os.environ:
    move_in(Path(os.environ["TEST_CLOCK"]), int(os.environ["TEST_MAIL_PORT"]))
