"""What cannot be read or meant, with its sentence kept as it was written."""

from __future__ import annotations

from .words import gettext


class RefusalError(ValueError):
    """A refusal by something that knows no framework. ``written`` is its sentence; as a text it is in the reader's words."""

    def __init__(self, written: str) -> None:
        super().__init__(written)
        self.written = written

    def __str__(self) -> str:
        return gettext(self.written)
