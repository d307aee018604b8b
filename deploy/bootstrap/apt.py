"""Debian packages, installed only where we are root and apt exists."""

from __future__ import annotations

import os
import shutil

from deploy.bootstrap.running import StepError, run, timed

_LOCK_WAIT = ["-o", "DPkg::Lock::Timeout=300"]
_refreshed = False


def can_install() -> bool:
    return os.geteuid() == 0 and shutil.which("apt-get") is not None


def install(*packages: str) -> None:
    """Install Debian packages; raises ``StepError`` naming the command to run by hand."""
    global _refreshed  # noqa: PLW0603 - the package lists are refreshed once per run
    by_hand = f"run `apt-get update && apt-get install {' '.join(packages)}` and look at its messages"
    step = f"installing {', '.join(packages)} with apt"
    if not can_install():
        raise StepError(step, "this needs root and apt-get", f"as root, {by_hand}")
    with timed(step):
        if not _refreshed:
            run(step, ["apt-get", *_LOCK_WAIT, "-qq", "update"], mend=by_hand)
            _refreshed = True
        command = ["apt-get", *_LOCK_WAIT, "-qq", "-y", "--no-install-recommends", "install", *packages]
        run(step, command, mend=by_hand, env={"DEBIAN_FRONTEND": "noninteractive"})
