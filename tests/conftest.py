"""What the tests share: real servers, a worker, a browser, and that nothing is skipped under CI=true.

`make test` finds or starts the servers and names them in REDIS_URL, DATABASE_URL
and CHROMIUM; run by hand, the tests take those at the usual local ports.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Generator, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

import pytest

from deploy.bootstrap import servers
from deploy.bootstrap.running import ROOT, in_ci
from tests import pseudo
from tests.watching import Watch

WORKER_START_S = 60
DATABASE_FIXTURES = {"db", "transactional_db", "django_db_reset_sequences", "live_server"}


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--only-database", action="store_true", help="leave out tests that do not use the database"
    )
    parser.addoption("--pictures", metavar="FOLDER", help="where the pictures for the README are put")


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what was not asked for; and what takes long goes first (``tests.scheduling``)."""
    if config.getoption("--only-database"):
        kept = [item for item in items if _uses_database(item)]
        config.hook.pytest_deselected(items=[item for item in items if not _uses_database(item)])
        items[:] = kept
    if "PYTEST_XDIST_WORKER" in os.environ:
        from tests.scheduling import place

        items.sort(key=lambda item: place(item.nodeid))


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """In the place of ``--dist loadfile``; any other way to share the tests stays as it is."""
    if config.getoption("dist") != "loadfile":
        return None
    from tests.scheduling import LongestFirst

    return LongestFirst(config, log)


def _uses_database(item: pytest.Item) -> bool:
    fixtures = set(getattr(item, "fixturenames", ()))
    return item.get_closest_marker("django_db") is not None or bool(fixtures & DATABASE_FIXTURES)


def pytest_runtest_setup(item: pytest.Item) -> None:
    if item.get_closest_marker("postgres"):
        from django.db import connection

        if connection.vendor != "postgresql":
            pytest.skip("needs PostgreSQL: run `make test`, or set DATABASE_URL=postgres://…")


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, pytest.TestReport, pytest.TestReport]:
    """With CI=true a test that is skipped has failed."""
    report = yield
    if report.skipped and in_ci() and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        reason = report.longrepr[2] if isinstance(report.longrepr, tuple) else report.longrepr
        report.longrepr = f"With CI=true nothing may be skipped. {reason}"
    return report


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, pytest.CollectReport, pytest.CollectReport]:
    """With CI=true a file that is skipped whole has failed too."""
    report = yield
    if report.skipped and in_ci():
        report.outcome = "failed"
        report.longrepr = f"With CI=true nothing may be skipped. {report.longrepr}"
    return report


@pytest.fixture(scope="session", autouse=True)
def the_database_is_emptied_our_way() -> Iterator[None]:
    """Empty it with ``tests.databases`` after a test that commits."""
    from django.db import connection
    from django.test import TransactionTestCase

    from tests import databases

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(TransactionTestCase, "_fixture_teardown", lambda case: databases.empty(connection))
        yield


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    tmp_path_factory: pytest.TempPathFactory,
    django_db_blocker: Any,
    django_db_modify_db_settings_parallel_suffix: None,
) -> Iterator[None]:
    """Asked for by pytest-django before it makes the database of this process."""
    from django.db import connection

    from tests import databases

    if "PYTEST_XDIST_WORKER" not in os.environ:
        yield
        return
    model = databases.Model(connection, tmp_path_factory.getbasetemp().parent)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(connection.creation, "create_test_db", model.create)
        yield
    with django_db_blocker.unblock():
        model.remove()


@pytest.fixture(scope="session", autouse=True)
def the_documents_of_the_run_go_with_it() -> Iterator[None]:
    """Remove the folder of documents that the tests of this process made."""
    from django.conf import settings

    yield
    shutil.rmtree(settings.DOCUMENTS_DIR, ignore_errors=True)


@pytest.fixture
def pseudo_language(settings: Any, monkeypatch: pytest.MonkeyPatch) -> str:
    """The code of a language in which every translatable text stands in brackets (``tests.pseudo``)."""
    from django.utils.translation import trans_real

    settings.LANGUAGES = [*settings.LANGUAGES, (pseudo.CODE, "Pseudo")]
    kept: dict[str, Any] = vars(trans_real)["_translations"]  # where Django keeps the catalogues it has read
    monkeypatch.setitem(kept, pseudo.CODE, pseudo.PseudoTranslations())
    return pseudo.CODE


@pytest.fixture(scope="session")
def redis_url() -> str:
    """A Redis that answers."""
    found = servers.find_redis()
    if not found:
        pytest.skip("needs Redis: run `make test`, or set REDIS_URL=redis://…")
    return found


@dataclass
class Worker:
    """A Celery worker in a process of its own, on the database of the tests."""

    process: subprocess.Popen[bytes]
    log: Path

    def kill(self) -> None:
        """What the kernel does to a process when memory runs out: no chance to tidy up."""
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()

    def stop(self) -> None:
        if self.process.poll() is None:
            self.process.terminate()
            try:
                self.process.wait(timeout=20)
            except subprocess.TimeoutExpired:
                self.kill()

    def output(self) -> str:
        return self.log.read_text(errors="replace")

    def wait_until_ready(self) -> None:
        end = time.monotonic() + WORKER_START_S
        while time.monotonic() < end and self.process.poll() is None:
            if " ready." in self.output():
                return
            time.sleep(0.1)
        raise RuntimeError(f"The Celery worker did not start:\n{self.output()}")


@pytest.fixture
def start_worker(
    redis_url: str, transactional_db: None, settings: Any, tmp_path: Path
) -> Iterator[Callable[[], Worker]]:
    """Start real Celery workers, and send to them what this test submits; they end with the test."""
    settings.JOBS_RUN = "worker"
    prefix = settings.CELERY_BROKER_TRANSPORT_OPTIONS["global_keyprefix"]
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "deploy.settings.test",
        "DATABASE_URL": _database_url(),
        "REDIS_URL": redis_url,
        "CELERY_KEY_PREFIX": prefix,
        "JOBS_RUN": "worker",
        "LOG_LEVEL": "INFO",
    }
    command = [sys.executable, "-m", "celery", "--app", "deploy.celery", "worker", "--concurrency", "1"]
    options = ["--loglevel", "INFO", "--without-gossip", "--without-mingle"]
    workers: list[Worker] = []

    def start() -> Worker:
        log = tmp_path / f"worker-{len(workers) + 1}.log"
        with log.open("wb") as output:
            process = subprocess.Popen(
                [*command, *options, "--hostname", f"test-{os.getpid()}-{len(workers) + 1}@%h"],
                cwd=ROOT,
                env=environment,
                stdout=output,
                stderr=subprocess.STDOUT,
                start_new_session=True,
            )
        worker = Worker(process, log)
        workers.append(worker)
        worker.wait_until_ready()
        return worker

    yield start
    for worker in workers:
        worker.stop()
    _forget_messages(redis_url, prefix)


def _database_url() -> str:
    """The address of the database that this test process uses."""
    from django.db import connection

    parts = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{parts['NAME']}"
    sign_in = quote(parts["USER"], safe="") + (
        f":{quote(parts['PASSWORD'], safe='')}" if parts["PASSWORD"] else ""
    )
    return f"postgres://{sign_in}@{quote(parts['HOST'], safe='')}:{parts['PORT'] or 5432}/{parts['NAME']}"


def _forget_messages(redis_url: str, prefix: str) -> None:
    from redis import Redis

    with Redis.from_url(redis_url) as client:
        for key in client.scan_iter(f"{prefix}*"):
            client.delete(key)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """A headless Chromium, driven by Playwright."""
    program = servers.find_chromium()
    if not program:
        pytest.skip("needs Chromium: run `make test` as root, install it, or set CHROMIUM to its path")
    from playwright.sync_api import sync_playwright

    quiet = [
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
        "--disable-quic",
    ]
    with pytest.MonkeyPatch.context() as patch, sync_playwright() as playwright:
        # Playwright's own event loop runs in this thread; the ORM is used between its calls, not inside.
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
        chromium = playwright.chromium.launch(
            executable_path=program,
            args=[*quiet, *(["--no-sandbox"] if os.geteuid() == 0 else [])],
        )
        yield chromium
        chromium.close()


@pytest.fixture
def page_faults() -> list[str]:
    """What the page did that no page may do; a test that provokes one takes it off this list."""
    return []


@pytest.fixture
def page(browser: Any, live_server: Any, page_faults: list[str]) -> Iterator[Any]:
    """A page on the live server, not signed in.

    At the end the test fails if the pages did what no page may do (``tests.watching``).
    """
    context = browser.new_context(base_url=live_server.url, viewport={"width": 1280, "height": 900})
    context.set_default_timeout(15_000)
    Watch(live_server.url, page_faults).over(context)
    yield context.new_page()
    context.close()
    assert page_faults == []


@pytest.fixture
def sign_in(page: Any, live_server: Any) -> Callable[[Any], Any]:
    """Sign a person in without going through the form; returns the page."""
    from django.conf import settings
    from django.test import Client

    def sign_in(person: Any) -> Any:
        client = Client()
        client.force_login(person)
        cookie = client.cookies[settings.SESSION_COOKIE_NAME]
        page.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": live_server.url}])
        return page

    return sign_in
