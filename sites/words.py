"""Words for people in the modules that know no framework: English as written, theirs once something translates.

The names are those that message extraction (xgettext, ``manage.py makemessages``) knows without being told, so that a
sentence in a pure module is found like any other. A process that serves people says how (``word_by``, called
when the web application starts); until then the words stay English and days are written by ISO 8601.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple


class Plural(NamedTuple):
    """A pattern with its two English forms: for one, and for any other number."""

    one: str
    many: str


@dataclass(frozen=True)
class Wording:
    """How texts, patterns with a count, and days are written for whoever reads."""

    text: Callable[[str], str]
    counted: Callable[[str, str, int], str]
    day: Callable[[dt.date], str]


_ENGLISH = Wording(lambda text: text, lambda one, many, count: one if count == 1 else many, dt.date.isoformat)
_in_use = {"wording": _ENGLISH}


def gettext_noop(text: str) -> str:
    """Mark a constant for translation and leave it as it is; who shows it calls ``gettext`` on it."""
    return text


def ngettext_lazy(one: str, many: str) -> Plural:
    """Mark a pattern with a count and leave it as it is; who shows it picks the form (``sites.sentences``)."""
    return Plural(one, many)


def gettext(text: str) -> str:
    """Give a marked text or pattern in the language of the person who is served, at the moment of the call.

    A sentence that keeps its pattern and values (``sites.sentences``) is filled in anew.
    """
    return _in_use["wording"].text(text)


def ngettext(one: str, many: str, count: int) -> str:
    """Give the pattern that goes with a count, in the language of the person who is served."""
    return _in_use["wording"].counted(one, many, count)


def written_day(day: dt.date) -> str:
    """Give a day as the person who is served writes it; ISO 8601 where nobody is.

    >>> written_day(dt.date(2026, 12, 31))
    '2026-12-31'
    """
    return _in_use["wording"].day(day)


def word_by(wording: Wording) -> None:
    """From now on, word by these; they look at who is served anew at every call."""
    _in_use["wording"] = wording
