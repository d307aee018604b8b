"""The check of one link from a database, on SQLite and, where DATABASE_URL names a server, on PostgreSQL.

DATABASE_SIZE (default 10000) is the number of links; 100000 takes some minutes to enter.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent.parent


def run() -> dict[str, Any]:
    """Measure; figures by name."""
    return on_each_database("measuring", int(os.environ.get("DATABASE_SIZE", "10000")))


def on_each_database(module: str, links: int) -> dict[str, Any]:
    """What a module of deploy.bench.registers measures on a new database of each kind; figures by database."""
    report: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as folder:
        address = f"sqlite:///{folder}/register.sqlite3"
        report[f"SQLite, {links:,} links"] = _measured(module, links, address, folder)
    server = os.environ.get("DATABASE_URL", "")
    if server.startswith("postgres"):
        with tempfile.TemporaryDirectory() as folder:
            report[f"PostgreSQL, {links:,} links"] = _on_server(module, links, server, folder)
    return report


def _on_server(module: str, links: int, server: str, folder: str) -> dict[str, Any]:
    import psycopg

    name = f"bench_{os.getpid()}"
    base = server.rsplit("/", 1)[0]
    with psycopg.connect(f"{base}/postgres", autocommit=True) as link:
        link.execute(f'CREATE DATABASE "{name}"')
        try:
            return _measured(module, links, f"{base}/{name}", folder)
        finally:
            link.execute(f'DROP DATABASE "{name}"')


def _measured(module: str, links: int, address: str, folder: str) -> dict[str, Any]:
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "deploy.settings.test",
        "DATABASE_URL": address,
        "VAR_DIR": folder,
    }
    environment["JOBS_RUN"] = "thread"
    done = subprocess.run(  # noqa: S603 - this interpreter, a module of ours, a number
        [sys.executable, "-m", f"deploy.bench.registers.{module}", str(links)],
        cwd=ROOT, env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if done.returncode != 0:
        raise RuntimeError(done.stderr)
    figures: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return figures
