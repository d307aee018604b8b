"""Errors that a person can act on. The edges turn them into a form message or a problem document."""

from __future__ import annotations

from sites.saying import said
from sites.sentences import Sentence


class RegisterError(Exception):
    """Something the register refuses, said so that the reader can mend it.

    ``field`` names the input that has to change, where there is one. ``written`` is what was said: a sentence that
    keeps its pattern and values, where it may be kept for somebody else to read, or one that is worded already.
    """

    status = 400
    title = "The request cannot be carried out"
    problem = ""  # the kind of problem document, where the status does not tell it

    def __init__(self, message: str, *, field: str = "") -> None:
        super().__init__(message)
        self.written = message
        self.field = field

    @property
    def message(self) -> str:
        """What is refused, why and how to mend it, in the words of who reads it now."""
        return said(self.written) if isinstance(self.written, Sentence) else self.written

    def __str__(self) -> str:
        return self.message


class StaleWriteError(RegisterError):
    """Somebody else saved the same object in the meantime."""

    status = 409
    title = "Somebody else changed this in the meantime"


class NotAllowedError(RegisterError):
    """The person's role does not include this act."""

    status = 403
    title = "Your role does not include this"


class DirectWriteError(RegisterError):
    """Code tried to write to the register past the one service that records changes."""

    status = 500
    title = "A write went past the register's service"
