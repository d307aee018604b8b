"""PostgreSQL is restarted at once, as by a fault, in the middle of a check of the network: a server of our own."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest

from deploy.bootstrap import servers
from deploy.bootstrap.running import ROOT
from tests.made import TODAY

PATIENCE_S = 240
SHARDS = 4
BEGIN = """
import datetime as dt, json, sys
import django
django.setup()
from django.db import transaction
from spectrum.models import Check, Finding, NetworkRun, Shard
from spectrum.services.network_run import check_network
DAY, SHARDS = dt.date.fromisoformat(sys.argv[1]), int(sys.argv[2])

def said():
    found = list(Finding.objects.order_by("identity").values_list("identity", "headline"))
    runs = list(NetworkRun.objects.order_by("started_at").values_list("state", "error", "digest"))
    done = Shard.objects.filter(done_at__isnull=False).count()
    attempts = sum(Shard.objects.values_list("attempts", flat=True))
    print(json.dumps([found, runs, done, Shard.objects.count(), attempts, Check.objects.count()]))
"""
ENTER = """
from django.core.management import call_command
call_command("migrate", verbosity=0)
from tests.made import Register, site
register = Register()
for n in range(8):
    register.link(f"L-{n}", site(f"S{n}A", 47.0 + n / 20), site(f"S{n}B", 47.2 + n / 20))
check_network(as_of=DAY, shards=SHARDS)
said()
Finding.objects.all().delete()
NetworkRun.objects.all().delete()
Check.objects.all().delete()
"""
CHECK_SLOWLY = """
from tests.spectrum.network_run import slow_shards
check_network(as_of=DAY, shards=SHARDS)
"""
CARRY_ON = "check_network(as_of=DAY, shards=SHARDS)\nsaid()\n"


class Server:
    """A cluster in a folder of its own, run by an unprivileged user."""

    def __init__(self, programs: Path, started: ExitStack) -> None:
        self.programs = programs
        self.folder = Path(started.enter_context(tempfile.TemporaryDirectory(ignore_cleanup_errors=True)))
        self.user: str | None = None
        if os.geteuid() == 0:
            self.user = "postgres"
            import shutil

            shutil.chown(self.folder, self.user)
        with socket.socket() as probe:
            probe.bind((servers.LOCAL, 0))
            self.port: int = probe.getsockname()[1]
        self.url = f"postgres://postgres@{servers.LOCAL}:{self.port}/postgres"

    def run(self, program: str, *arguments: str) -> None:
        log = self.folder / "said.log"
        with log.open("ab") as output:
            done = subprocess.run(
                [str(self.programs / program), "-D", str(self.folder / "data"), *arguments],
                user=self.user, cwd=self.folder, stdout=output, stderr=output, timeout=PATIENCE_S, check=False,
            )  # fmt: skip
        assert done.returncode == 0, log.read_text(errors="replace")

    def start(self) -> None:
        self.run("initdb", "-U", "postgres", "-A", "trust", "--no-sync", "-E", "UTF8", "--locale=C")
        options = f"-h {servers.LOCAL} -p {self.port} -k {self.folder}"
        self.run("pg_ctl", "-w", "-o", options, "-l", str(self.folder / "server.log"), "start")

    def restart_at_once(self) -> None:
        """Every process of the server is ended without a word to its clients; then it recovers from its log."""
        self.run("pg_ctl", "-w", "-m", "immediate", "restart")


@pytest.fixture
def server() -> Iterator[Server]:
    programs = servers.postgresql_programs()
    if programs is None or not (programs / "pg_ctl").exists():
        pytest.skip("needs the programs of PostgreSQL (initdb, pg_ctl): install the package postgresql")
    with ExitStack() as started:
        own = Server(programs, started)
        own.start()
        started.callback(own.run, "pg_ctl", "-m", "immediate", "stop")
        yield own


def process(server: Server, folder: Path, script: str) -> subprocess.Popen[str]:
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "deploy.settings.test",
        "DATABASE_URL": server.url,
        "VAR_DIR": str(folder),
        "JOBS_RUN": "inline",
        "JOBS_LEASE_S": "3",
    }
    return subprocess.Popen(
        [sys.executable, "-c", BEGIN + script, TODAY.isoformat(), str(SHARDS)],
        cwd=ROOT, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def answer(server: Server, folder: Path, script: str) -> list[Any]:
    one = process(server, folder, script)
    output, errors = one.communicate(timeout=PATIENCE_S)
    assert one.returncode == 0, errors
    said: list[Any] = json.loads(output.splitlines()[-1])
    return said


def shards_done(server: Server) -> int:
    import psycopg

    with psycopg.connect(server.url) as session:
        row = session.execute("SELECT count(*) FROM spectrum_shard WHERE done_at IS NOT NULL").fetchone()
    return int(row[0]) if row else 0


def test_a_restart_of_the_server_leaves_nothing_half_true_and_the_check_is_carried_on(
    server: Server, tmp_path: Path
) -> None:
    expected, _, _, total, _, _ = answer(server, tmp_path, ENTER)
    assert len(expected) > 20
    checking = process(server, tmp_path, CHECK_SLOWLY)
    end = time.monotonic() + PATIENCE_S
    while shards_done(server) < 3:
        assert time.monotonic() < end, "no shard was done"
        assert checking.poll() is None, checking.communicate()[1]
        time.sleep(0.1)
    server.restart_at_once()
    _, errors = checking.communicate(timeout=PATIENCE_S)
    assert checking.returncode != 0, "the restart came in the middle and was felt"
    assert "OperationalError" in errors or "InterfaceError" in errors, errors

    found, runs, done, shards, _, checks = answer(server, tmp_path, "said()")
    assert (found, checks) == ([], 0), "nothing is stored before the end"
    assert [state for state, _, _ in runs] == ["running"]
    assert 3 <= done < shards == total

    found, runs, done, shards, attempts, checks = answer(server, tmp_path, CARRY_ON)
    assert found == expected
    assert [(state, error) for state, error, _ in runs] == [("done", "")]
    assert (done, shards, checks) == (total, total, 1)
    assert attempts <= total + 1, "what was done before the restart was not done again"
