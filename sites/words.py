"""Words for people in the modules that know no framework: English as written, theirs once something translates.

The names are those that message extraction (xgettext, ``manage.py makemessages``) knows without being told, so that a
sentence in a pure module is found like any other. A process that serves people gives the translating functions
(``translate_with``, called when the web application starts); without them the words stay English.
"""

from __future__ import annotations

from collections.abc import Callable

_ENGLISH: tuple[Callable[[str], str], Callable[[str, str, int], str]] = (
    lambda text: text,
    lambda one, many, count: one if count == 1 else many,
)
_translating = {"by": _ENGLISH}


def gettext_noop(text: str) -> str:
    """Mark a constant for translation and leave it as it is; who shows it calls ``gettext`` on it."""
    return text


def gettext(text: str) -> str:
    """Give a marked sentence or pattern in the language of the person who is served, at the moment of the call."""
    one, _plural = _translating["by"]
    return one(text)


def ngettext(one: str, many: str, count: int) -> str:
    """Give the pattern that goes with a count, in the language of the person who is served."""
    _one, plural = _translating["by"]
    return plural(one, many, count)


def translate_with(one: Callable[[str], str], plural: Callable[[str, str, int], str]) -> None:
    """From now on, translate by these two; they read the language anew at every call."""
    _translating["by"] = (one, plural)
