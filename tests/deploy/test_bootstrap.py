"""The bootstrap: what it installs, when it installs nothing, what it says when a step fails."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from deploy.bootstrap import apt, commands, demo, environment, lockfile, running, testing
from deploy.bootstrap.running import ROOT, StepError

LOCK = """\
alpha==1.0 \\
    --hash=sha256:aa
    # via -r requirements.in
beta==2.0 ; python_full_version < '3.12' \\
    --hash=sha256:bb
    # via
    #   alpha
    #   tool
beta==2.1 ; python_full_version >= '3.12' \\
    --hash=sha256:bc
    # via alpha
gamma==3.0 \\
    --hash=sha256:cc
    # via beta
helper==4.0 \\
    --hash=sha256:dd
    # via tool
tool==5.0 \\
    --hash=sha256:ee
    # via -r requirements-dev.in
"""


@pytest.fixture
def venv(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An environment that counts as usable, and a lock file of our own."""
    folder = tmp_path / ".venv"
    folder.mkdir()
    lock = tmp_path / "requirements.lock"
    lock.write_text(LOCK)
    monkeypatch.setattr(environment, "VENV", folder)
    monkeypatch.setattr(environment, "_is_usable", lambda _venv: True)
    monkeypatch.setattr(lockfile, "LOCK_FILE", lock)
    monkeypatch.setattr(lockfile.fingerprint, "__defaults__", (lock,))
    return folder


@pytest.fixture
def installs(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What was asked to be installed."""
    asked: list[str] = []
    monkeypatch.setattr(environment, "_install", asked.append)
    return asked


def test_the_runtime_part_is_what_requirements_in_leads_to() -> None:
    kept = lockfile.runtime_entries(LOCK)
    assert re.findall(r"^\w+==\S+", kept, re.MULTILINE) == [
        "alpha==1.0",
        "beta==2.0",
        "beta==2.1",
        "gamma==3.0",
    ]
    assert kept.count("--hash") == 4


def test_the_runtime_part_of_the_real_lock_file_is_closed_and_without_test_tools() -> None:
    kept = lockfile.runtime_entries(lockfile.LOCK_FILE.read_text())
    names = {name.lower() for name in re.findall(r"^([\w.-]+)==", kept, re.MULTILINE)}
    asked = re.findall(r"^([\w-]+)", (ROOT / "deploy" / "requirements.in").read_text(), re.MULTILINE)
    assert {name.lower() for name in asked} <= names
    assert {"psycopg-binary", "packaging", "redis", "kombu", "sqlparse"} <= names  # asked for by others
    assert names.isdisjoint({"pytest", "playwright", "mypy", "ruff", "scipy", "matplotlib", "itmlogic"})


def test_every_package_of_the_lock_file_has_a_version_and_hashes() -> None:
    entries = lockfile._ENTRY.findall(lockfile.LOCK_FILE.read_text())
    assert len(entries) > 50
    assert [
        entry for entry in entries if "==" not in entry.splitlines()[0] or "--hash=sha256:" not in entry
    ] == []


def test_a_second_run_installs_nothing(venv: Path, installs: list[str]) -> None:
    environment.ensure("runtime")
    environment.ensure("runtime")
    assert installs == ["runtime"]


def test_a_changed_lock_file_is_installed_again(venv: Path, installs: list[str]) -> None:
    environment.ensure("runtime")
    lockfile.LOCK_FILE.write_text(LOCK.replace("3.0", "3.1"))
    environment.ensure("runtime")
    assert installs == ["runtime", "runtime"]


def test_an_environment_with_the_test_tools_serves_the_demo_and_stays_whole(
    venv: Path, installs: list[str]
) -> None:
    environment.ensure("runtime")
    environment.ensure("all")
    environment.ensure("runtime")
    assert installs == ["runtime", "all"]
    lockfile.LOCK_FILE.write_text(LOCK.replace("5.0", "5.1"))
    environment.ensure("runtime")
    assert installs == ["runtime", "all", "all"]


def test_a_failed_installation_leaves_no_stamp(venv: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(_needs: str) -> None:
        raise StepError("installing the locked packages", "no index", "reach it")

    monkeypatch.setattr(environment, "_install", fail)
    with pytest.raises(StepError):
        environment.ensure("runtime")
    assert environment.read_stamp(venv) is None


@pytest.mark.parametrize("text", ["", "runtime", "runtime a b"])
def test_a_stamp_that_cannot_be_read_counts_as_none(tmp_path: Path, text: str) -> None:
    (tmp_path / "installed-from-lock.txt").write_text(text)
    assert environment.read_stamp(tmp_path) is None


def test_a_package_whose_hash_is_wrong_is_not_installed(venv: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = environment.PYTHON
    wheel = venv / "alpha-1.0-py3-none-any.whl"
    wheel.write_bytes(b"not what was locked")
    lockfile.LOCK_FILE.write_text(f"{wheel.as_uri()} --hash=sha256:{'0' * 64}\n")
    monkeypatch.setattr(environment, "PYTHON", real)
    monkeypatch.setenv("PATH", "/usr/bin:/bin")  # without uv
    with pytest.raises(StepError, match=r"(?i)hash") as failure:
        environment._install("all")
    assert "pip config list" in failure.value.mend


def test_without_root_the_packages_to_install_are_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(apt, "can_install", lambda: False)
    with pytest.raises(StepError) as failure:
        apt.install("chromium", "libatomic1")
    assert "as root" in failure.value.report()
    assert "apt-get install chromium libatomic1" in failure.value.report()


def test_a_step_that_fails_shows_the_end_of_its_output_and_the_remedy() -> None:
    script = "import sys; [print('line', n) for n in range(100)]; print('why', file=sys.stderr); sys.exit(3)"
    with pytest.raises(StepError) as failure:
        running.run("doing it", [sys.executable, "-c", script], mend="do it otherwise")
    lines = failure.value.report().splitlines()
    assert lines[1] == "Failed at: doing it"
    assert "line 99" in lines
    assert "line 1" not in lines
    assert "why" in lines
    assert lines[-1] == "To mend it: do it otherwise"
    assert "ended with status 3" in lines[-2]


def test_a_program_that_is_missing_is_a_failed_step(tmp_path: Path) -> None:
    with pytest.raises(StepError, match="could not be started"):
        running.run("doing it", [str(tmp_path / "nothing")], mend="install it")


def test_bytecode_that_may_not_stand_beside_the_sources_is_kept_apart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sources, var = tmp_path / "sources", tmp_path / "var"
    sources.mkdir()
    (sources / "imported.py").write_text("")
    monkeypatch.setattr(running, "VAR_DIR", var)
    monkeypatch.delenv("PYTHONPYCACHEPREFIX", raising=False)
    command = [
        sys.executable,
        "-c",
        "import sys; sys.path.insert(0, sys.argv[1]); import imported",
        str(sources),
    ]

    monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", "1")
    running.run("importing", command, mend="see why")
    assert [path.name for path in sources.rglob("*")] == ["imported.py"]
    assert len(list(var.joinpath("bytecode").rglob("imported.*.pyc"))) == 1

    monkeypatch.delenv("PYTHONDONTWRITEBYTECODE")
    running.run("importing", command, mend="see why")
    assert len(list(sources.rglob("imported.*.pyc"))) == 1


def test_the_wanted_port_is_taken_when_it_is_free() -> None:
    with socket.socket() as probe:
        probe.bind((demo.HOST, 0))
        port = probe.getsockname()[1]
    assert demo.free_port(port) == port


def test_the_next_port_is_taken_when_the_wanted_one_is_busy() -> None:
    with socket.socket() as busy:
        busy.bind((demo.HOST, 0))
        busy.listen()
        port = busy.getsockname()[1]
        assert port < demo.free_port(port) <= port + demo.PORTS_TRIED


def test_with_all_ports_busy_the_step_says_which(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(demo, "PORTS_TRIED", 1)
    with socket.socket() as busy:
        busy.bind((demo.HOST, 0))
        busy.listen()
        port = busy.getsockname()[1]
        with pytest.raises(StepError, match=f"ports {port} to {port}"):
            demo.free_port(port)


@pytest.mark.parametrize("text", ["", "0", "65536", "-1", "http", "8000.0", "８０００"])
def test_a_port_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(StepError, match="1 to 65535"):
        demo.wanted_port(text)


def test_what_is_missing_is_an_error_in_continuous_integration(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("CI", "true")
    with pytest.raises(StepError, match="Redis: not there"):
        testing._tell_missing(["Redis: not there"])
    monkeypatch.delenv("CI")
    testing._tell_missing(["Redis: not there"])
    assert "skipped: Redis: not there" in capsys.readouterr().out


def test_an_unknown_command_is_answered_with_those_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert commands.main(["tset"]) == 2
    assert "demo, test, lint, bench" in capsys.readouterr().err


def test_a_failed_step_ends_the_command_with_status_one(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("PORT", "none")
    before: Callable[..., object] | int | None = signal.getsignal(signal.SIGTERM)
    assert commands.main(["demo"]) == 1
    signal.signal(signal.SIGTERM, before)
    assert "Failed at: reading PORT" in capsys.readouterr().err


def test_the_folder_runs_by_itself_from_anywhere(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, ROOT / "deploy" / "bootstrap", "help"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONPATH": ""},
    )
    assert done.returncode == 2
    assert "one of: demo, test, lint, bench" in done.stderr
