"""`make demo` as a person runs it: summary, second run that keeps what was entered, pages, an orderly end."""

from __future__ import annotations

import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from deploy.bootstrap import demo
from deploy.bootstrap.running import ROOT

COMMAND = [sys.executable, "deploy/bootstrap", "demo"]
ENTERED = "Named by a person"
PATIENCE_S = 180


def environment(folder: Path, **settings: str) -> dict[str, str]:
    names = ("PATH", "HOME", "LANG")
    return {
        **{name: os.environ[name] for name in names if name in os.environ},
        "VAR_DIR": str(folder),
        **settings,
    }


def run_without_serving(folder: Path) -> str:
    done = subprocess.run(
        COMMAND,
        cwd=ROOT,
        env=environment(folder, SERVE="0"),
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def first_run(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    folder = tmp_path_factory.mktemp("demo")
    return folder, run_without_serving(folder)


def test_the_summary_says_how_many_of_each_kind_and_the_worst_three(first_run: tuple[Path, str]) -> None:
    _, output = first_run
    assert re.search(r"Checked as of \d{4}-\d\d-\d\d: \d{3,} live links", output), output
    assert len(re.findall(r"^ +\d+  \w", output, re.MULTILINE)) > 10  # kinds of findings
    assert len(re.findall(r"^  [123]\. .*margin −\d+\.\d dB", output, re.MULTILINE)) == 3


def test_a_second_run_keeps_what_a_person_entered(first_run: tuple[Path, str]) -> None:
    folder, first = first_run
    database = sqlite3.connect(folder / "register.sqlite3")
    sizes = "select count(*) from places_site"
    before = database.execute(sizes).fetchone()
    database.execute(
        "update places_site set name = ? where id = (select min(id) from places_site)", [ENTERED]
    )
    database.commit()
    second = run_without_serving(folder)
    assert database.execute(sizes).fetchone() == before
    assert database.execute("select count(*) from places_site where name = ?", [ENTERED]).fetchone() == (1,)
    database.close()
    kinds = re.compile(r"^ +\d+  \w.*$", re.MULTILINE)
    assert kinds.findall(second) == kinds.findall(first)


@pytest.fixture
def busy_port() -> Iterator[int]:
    with socket.socket() as busy:
        busy.bind((demo.HOST, 0))
        busy.listen()
        yield busy.getsockname()[1]


def test_it_serves_on_the_next_free_port_and_ends_when_asked(
    first_run: tuple[Path, str], busy_port: int, tmp_path: Path
) -> None:
    folder, _ = first_run
    log = tmp_path / "output"
    with log.open("wb") as output:
        server = subprocess.Popen(
            COMMAND, cwd=ROOT, env=environment(folder, PORT=str(busy_port)), stdout=output, stderr=output
        )
    try:
        end = time.monotonic() + PATIENCE_S
        while not (told := re.search(r"The register is at http://localhost:(\d+)/", log.read_text())):
            assert server.poll() is None, log.read_text()
            assert time.monotonic() < end, log.read_text()
            time.sleep(0.2)
        port = int(told[1])
        assert f"Port {busy_port} is taken; port {port} is used instead" in log.read_text()
        with urllib.request.urlopen(f"http://localhost:{port}/", timeout=30) as page:
            assert page.status == 200
            assert page.url.startswith(f"http://localhost:{port}/sign-in/")
    finally:
        server.send_signal(signal.SIGTERM)
        assert server.wait(timeout=60) == 0, log.read_text()
    with pytest.raises(OSError, match="refused"):
        socket.create_connection((demo.HOST, port), timeout=5)
