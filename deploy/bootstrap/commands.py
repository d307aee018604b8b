"""The four commands and their exit status."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Sequence
from types import FrameType

from deploy.bootstrap import benching, demo, linting, testing
from deploy.bootstrap.running import StepError

Command = Callable[[Sequence[str]], int]
COMMANDS: dict[str, Command] = {
    "demo": demo.command,
    "test": testing.command,
    "lint": linting.command,
    "bench": benching.command,
}
INTERRUPTED = 130


def main(arguments: Sequence[str]) -> int:
    """Run one command; 0 when it did all it had to."""
    if not arguments or arguments[0] not in COMMANDS:
        print(f"Say what to do, one of: {', '.join(COMMANDS)}.", file=sys.stderr)
        return 2
    signal.signal(signal.SIGTERM, _stop)
    try:
        return COMMANDS[arguments[0]](arguments[1:])
    except StepError as failure:
        print(failure.report(), file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return INTERRUPTED


def _stop(_signal: int, _frame: FrameType | None) -> None:
    """A request to end, treated like Ctrl-C, so that servers started here are stopped too."""
    raise KeyboardInterrupt
