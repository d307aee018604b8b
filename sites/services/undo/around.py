"""What other parts of the register have to do around an undo of their objects."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, ExitStack, contextmanager

from sites.services.record import Author

#: Entered before anything is locked or written, left when all is restored and not yet committed.
Around = Callable[[Sequence[int], Author], AbstractContextManager[None]]
_around: dict[str, Around] = {}


def around(label: str) -> Callable[[Around], Around]:
    """Register what is done around an undo that touches objects of a model, given their ids."""

    def register(work: Around) -> Around:
        _around[label] = work
        return work

    return register


@contextmanager
def entered(wholes: dict[str, list[int]], by: Author) -> Iterator[None]:
    """Everything that is done around an undo of these objects, as one context."""
    with ExitStack() as stack:
        for label in sorted(wholes.keys() & _around.keys()):
            stack.enter_context(_around[label](wholes[label], by))
        yield
