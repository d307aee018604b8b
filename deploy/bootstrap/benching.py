"""``make bench``: measure the calculations."""

from __future__ import annotations

from collections.abc import Sequence

from deploy.bootstrap import environment
from deploy.bootstrap.running import show


def command(arguments: Sequence[str]) -> int:
    environment.ensure("all")
    return show([environment.PYTHON, "-m", "deploy.bench", *arguments])
