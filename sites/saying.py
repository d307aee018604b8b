"""Sentences as their reader has them: the pattern in the reader's language, figures and days as the reader writes them.

A translation that leaves out a value or cannot be filled in is worse than English: the English pattern stands in for
it, and a line in the log says which translation it was.
"""

from __future__ import annotations

import datetime as dt
import logging
import re
from collections.abc import Mapping
from functools import lru_cache
from numbers import Real
from string import Formatter
from typing import Any, Final

from django.core.exceptions import ValidationError
from django.utils.functional import Promise
from django.utils.translation import get_language, gettext, ngettext

from .lazily import Words, lazily
from .reading import decimal_sign, neutral, written_day
from .sentences import COUNT, Figure, Sentence, place_of, sentence_of

logger = logging.getLogger(__name__)
_PERCENT_NAME: Final = re.compile(r"%\((\w+)\)")


def said(text: str) -> str:
    """A sentence, or a constant that is marked for translation, as its reader has it; anything else as it is."""
    if not text:  # the catalogue answers an empty text with its own head
        return ""
    return _filled(text) if isinstance(text, Sentence) else gettext(text)


def said_again(text: str, kept: Mapping[str, Any] | None) -> str:
    """A kept text as its reader has it, by the pattern and the values that were kept beside it, if there are any."""
    return said(sentence_of(kept) if kept else text)


def said_within(value: Any, kept: Mapping[str, Mapping[str, Any]], at: str = "") -> Any:
    """A kept structure with its sentences as its reader has them; what nothing was kept of (``sentences_in``) stays."""
    if isinstance(value, str):
        return said(sentence_of(kept[at])) if at in kept else value
    if isinstance(value, Mapping):
        return {
            said_within(name, kept, f"{place_of(at, name)}#"): said_within(inner, kept, place_of(at, name))
            for name, inner in value.items()
        }
    if isinstance(value, list):
        return [said_within(inner, kept, place_of(at, number)) for number, inner in enumerate(value)]
    return value


def when_read(text: str) -> Words:
    """A sentence for a place that words it whenever it is read, as an error of a model is."""
    return lazily(said, text)


def written(text: Words | None, values: Mapping[str, Any] | None = None) -> str:
    """What can be kept of a text that is worded when it is read: its sentence. A text that was worded stays as it is.

    ``values`` fill in a pattern of the framework, where they stand as ``%(name)s``.
    """
    if not isinstance(text, Promise):
        return text % values if text and values and not isinstance(text, Sentence) else text or ""
    how, args, kwargs = _taken_apart(text)
    if how is said:
        return written(args[0])
    if how is gettext and not kwargs:
        return _of_framework(args[0], "", "", values)
    if how is ngettext and isinstance(kwargs.get("number"), str):
        return _of_framework(kwargs["singular"], kwargs["plural"], kwargs["number"], values)
    with neutral():
        return str(text) % values if values else str(text)


def _taken_apart(text: Promise) -> tuple[Any, tuple[Any, ...], Mapping[str, Any]]:
    """What words such a text, and what it is made of: the framework says so to whoever copies it."""
    parts: tuple[Any, ...] = text.__reduce__()[1]
    if isinstance(parts[1], tuple):
        return parts[0], parts[1], parts[2]
    words, _kind, number, forms = parts  # the form goes by a value that is named
    return words, (), {**forms, "number": number}


def _of_framework(one: str, many: str, by: str, values: Mapping[str, Any] | None) -> Sentence:
    if values is None:
        return Sentence(one, {})
    named = _names_percent(one) | _names_percent(many) | ({by} if by else set())
    plain = {
        name: value if type(value) in (int, float, str) else str(value) for name, value in values.items()
    }
    return Sentence(one, {name: plain[name] for name in named}, many, by or COUNT, percent=True)


def sentences_of(error: ValidationError) -> list[str]:
    """The sentences of an error of a model or a form, as they can be kept."""
    return [
        written(each.message, each.params) for each in getattr(error, "error_list", None) or _leaves(error)
    ]


def _leaves(error: ValidationError) -> list[ValidationError]:
    return [each for errors in error.error_dict.values() for each in errors]


def _filled(sentence: Sentence) -> str:
    values = {name: _shown(value) for name, value in sentence.values.items()}
    form = sentence.form
    pattern = _translated(sentence)
    if pattern != form:
        try:
            _same_values(pattern, form, sentence)
            return _fill(pattern, values, sentence.percent)
        except (ValueError, LookupError, TypeError, AttributeError) as error:
            _warn(form, pattern, str(get_language()), str(error))
    return _fill(form, values, sentence.percent)


def _translated(sentence: Sentence) -> str:
    if sentence.many:
        return ngettext(sentence.pattern, sentence.many, int(sentence.values[sentence.by]))
    return gettext(sentence.pattern)


def _fill(pattern: str, values: Mapping[str, Any], percent: bool) -> str:
    return pattern % values if percent else pattern.format_map(values)


def _same_values(pattern: str, form: str, sentence: Sentence) -> None:
    """ValueError where a translation leaves out a value or names another; a form with a count need not say it."""
    names = _names_percent if sentence.percent else _names
    may_be_missing = {sentence.by} if sentence.many else set()
    if names(pattern) - may_be_missing != names(form) - may_be_missing:
        raise ValueError("it does not name the same values")


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


def _names_percent(pattern: str) -> frozenset[str]:
    return frozenset(_PERCENT_NAME.findall(pattern))


@lru_cache(maxsize=4096)
def _warn(pattern: str, translation: str, language: str, why: str) -> None:
    """Say it once in the life of a process, not with every page."""
    logger.warning("The translation of %r into %s is not used (%s): %r", pattern, language, why, translation)
