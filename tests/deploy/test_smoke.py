"""The real thing, small: production settings, migrations, collected files, gunicorn, the sign-in page."""

from __future__ import annotations

import http.client
import os
import re
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from deploy.bootstrap.linting import PRODUCTION_EXAMPLE
from deploy.bootstrap.running import ROOT

START_S = 60
HOST = "register.example"


@dataclass
class Installation:
    """A gunicorn with production settings on an SQLite file, without a broker."""

    port: int
    database: Path
    log: Path

    def get(self, path: str, **headers: str) -> tuple[http.client.HTTPResponse, bytes]:
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        try:
            link.request("GET", path, headers={"Host": HOST, **headers})
            answer = link.getresponse()
            return answer, answer.read()
        finally:
            link.close()

    def get_secure(self, path: str) -> tuple[http.client.HTTPResponse, bytes]:
        """As the server in front asks after it has taken off the encryption."""
        return self.get(path, **{"X-Forwarded-Proto": "https", "X-Forwarded-For": "192.0.2.7"})


def manage(environment: dict[str, str], *arguments: str) -> None:
    command = [sys.executable, "manage.py", *arguments]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.fixture(scope="module")
def installation(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Installation]:
    folder = tmp_path_factory.mktemp("installation")
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    here = Installation(port, folder / "register.sqlite3", folder / "web.log")
    environment = {
        "PATH": os.environ["PATH"],
        **PRODUCTION_EXAMPLE,
        "SECRET_KEY": "smoke " * 10,
        "DATABASE_URL": f"sqlite:///{here.database}",
        "CELERY_BROKER_URL": "",
        "VAR_DIR": str(folder),
        "BIND": f"127.0.0.1:{port}",
    }
    manage(environment, "migrate", "--no-input", "--verbosity=0")
    manage(environment, "collectstatic", "--no-input", "--verbosity=0")
    left_behind = "from sites.models import Job; Job.objects.create(kind='forget_ended_jobs')"
    manage(environment, "shell", "--verbosity=0", "--command", left_behind)
    command = [sys.executable, "-m", "gunicorn", "--config", "deploy/gunicorn.conf.py"]
    with here.log.open("wb") as log:
        server = subprocess.Popen(
            [*command, "deploy.wsgi:application"], cwd=ROOT, env=environment, stdout=log, stderr=log
        )
    try:
        wait_until_it_answers(here, server)
        yield here
    finally:
        server.terminate()
        server.wait(timeout=40)


def wait_until_it_answers(here: Installation, server: subprocess.Popen[bytes]) -> None:
    end = time.monotonic() + START_S
    while time.monotonic() < end and server.poll() is None:
        try:
            here.get("/")
        except OSError:
            time.sleep(0.1)
        else:
            return
    raise AssertionError(here.log.read_text())


def test_the_sign_in_page_answers_with_the_protections_of_the_settings(installation: Installation) -> None:
    answer, body = installation.get_secure("/sign-in/")
    assert answer.status == 200, installation.log.read_text()
    assert b'type="password"' in body
    policy = answer.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert answer.headers["Strict-Transport-Security"].startswith("max-age=31536000")
    assert answer.headers["X-Frame-Options"] == "DENY"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    cookies = answer.headers.get_all("Set-Cookie") or []
    assert cookies
    assert all("Secure" in cookie and "SameSite" in cookie for cookie in cookies)


def test_everything_the_page_asks_for_is_served_and_may_be_kept(installation: Installation) -> None:
    _, body = installation.get_secure("/sign-in/")
    asked = re.findall(r'(?:href|src)="(/static/[^"]+)"', body.decode())
    assert asked
    for path in asked:
        answer, _ = installation.get_secure(path)
        assert answer.status == 200, path
        assert "immutable" in answer.headers["Cache-Control"], path


def test_a_page_asked_for_in_the_clear_is_sent_to_https(installation: Installation) -> None:
    answer, _ = installation.get("/sign-in/")
    assert answer.status == 301
    assert answer.headers["Location"] == f"https://{HOST}/sign-in/"


def test_a_host_name_that_is_not_ours_is_refused(installation: Installation) -> None:
    answer, _ = installation.get("/sign-in/", Host="elsewhere.example")
    assert answer.status == 400


def test_who_is_not_signed_in_is_sent_to_the_sign_in_page(installation: Installation) -> None:
    answer, _ = installation.get_secure("/")
    assert answer.status == 302
    assert answer.headers["Location"].startswith("/sign-in/")


def test_without_a_broker_the_web_process_does_a_job_that_was_left_behind(installation: Installation) -> None:
    end = time.monotonic() + START_S
    states: list[str] = []
    while time.monotonic() < end and states[:1] != ["done"]:
        with sqlite3.connect(f"file:{installation.database}?mode=ro", uri=True) as database:
            states = [
                state for (state,) in database.execute("select state from places_job order by asked_at")
            ]
        time.sleep(0.1)
    database.close()
    assert states[:1] == ["done"], installation.log.read_text()
