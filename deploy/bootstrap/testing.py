"""``make test``: every test on SQLite, then those that use the database again on PostgreSQL."""

from __future__ import annotations

import os
from collections.abc import Sequence

from deploy.bootstrap import environment, servers
from deploy.bootstrap.running import VAR_DIR, StepError, in_ci, say, show

PYTEST: list[str] = [environment.PYTHON, "-m", "pytest", "-q"]
# One more at a time than there are cores: what starts servers and browsers waits for much of its time.
AT_A_TIME = str((os.cpu_count() or 1) + 1)
SIDE_BY_SIDE = ["-n", AT_A_TIME, "--dist", "loadfile", "--tb", "short", "--durations", "15"]


def command(arguments: Sequence[str]) -> int:
    """Run all tests, or once those that the arguments (handed to pytest) choose."""
    say("Preparing the tests")
    environment.ensure("all")
    VAR_DIR.mkdir(parents=True, exist_ok=True)
    with servers.for_tests() as found:
        _tell_missing(found.missing)
        if arguments:
            return show([*PYTEST, *arguments], env=found.settings())
        return _everything(found)


def _everything(found: servers.Servers) -> int:
    statuses = {}
    say("\nEvery test, on SQLite")
    # Without PostgreSQL the tests marked for it stay in, to be skipped by name.
    choice = ["-m", "not postgres"] if found.database_url else []
    sqlite = {**found.settings(), "DATABASE_URL": f"sqlite:///{VAR_DIR / 'test.sqlite3'}"}
    statuses["SQLite"] = show([*PYTEST, *SIDE_BY_SIDE, *choice], env=sqlite)
    if found.database_url:
        say("\nThe tests that use the database, on PostgreSQL")
        postgresql = {**found.settings(), "DATABASE_URL": found.database_url}
        choice = ["--only-database", "-m", "not browser"]
        statuses["PostgreSQL"] = show([*PYTEST, *SIDE_BY_SIDE, *choice], env=postgresql)
    failed = [name for name, status in statuses.items() if status]
    if failed:
        say(f"Tests failed on {' and '.join(failed)}.")
        return 1
    return 0


def _tell_missing(missing: Sequence[str]) -> None:
    if missing and in_ci():
        raise StepError(
            "preparing the tests",
            "\n".join(missing),
            "with CI=true nothing may be missing; see each line above",
        )
    for line in missing:
        say(f"  skipped: {line}")
