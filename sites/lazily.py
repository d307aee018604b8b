"""Text that is worded when it is read: the type of it, and choices out of what the pure modules name."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol, TypeVar

from django.utils.functional import Promise, lazy

if TYPE_CHECKING:
    from django.utils.functional import _StrPromise

    #: A text, or one that is translated whenever it becomes a text (``gettext_lazy``).
    Words = str | _StrPromise
else:
    Words = str | Promise


class Named(Protocol):
    """What says in words what it is, in the language of the moment."""

    @property
    def words(self) -> str: ...


_About = TypeVar("_About")


def lazily(say: Callable[[_About], str], about: _About) -> Words:
    """What ``say`` says of something, for a place that is filled long before somebody reads it."""
    return lazy(say, str)(about)


def lazy_words(named: Named) -> Words:
    """The words of a member of a pure enumeration, for such a place."""
    return lazily(lambda one: one.words, named)
