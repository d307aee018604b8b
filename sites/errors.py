"""Errors that a person can act on. The edges turn them into a form message or a problem document."""

from __future__ import annotations


class RegisterError(Exception):
    """Something the register refuses, said so that the reader can mend it.

    ``field`` names the input that has to change, where there is one.
    """

    status = 400
    title = "The request cannot be carried out"
    problem = ""  # the kind of problem document, where the status does not tell it

    def __init__(self, message: str, *, field: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.field = field


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
