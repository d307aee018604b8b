"""The map of a large network: the server's answers, and the time until a browser shows the first picture.

MAP_SIZE (default 100000) is the number of links; entering them takes some minutes. The aim is a first
picture within 1.5 s, server and browser together.
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
    """Measure on an SQLite file that is thrown away; figures by name."""
    links = int(os.environ.get("MAP_SIZE", "100000"))
    with tempfile.TemporaryDirectory() as folder:
        environment = {
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "deploy.settings.test",
            "DATABASE_URL": f"sqlite:///{folder}/register.sqlite3",
            "VAR_DIR": folder,
            "JOBS_RUN": "thread",
            "DJANGO_ALLOW_ASYNC_UNSAFE": "1",  # the browser's event loop runs in the thread that measures
        }
        done = subprocess.run(  # noqa: S603 - this interpreter, a module of ours, a number
            [sys.executable, "-m", "deploy.bench.registers.map_measuring", str(links)],
            cwd=ROOT, env=environment, capture_output=True, text=True, check=False,
        )  # fmt: skip
    if done.returncode != 0:
        raise RuntimeError(done.stderr)
    figures: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return {f"{links:,} links": figures}
