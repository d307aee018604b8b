"""Every reminder once, late at worst: real Redis, workers, schedulers, and a mail server that answers over a socket.

The days pass by a clock that the worker reads from a file; nothing sleeps for days.
"""

from __future__ import annotations

import datetime as dt
import os
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from deploy.bootstrap.running import ROOT
from licences.models import Licence, Reminder, ReminderSettings
from sites.models import Job, Person
from sites.services import record
from tests.conftest import Worker, _database_url
from tests.licences.reminders.made import BY, EXPIRES
from tests.licences.reminders.mail_server import MailServer

pytestmark = [pytest.mark.redis, pytest.mark.django_db(transaction=True)]
PATIENCE_S = 90
LEASE_S = 2.0
TICK = "sites.tasks.tick"


@dataclass
class Surroundings:
    """The clock of the workers, the mail server, and how to start a scheduler."""

    clock: Path
    mail: MailServer
    schedulers: list[tuple[subprocess.Popen[bytes], Path]]
    folder: Path
    environment: dict[str, str]

    def set_clock(self, at: str) -> None:
        """Written beside and moved into place, so that nobody reads half of it."""
        beside = self.clock.with_suffix(".new")
        beside.write_text(f"{at}:00+00:00")
        beside.replace(self.clock)

    def start_scheduler(self) -> None:
        number = len(self.schedulers) + 1
        log = self.folder / f"scheduler-{number}.log"
        command = [sys.executable, "-m", "celery", "--app", "deploy.celery", "beat", "--loglevel", "INFO"]
        files = ["--schedule", str(self.folder / f"scheduler-{number}"), "--pidfile", ""]
        with log.open("wb") as output:
            process = subprocess.Popen(
                [*command, *files], cwd=ROOT, env=self.environment, stdout=output, stderr=subprocess.STDOUT
            )
        self.schedulers.append((process, log))

    def stop_scheduler(self, number: int) -> None:
        process, _ = self.schedulers[number - 1]
        if process.poll() is None:
            process.send_signal(signal.SIGKILL)
        process.wait()

    def ticks(self, number: int) -> int:
        return self.schedulers[number - 1][1].read_text(errors="replace").count(TICK)

    def more_ticks(self, number: int, count: int = 3) -> None:
        """Wait until a scheduler has asked several times more."""
        until = self.ticks(number) + count
        wait_for(lambda: self.ticks(number) >= until)


@pytest.fixture
def around(
    redis_url: str, settings: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Surroundings]:
    settings.JOBS_LEASE_S = LEASE_S
    mail = MailServer()
    own = {
        "TEST_CLOCK": str(tmp_path / "clock"),
        "TEST_MAIL_PORT": str(mail.port),
        "JOBS_LEASE_S": str(LEASE_S),
        "JOBS_TICK_S": "1",
        "CELERY_IMPORTS": "tests.licences.reminders.in_worker",
    }
    for name, value in own.items():
        monkeypatch.setenv(name, value)
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "deploy.settings.test",
        "DATABASE_URL": _database_url(),
        "REDIS_URL": redis_url,
        "CELERY_KEY_PREFIX": settings.CELERY_BROKER_TRANSPORT_OPTIONS["global_keyprefix"],
        "JOBS_RUN": "worker",
        "LOG_LEVEL": "INFO",
    }
    surroundings = Surroundings(tmp_path / "clock", mail, [], tmp_path, environment)
    surroundings.set_clock("2026-11-24T00:20")
    yield surroundings
    for number in range(1, len(surroundings.schedulers) + 1):
        surroundings.stop_scheduler(number)
    mail.stop()


@pytest.fixture
def workers(around: Surroundings, start_worker: Callable[[], Worker]) -> Callable[[], Worker]:
    return start_worker


@pytest.fixture
def people(new_licence: Callable[..., Licence]) -> list[Person]:
    """Five people, each responsible for one licence of which 2026-11-24 is a day to be reminded."""
    made = []
    for number in range(1, 6):
        person = Person.objects.create_user(f"p{number}", f"p{number}@tarn.example")
        early(person)
        new_licence(f"L-{number}", responsible=person)
        made.append(person)
    return made


def early(person: Person) -> None:
    """Mail from midnight on, so that the first run of the day (00:15) sends it and no other daily job is due."""
    record.create(ReminderSettings(person=person, hour=0), by=BY)


def wait_for(question: Callable[[], bool]) -> None:
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        if question():
            return
        time.sleep(0.2)
    jobs = list(Job.objects.values("kind", "state", "attempts", "error", "same_as"))
    rows = list(Reminder.objects.values_list("licence__number", "step", "days_before", "state", "attempts"))
    raise AssertionError(f"not within {PATIENCE_S} s: {jobs} {rows}")


def all_sent(count: int) -> Callable[[], bool]:
    return lambda: Reminder.objects.filter(state="sent").count() == count


def told(mail: MailServer) -> list[tuple[str, list[str]]]:
    """Of each mail that the server accepted, to whom, and of which licences."""
    found = []
    for message in list(mail.accepted):
        part = message.get_body(("plain",))
        assert part is not None
        lines = part.get_content().splitlines()
        found.append((str(message["To"]), [line.split(",")[0] for line in lines if ", held by " in line]))
    return found


def test_a_scheduler_that_was_off_for_three_days(
    around: Surroundings, workers: Callable[[], Worker], new_licence: Callable[..., Licence], mira: Person
) -> None:
    """On the 24th A has its step; B has its on the 25th, C on the 26th, when nothing runs."""
    early(mira)
    for number, days in (("A", 0), ("B", 1), ("C", 2)):
        new_licence(number, expires_on=EXPIRES + dt.timedelta(days=days))
    workers()
    around.start_scheduler()
    wait_for(all_sent(3))
    around.stop_scheduler(1)
    around.set_clock("2026-11-27T00:20")
    around.start_scheduler()
    wait_for(all_sent(5))
    around.more_ticks(2)
    assert told(around.mail) == [(mira.email, ["SPA A", "SPA B", "SPA C"]), (mira.email, ["SPA B", "SPA C"])]
    sent = Reminder.objects.filter(state="sent")
    assert Counter(sent.values_list("licence__number", "days_before")) == {
        ("A", 7): 1, ("B", 30): 1, ("C", 30): 1, ("B", 7): 1, ("C", 7): 1,
    }  # fmt: skip
    assert set(sent.values_list("attempts", flat=True)) == {1}
    late = sent.get(licence__number="B", days_before=7)
    assert (late.due_on, str(late.sent_at)) == (dt.date(2026, 11, 25), "2026-11-27 00:20:00+00:00")


def test_two_schedulers_and_two_workers_at_once(
    around: Surroundings, workers: Callable[[], Worker], people: list[Person]
) -> None:
    workers()
    workers()
    around.start_scheduler()
    around.start_scheduler()
    wait_for(all_sent(len(people)))
    for number in (1, 2):
        around.more_ticks(number)
    assert sorted(to for to, _ in told(around.mail)) == [person.email for person in people]
    assert set(Reminder.objects.filter(state="sent").values_list("attempts", flat=True)) == {1}
    assert Job.objects.filter(kind="send_reminders").count() == 1


def test_a_worker_killed_when_the_mail_server_had_taken_a_mail_and_not_said_so(
    around: Surroundings, workers: Callable[[], Worker], people: list[Person]
) -> None:
    """The worst moment: the third mail is with the server and not marked. It is repeated with its own Message-ID."""
    around.mail.silent_after = 3
    worker = workers()
    around.start_scheduler()
    assert around.mail.holding.wait(PATIENCE_S)
    worker.kill()
    around.mail.release.set()
    assert Reminder.objects.filter(state="sent").count() == 2
    assert Reminder.objects.filter(state="sending").count() == 1
    around.set_clock("2026-11-24T00:40")  # its claim has run out
    workers()
    wait_for(all_sent(len(people)))
    around.more_ticks(1)
    mails = Counter((str(message["To"]), str(message["Message-ID"])) for message in around.mail.accepted)
    assert sorted(to for to, _ in mails) == [person.email for person in people]
    assert sorted(mails.values()) == [1, 1, 1, 1, 2]
    first, again = (m for m in around.mail.accepted if mails[str(m["To"]), str(m["Message-ID"])] == 2)
    assert first.get_body(("plain",)).get_content() == again.get_body(("plain",)).get_content()  # type: ignore[union-attr]
    assert Job.objects.get(kind="send_reminders").attempts == 2


@pytest.mark.parametrize("refuse", ["connection", "message"])
def test_a_mail_server_that_refuses_and_then_accepts(
    around: Surroundings, workers: Callable[[], Worker], people: list[Person], refuse: str
) -> None:
    around.mail.refuse = refuse
    workers()
    around.start_scheduler()
    wait_for(lambda: Job.objects.filter(kind="send_reminders", state="failed").exists())
    assert around.mail.refused > 0
    assert around.mail.accepted == []
    assert Reminder.objects.filter(state="waiting").count() == len(people)
    job = Job.objects.get(kind="send_reminders")
    assert "Not sent, to be tried again in the next hour" in job.error
    assert ("421" if refuse == "connection" else "451") in job.error
    around.mail.refuse = ""
    around.set_clock("2026-11-24T01:20")
    wait_for(all_sent(len(people)))
    around.more_ticks(1)
    assert sorted(to for to, _ in told(around.mail)) == [person.email for person in people]
