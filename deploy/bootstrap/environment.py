"""The virtual environment in ``.venv`` and what is installed in it."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path
from typing import Literal

from deploy.bootstrap import apt, lockfile
from deploy.bootstrap.running import ROOT, StepError, run, say, timed

Needs = Literal["runtime", "all"]
VENV = ROOT / ".venv"
PYTHON = str(VENV / "bin" / "python")
_STAMP = "installed-from-lock.txt"
_INSTALL_MEND = (
    "see that the package index is reached (`pip config list` shows which one pip uses), "
    "then run the command again; `rm -r .venv` starts afresh"
)


def ensure(needs: Needs) -> None:
    """Have ``.venv`` hold the locked packages: those of the application, or all with the test tools.

    A stamp in the environment holds the lock file's hash, so that a second run installs nothing.
    """
    if not _is_usable(VENV):
        with timed("making the Python environment .venv"):
            _make_venv()
    installed = read_stamp(VENV)
    if installed is not None and installed[0] == "all":
        needs = "all"
    wanted = (needs, lockfile.fingerprint())
    if installed == wanted:
        return
    with timed("installing the locked packages"):
        _install(needs)
    write_stamp(VENV, *wanted)


def read_stamp(venv: Path) -> tuple[Needs, str] | None:
    """What the environment was last filled with: which packages, and the lock file's hash."""
    try:
        needs, digest = (venv / _STAMP).read_text(encoding="utf-8").split()
    except (OSError, ValueError):
        return None
    return ("all" if needs == "all" else "runtime"), digest


def write_stamp(venv: Path, needs: Needs, digest: str) -> None:
    (venv / _STAMP).write_text(f"{needs} {digest}\n", encoding="utf-8")


def _is_usable(venv: Path) -> bool:
    """Whether the environment's Python starts, is the version that made it, and has pip."""
    python = venv / "bin" / "python"
    question = "import sys, pip; sys.exit(sys.version_info < (3, 11))"
    try:
        return not subprocess.run([python, "-c", question], capture_output=True, check=False).returncode
    except OSError:
        return False


def _make_venv() -> None:
    step = "making the Python environment .venv"
    version = f"{sys.version_info.major}.{sys.version_info.minor}"
    mend = f"install Python's venv module (Debian, Ubuntu: apt install python{version}-venv), run it again"
    command = [sys.executable, "-m", "venv", "--clear", str(VENV)]
    try:
        run(step, command, mend=mend)
    except StepError:
        if not apt.can_install():
            raise
        apt.install(f"python{version}-venv")
        run(step, command, mend=mend)


def _install(needs: Needs) -> None:
    step = "installing the locked packages"
    requirements = lockfile.LOCK_FILE
    if needs == "runtime":
        requirements = VENV / "runtime.lock"
        requirements.write_text(
            lockfile.runtime_entries(lockfile.LOCK_FILE.read_text(encoding="utf-8")), encoding="utf-8"
        )
    rules = ["--require-hashes", "--no-deps", "--only-binary", ":all:", "-r", str(requirements)]
    uv = shutil.which("uv")
    if uv:
        try:
            command = [uv, "pip", "install", "--quiet", "--python", PYTHON, *rules]
            run(step, command, mend=_INSTALL_MEND, env={"UV_SYSTEM_CERTS": "1"})
        except StepError:
            say("  uv could not install the packages; pip is tried instead")
        else:
            return
    # Bytecode is written when a module is first imported: compiling all of it here takes twice as long.
    quietly = ["--quiet", "--no-input", "--disable-pip-version-check", "--no-compile"]
    run(step, [PYTHON, "-m", "pip", "install", *quietly, *rules], mend=_INSTALL_MEND)
