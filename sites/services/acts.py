"""Acts: what is written to the register in one go belongs together in the change record.

Every entry names its act. A request of a person is one act, and so is one run of a job; elsewhere
whatever the outermost service writes.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field


@dataclass
class Act:
    """One act; ``written`` once an entry of the change record was made in it."""

    id: uuid.UUID = field(default_factory=uuid.uuid4)
    written: bool = False


_current: ContextVar[Act | None] = ContextVar("current_act", default=None)


@contextmanager
def act() -> Iterator[Act]:
    """Let what is written inside belong together; inside another act it belongs to that one."""
    outer = _current.get()
    if outer is not None:
        yield outer
        return
    with own_act() as new:
        yield new


@contextmanager
def own_act() -> Iterator[Act]:
    """Let what is written inside belong together, and to no act around it."""
    new = Act()
    token = _current.set(new)
    try:
        yield new
    finally:
        _current.reset(token)


def act_of_entry() -> uuid.UUID:
    """The act that an entry made now belongs to; one made outside of any is an act by itself."""
    current = _current.get()
    if current is None:
        return uuid.uuid4()
    current.written = True
    return current.id
