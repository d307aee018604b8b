"""A check of the network outlives the death of a worker, of the broker and of the database: real processes."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.db import Error, connection, connections

from deploy.bootstrap.running import ROOT
from sites.models import Job
from spectrum.models import Check, Finding, NetworkRun, Shard
from spectrum.services.checks import check_network
from tests.conftest import Worker, _database_url
from tests.made import TODAY, Register, site
from tests.spectrum.network_run import slow_shards

pytestmark = pytest.mark.redis
PATIENCE_S = 90
LEASE_S = 3.0
SHARDS = 8
DO_ONE_ROUND = """
import django, sys
django.setup()
from sites.services import jobs
if sys.argv[1:]:
    jobs.submit("check_network", {"as_of": sys.argv[1]})
else:
    jobs.sweep()
"""


@pytest.fixture
def surroundings(monkeypatch: pytest.MonkeyPatch, settings: Any, tmp_path: Path) -> None:
    settings.JOBS_LEASE_S = LEASE_S
    settings.VAR_DIR = tmp_path
    monkeypatch.setenv("VAR_DIR", str(tmp_path))
    monkeypatch.setenv("JOBS_LEASE_S", str(LEASE_S))
    monkeypatch.setenv("CELERY_IMPORTS", slow_shards.__name__)


@pytest.fixture
def workers(surroundings: None, start_worker: Callable[[], Worker]) -> Callable[[], Worker]:
    return start_worker


@pytest.fixture
def expected(transactional_db: None, surroundings: None, settings: Any) -> list[tuple[Any, ...]]:
    """A network with findings, checked in this process, and forgotten again."""
    settings.JOBS_RUN = "inline"
    register = Register()
    for n in range(8):
        register.link(f"L-{n}", site(f"S{n}A", 47.0 + n / 20), site(f"S{n}B", 47.2 + n / 20))
    Job.objects.all().delete()
    check_network(as_of=TODAY, shards=SHARDS)
    found = stored()
    assert len(found) > 20
    Finding.objects.all().delete()
    Check.objects.all().delete()
    NetworkRun.objects.all().delete()
    return found


def stored() -> list[tuple[Any, ...]]:
    return list(Finding.objects.order_by("identity").values_list("identity", "headline", "gone_at"))


def planned() -> NetworkRun:
    """The run that the job will carry on: many shards of a small register."""
    from spectrum.services.network_run import plan

    return plan(TODAY, shards=SHARDS)


def wait_for(question: Callable[[], bool], *, sweep: Callable[[], object] | None = None) -> None:
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        try:
            if sweep is not None:
                sweep()
            if question():
                return
        except Error:
            connections.close_all()
        time.sleep(0.3)
    raise AssertionError(
        f"not within {PATIENCE_S} s: {list(Job.objects.values())} {list(Shard.objects.values('number', 'attempts', 'done_at'))}"
    )


def shards_done(at_least: int) -> Callable[[], bool]:
    return lambda: Shard.objects.filter(done_at__isnull=False).count() >= at_least


def is_done(job: Job) -> Callable[[], bool]:
    def question() -> bool:
        job.refresh_from_db()
        return job.state == "done"

    return question


@pytest.fixture
def own_redis(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[dict[str, Any]]:
    """A Redis of this test's own, to be killed and started again."""
    program = shutil.which("redis-server")
    if program is None:
        pytest.skip("needs the program redis-server: run `make test` as root, or install it")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server: dict[str, Any] = {"url": f"redis://127.0.0.1:{port}/0"}

    def start() -> None:
        server["process"] = subprocess.Popen(
            [program, "--port", str(port), "--bind", "127.0.0.1", "--save", "", "--dir", str(tmp_path)],
            stdout=subprocess.DEVNULL,
        )

    server["start"] = start
    start()
    yield server
    server["process"].kill()
    server["process"].wait()


@pytest.fixture
def redis_url(own_redis: dict[str, Any]) -> str:
    """Takes the place of the shared server for the workers of this module."""
    return str(own_redis["url"])


def test_a_worker_that_is_killed_costs_one_shard(
    own_redis: dict[str, Any], workers: Callable[[], Worker], expected: list[tuple[Any, ...]]
) -> None:
    run = planned()
    first = workers()
    round_of(own_redis, TODAY.isoformat())
    wait_for(shards_done(3))
    before = set(Shard.objects.filter(done_at__isnull=False).values_list("number", flat=True))
    first.kill()
    assert not Finding.objects.exists(), "nothing is stored before the end"
    workers()
    workers()
    job = Job.objects.get(kind="check_network")
    wait_for(is_done(job), sweep=lambda: round_of(own_redis))
    run.refresh_from_db()
    assert (run.state, job.attempts) == ("done", 2)
    assert stored() == expected
    attempts = dict(Shard.objects.values_list("number", "attempts"))
    assert all(attempts[number] == 1 for number in before)
    assert sum(attempts.values()) <= 3 * SHARDS + 1 + 2


def test_the_broker_is_restarted_during_the_check(
    own_redis: dict[str, Any], workers: Callable[[], Worker], expected: list[tuple[Any, ...]]
) -> None:
    planned()
    workers()
    round_of(own_redis, TODAY.isoformat())
    wait_for(shards_done(2))
    own_redis["process"].kill()
    own_redis["process"].wait()
    time.sleep(1.0)
    assert not Finding.objects.exists()
    own_redis["start"]()
    job = Job.objects.get(kind="check_network")
    wait_for(is_done(job), sweep=lambda: round_of(own_redis))
    assert stored() == expected


def round_of(server: dict[str, Any], *arguments: str) -> None:
    """Submit or sweep in a process that sends to this test's own Redis."""
    from django.conf import settings

    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "deploy.settings.test",
        "DATABASE_URL": _database_url(),
        "REDIS_URL": server["url"],
        "CELERY_KEY_PREFIX": settings.CELERY_BROKER_TRANSPORT_OPTIONS["global_keyprefix"],
        "JOBS_RUN": "worker",
    }
    done = subprocess.run(
        [sys.executable, "-c", DO_ONE_ROUND, *arguments],
        cwd=ROOT, env=environment, capture_output=True, text=True, timeout=PATIENCE_S, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr


@pytest.mark.postgres
def test_the_database_goes_away_during_the_check(
    own_redis: dict[str, Any], workers: Callable[[], Worker], expected: list[tuple[Any, ...]]
) -> None:
    """Every session is ended and none is let in for a while: what a restart of PostgreSQL does to its clients."""
    import psycopg

    planned()
    workers()
    round_of(own_redis, TODAY.isoformat())
    wait_for(shards_done(2))
    parts = connection.settings_dict
    name = parts["NAME"]
    connections.close_all()
    address = _database_url().rsplit("/", 1)[0] + "/postgres"
    with psycopg.connect(address, autocommit=True) as other:
        other.execute(f'ALTER DATABASE "{name}" ALLOW_CONNECTIONS false')
        other.execute("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s", [name])
        time.sleep(2.0)
        other.execute(f'ALTER DATABASE "{name}" ALLOW_CONNECTIONS true')
    job = Job.objects.get(kind="check_network")
    assert not Finding.objects.exists()
    wait_for(is_done(job), sweep=lambda: round_of(own_redis))
    assert stored() == expected
