"""The real servers, the browser and gettext for the tests: found running, started here, or named as missing."""

from __future__ import annotations

import ctypes.util
import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import quote

from deploy.bootstrap import apt
from deploy.bootstrap.environment import PYTHON
from deploy.bootstrap.running import StepError, run, timed

LOCAL = "127.0.0.1"
DATABASE_NAME = "register"  # the tests make and drop test_register
START_SECONDS = 60
BROWSER_NAMES = ("chromium", "chromium-browser", "google-chrome")

_MAY_CREATE = """
import psycopg, sys
try:
    with psycopg.connect(sys.argv[1], connect_timeout=5) as link:
        question = "select rolcreatedb or rolsuper from pg_roles where rolname = current_user"
        [may] = link.execute(question).fetchone()
except psycopg.Error as error:
    sys.exit(str(error))
sys.exit(0 if may else "the user may not create databases")
"""


@dataclass
class Servers:
    """Addresses for the tests; an empty one is missing and ``missing`` says why."""

    database_url: str = ""
    redis_url: str = ""
    chromium: str = ""
    msgfmt: str = ""
    missing: list[str] = field(default_factory=list)

    def settings(self) -> dict[str, str]:
        """The environment variables by which the tests find what is there."""
        found = {"REDIS_URL": self.redis_url, "CHROMIUM": self.chromium}
        return {name: value for name, value in found.items() if value}


@contextmanager
def for_tests() -> Iterator[Servers]:
    """Find or start PostgreSQL, Redis, Chromium and GNU gettext; what was started here ends with the context."""
    servers = Servers()
    with ExitStack() as started:
        for name, attribute, prepare in (
            ("PostgreSQL", "database_url", postgresql),
            ("Redis", "redis_url", redis),
            ("Chromium", "chromium", chromium),
            ("GNU gettext", "msgfmt", gettext),
        ):
            try:
                setattr(servers, attribute, prepare(started))
            except StepError as failure:
                seen = " ".join(failure.seen.split())
                servers.missing.append(f"{name}: {seen}. To mend it: {failure.mend}")
        yield servers


def chromium(_started: ExitStack) -> str:
    """The path of a Chromium; installs Debian's, and the library that Playwright's driver needs."""
    if not find_chromium():
        apt.install("chromium", "fonts-dejavu-core")
    if ctypes.util.find_library("atomic") is None:
        apt.install("libatomic1")
    return find_chromium()


def gettext(_started: ExitStack) -> str:
    """The path of the program that compiles catalogues of texts; installs Debian's gettext."""
    if not shutil.which("msgfmt"):
        apt.install("gettext")
    return shutil.which("msgfmt") or ""


def find_chromium() -> str:
    """The Chromium named by CHROMIUM, or the first found on the PATH; empty without one."""
    named = os.environ.get("CHROMIUM")
    return named or next((path for name in BROWSER_NAMES if (path := shutil.which(name))), "")


def postgresql(started: ExitStack) -> str:
    """The URL of a server where the tests may create a database."""
    named = os.environ.get("DATABASE_URL", "")
    if named.startswith("postgres"):
        _may_create_databases(named)
        return named
    user, password = os.environ.get("PGUSER", "postgres"), os.environ.get("PGPASSWORD", "")
    host, port = os.environ.get("PGHOST", LOCAL), os.environ.get("PGPORT", "5432")
    sign_in = quote(user) + (f":{quote(password)}" if password else "")
    running = f"postgres://{sign_in}@{quote(host, safe='')}:{port}"
    try:
        _may_create_databases(f"{running}/postgres")
    except StepError:
        if "PGHOST" in os.environ:
            raise
    else:
        return f"{running}/{DATABASE_NAME}"
    programs = postgresql_programs()
    if programs is None:
        apt.install("postgresql")
        programs = postgresql_programs()
    if programs is None:
        raise StepError("finding PostgreSQL", "initdb was not found", "install the package postgresql")
    with timed("starting a PostgreSQL for the tests"):
        return start_postgresql(programs, started)


def _may_create_databases(url: str) -> None:
    mend = (
        "see that the server runs and that DATABASE_URL or PGHOST, PGUSER, PGPASSWORD let it create databases"
    )
    run("asking PostgreSQL", [PYTHON, "-c", _MAY_CREATE, url], mend=mend)


def postgresql_programs() -> Path | None:
    """The folder with initdb and postgres: on the PATH, or the newest that Debian's packages put aside."""
    on_path = shutil.which("initdb")
    if on_path:
        return Path(on_path).resolve().parent
    installed = Path("/usr/lib/postgresql").glob("*/bin/initdb")
    newest = max(installed, key=lambda program: int(program.parent.parent.name), default=None)
    return newest.parent if newest else None


def start_postgresql(programs: Path, started: ExitStack) -> str:
    """Make and start a cluster of our own, as an unprivileged user; returns its URL."""
    folder, user = _own_folder("register-postgresql-", ("postgres", "nobody"), started)
    data, port = folder / "data", _free_port()
    begin = [str(programs / "initdb"), "-D", str(data), "-U", "postgres", "-A", "trust", "--no-sync"]
    made = subprocess.run(
        [*begin, "-E", "UTF8", "--locale=C"],
        user=user,
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    if made.returncode:
        raise StepError("making a database cluster", made.stderr, f"see why {begin[0]} fails")
    # -F: no fsync, since nothing here outlives the tests.
    serve = [
        str(programs / "postgres"),
        "-D",
        str(data),
        "-F",
        "-h",
        LOCAL,
        "-p",
        str(port),
        "-k",
        str(folder),
    ]
    _start("PostgreSQL", serve, folder, user, port, started)
    url = f"postgres://postgres@{LOCAL}:{port}"
    _retry(lambda: _may_create_databases(f"{url}/postgres"))
    return f"{url}/{DATABASE_NAME}"


def redis(started: ExitStack) -> str:
    """The URL of a Redis (or a server that speaks its protocol)."""
    running = find_redis()
    if running:
        return running
    if "REDIS_URL" in os.environ:
        url = os.environ["REDIS_URL"]
        raise StepError("asking Redis", f"{url} does not answer", "start it, or unset REDIS_URL")
    program = shutil.which("redis-server") or shutil.which("valkey-server")
    if program is None:
        apt.install("redis-server")
        program = shutil.which("redis-server")
    if program is None:
        raise StepError("finding Redis", "redis-server was not found", "install the package redis-server")
    with timed("starting a Redis for the tests"):
        return start_redis(program, started)


def start_redis(program: str, started: ExitStack) -> str:
    """Start a Redis of our own that keeps nothing; returns its URL."""
    folder, user = _own_folder("register-redis-", ("redis", "nobody"), started)
    port = _free_port()
    serve = [program, "--bind", LOCAL, "--port", str(port), "--save", "", "--dir", str(folder)]
    _start("Redis", serve, folder, user, port, started)
    return f"redis://{LOCAL}:{port}/0"


def find_redis() -> str:
    """The Redis named by REDIS_URL, or the one at the usual local port, if it answers; else empty."""
    url = os.environ.get("REDIS_URL", f"redis://{LOCAL}:6379/0")
    host, _, port = url.partition("://")[2].rpartition("@")[2].partition("/")[0].partition(":")
    try:
        with socket.create_connection((host, int(port or 6379)), timeout=2) as link:
            link.sendall(b"PING\r\n")
            answer = link.recv(64)
    except OSError:
        return ""
    # An error answer (a password is asked for) still shows a Redis; only the named one's password is known.
    return url if answer.startswith(b"+PONG") or ("REDIS_URL" in os.environ and answer[:1] == b"-") else ""


def _own_folder(prefix: str, users: Sequence[str], started: ExitStack) -> tuple[Path, str | None]:
    """A temporary folder, and as root the unprivileged user who shall own it and run the server."""
    folder = Path(tempfile.mkdtemp(prefix=prefix))
    started.callback(shutil.rmtree, folder, ignore_errors=True)
    if os.geteuid() != 0:
        return folder, None
    user = next(name for name in users if _is_user(name))
    shutil.chown(folder, user)
    return folder, user


def _is_user(name: str) -> bool:
    try:
        pwd.getpwnam(name)
    except KeyError:
        return False
    return True


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind((LOCAL, 0))
        port: int = probe.getsockname()[1]
        return port


def _start(
    name: str, command: list[str], folder: Path, user: str | None, port: int, started: ExitStack
) -> None:
    log = folder / "server.log"
    with log.open("wb") as output:
        server = subprocess.Popen(command, user=user, cwd=folder, stdout=output, stderr=subprocess.STDOUT)
    started.callback(_end, server)

    def reached() -> None:
        if server.poll() is not None:
            seen = log.read_text(errors="replace")
            raise StepError(f"starting {name}", seen, f"see why {command[0]} ends at once")
        try:
            socket.create_connection((LOCAL, port), timeout=1).close()
        except OSError as error:
            raise StepError(f"starting {name}", str(error), f"see {log}") from error

    _retry(reached)


def _end(server: subprocess.Popen[bytes]) -> None:
    """SIGINT is PostgreSQL's fast shutdown and ends Redis too."""
    server.send_signal(signal.SIGINT)
    try:
        server.wait(timeout=20)
    except subprocess.TimeoutExpired:
        server.kill()
        server.wait()


def _retry(attempt: Callable[[], None]) -> None:
    """Call until it does not raise ``StepError``, for at most ``START_SECONDS``."""
    end = time.monotonic() + START_SECONDS
    while True:
        try:
            return attempt()
        except StepError:
            if time.monotonic() > end:
                raise
        time.sleep(0.2)
