"""Loaded by the workers of tests: every shard takes a while, so that there is a middle to be killed in."""

from __future__ import annotations

import time
from typing import Any

from spectrum.services.network_run import working

SHARD_S = 0.4
_compute = working.compute


def _compute_slowly(*args: Any) -> Any:
    time.sleep(SHARD_S)
    return _compute(*args)


setattr(working, "compute", _compute_slowly)  # noqa: B010 - a stand-in of another type
