"""Sentences as their reader has them: the pattern in the reader's language, figures and days as the reader writes them.

A translation that leaves out a value or cannot be filled in is worse than English: the English pattern stands in for
it, and a line in the log says which translation it was.
"""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Mapping
from functools import lru_cache
from numbers import Real
from string import Formatter
from typing import Any

from django.utils.translation import get_language, gettext

from .reading import decimal_sign, written_day
from .sentences import Figure, Sentence, sentence_of

logger = logging.getLogger(__name__)


def said(text: str) -> str:
    """A sentence, or a constant that is marked for translation, as its reader has it; anything else as it is."""
    if not text:  # the catalogue answers an empty text with its own head
        return ""
    return _filled(text) if isinstance(text, Sentence) else gettext(text)


def said_again(text: str, kept: Mapping[str, Any] | None) -> str:
    """A kept text as its reader has it, by the pattern and the values that were kept beside it, if there are any."""
    return said(sentence_of(kept) if kept else text)


def _filled(sentence: Sentence) -> str:
    values = {name: _shown(value) for name, value in sentence.values.items()}
    pattern = gettext(sentence.pattern)
    if pattern != sentence.pattern:
        try:
            if _names(pattern) != _names(sentence.pattern):
                raise ValueError("it does not name the same values")
            return pattern.format_map(values)
        except (ValueError, LookupError, TypeError, AttributeError) as error:
            _warn(sentence.pattern, pattern, str(get_language()), str(error))
    return sentence.pattern.format_map(values)


def _shown(value: Any) -> Any:
    if isinstance(value, Sentence):
        return _filled(value)
    if isinstance(value, dt.date):
        return written_day(value)
    return Figure(value, decimal_sign()) if isinstance(value, Real) else value


@lru_cache(maxsize=4096)
def _names(pattern: str) -> frozenset[str]:
    """The values that a pattern names; ValueError where its braces are broken."""
    return frozenset(name for _text, name, _spec, _how in Formatter().parse(pattern) if name is not None)


@lru_cache(maxsize=4096)
def _warn(pattern: str, translation: str, language: str, why: str) -> None:
    """Say it once in the life of a process, not with every page."""
    logger.warning("The translation of %r into %s is not used (%s): %r", pattern, language, why, translation)
