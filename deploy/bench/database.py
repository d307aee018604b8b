"""All that depends on a database, on SQLite and, where DATABASE_URL names a server, on PostgreSQL.

The check of one link, right after an edit, the search of pairs, the pages, the map in a browser (SQLite). DATABASE_SIZE
(default 100000) is the number of links; entering them takes one to three minutes.
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
    links = int(os.environ.get("DATABASE_SIZE", "100000"))
    report: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as folder:
        address = f"sqlite:///{folder}/register.sqlite3"
        report[f"SQLite, {links:,} links"] = _measured(links, address, folder)
    server = os.environ.get("DATABASE_URL", "")
    if server.startswith("postgres"):
        with tempfile.TemporaryDirectory() as folder:
            report[f"PostgreSQL, {links:,} links"] = _on_server(links, server, folder)
    return report


def _on_server(links: int, server: str, folder: str) -> dict[str, Any]:
    import psycopg

    name = f"bench_{os.getpid()}"
    base = server.rsplit("/", 1)[0]
    with psycopg.connect(f"{base}/postgres", autocommit=True) as link:
        link.execute(f'CREATE DATABASE "{name}"')
        try:
            return _measured(links, f"{base}/{name}", folder)
        finally:
            link.execute(f'DROP DATABASE "{name}"')


def _measured(links: int, address: str, folder: str) -> dict[str, Any]:
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "deploy.settings.test",
        "DATABASE_URL": address,
        "VAR_DIR": folder,
    }
    environment["JOBS_RUN"] = "thread"
    environment["DJANGO_ALLOW_ASYNC_UNSAFE"] = (
        "1"  # the browser's event loop runs in the thread that measures
    )
    done = subprocess.run(  # noqa: S603 - this interpreter, a module of ours, a number
        [sys.executable, "-m", "deploy.bench.registers.measuring", str(links)],
        cwd=ROOT, env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if done.returncode != 0:
        raise RuntimeError(done.stderr)
    figures: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return figures
