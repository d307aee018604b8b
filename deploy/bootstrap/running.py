"""Steps: what is being done, how long it took, and what to do when it fails."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
VAR_DIR = Path(os.environ.get("VAR_DIR") or ROOT / "var")
SHOWN_LINES = 25  # of the output of a command that failed


class StepError(Exception):
    """A step that did not work: which one, what was seen, and how to mend it."""

    def __init__(self, step: str, seen: str, mend: str) -> None:
        super().__init__(f"{step}: {seen}")
        self.step, self.seen, self.mend = step, seen, mend

    def report(self) -> str:
        return f"\nFailed at: {self.step}\n{self.seen.rstrip()}\nTo mend it: {self.mend}"


def in_ci() -> bool:
    """Whether nothing may be left out: ``CI=true`` is how continuous integration says so."""
    return os.environ.get("CI", "").lower() in {"true", "1"}


def say(text: str = "") -> None:
    print(text, flush=True)


@contextmanager
def timed(step: str) -> Iterator[None]:
    """Print the step when it is done, with its duration."""
    begun = time.monotonic()
    yield
    say(f"  {step}  ({time.monotonic() - begun:.1f} s)")


def run(
    step: str,
    command: Sequence[str],
    *,
    mend: str,
    env: Mapping[str, str] | None = None,
) -> str:
    """Run a command and return what it printed on standard output.

    ``env`` is added to the environment. A command that is missing or exits with
    anything but 0 raises ``StepError`` with the end of its output.
    """
    try:
        done = subprocess.run(
            command,
            cwd=ROOT,
            env=_surroundings(env),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            errors="replace",
            check=False,
        )
    except OSError as error:
        raise StepError(step, f"{command[0]} could not be started: {error}", mend) from error
    if done.returncode:
        end = "\n".join((done.stdout + done.stderr).splitlines()[-SHOWN_LINES:])
        raise StepError(step, f"{end}\n({command[0]} ended with status {done.returncode})", mend)
    return done.stdout


def show(command: Sequence[str], *, env: Mapping[str, str] | None = None) -> int:
    """Run a command with its output going straight to the screen; return its exit status."""
    sys.stdout.flush()
    return subprocess.run(
        command,
        cwd=ROOT,
        env=_surroundings(env),
        stdin=subprocess.DEVNULL,
        check=False,
    ).returncode


def _surroundings(added: Mapping[str, str] | None) -> dict[str, str]:
    """The environment of a command: ours with what is added.

    Where no bytecode shall be written beside the sources it goes to ``var/bytecode``. Without any, each of the many
    processes that the tests and checks start would compile whatever it imports, which takes most of its start.
    """
    kept = {}
    if os.environ.get("PYTHONDONTWRITEBYTECODE"):
        kept = {"PYTHONDONTWRITEBYTECODE": "", "PYTHONPYCACHEPREFIX": str(VAR_DIR / "bytecode")}
    return {**os.environ, **kept, **(added or {})}
