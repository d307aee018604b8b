"""The servers that the tests start when none is running: real ones, unprivileged, gone at the end."""

from __future__ import annotations

import os
import shutil
from contextlib import ExitStack

import psycopg
import pytest
from redis import Redis

from deploy.bootstrap import servers
from deploy.bootstrap.running import StepError


def test_a_postgresql_of_our_own_lets_databases_be_made() -> None:
    programs = servers.postgresql_programs()
    if programs is None:
        pytest.skip("needs PostgreSQL's programs: install the package postgresql")
    with ExitStack() as started:
        url = servers.start_postgresql(programs, started)
        with psycopg.connect(url.replace("/register", "/postgres"), autocommit=True) as link:
            link.execute("create database register encoding 'UTF8'")
            [folder] = link.execute("show data_directory").fetchone() or [""]
        assert os.path.isdir(folder)  # noqa: PTH112
    assert not os.path.exists(folder)  # noqa: PTH110
    with pytest.raises(psycopg.OperationalError):
        psycopg.connect(url, connect_timeout=2)


def test_a_redis_of_our_own_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    program = shutil.which("redis-server")
    if program is None:
        pytest.skip("needs redis-server: install the package redis-server")
    with ExitStack() as started:
        url = servers.start_redis(program, started)
        with Redis.from_url(url) as client:
            assert client.ping()
        monkeypatch.setenv("REDIS_URL", url)
        assert servers.find_redis() == url
    assert servers.find_redis() == ""


def test_a_named_server_that_does_not_answer_is_not_replaced(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("REDIS_URL", "redis://127.0.0.1:1/0")
    monkeypatch.setenv("DATABASE_URL", "postgres://nobody@127.0.0.1:1/register")
    with servers.for_tests() as found:
        assert (found.redis_url, found.database_url) == ("", "")
        assert any("redis://127.0.0.1:1/0 does not answer" in line for line in found.missing)
        assert any(line.startswith("PostgreSQL: connection failed") for line in found.missing)
        assert all("To mend it: " in line for line in found.missing)


def test_a_program_that_ends_at_once_is_reported_with_what_it_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(servers, "START_SECONDS", 1)
    with ExitStack() as started, pytest.raises(StepError, match=r"(?s)usage|ls|such file|unrecognized"):
        servers.start_redis(shutil.which("ls") or "ls", started)
