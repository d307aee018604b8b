"""Sentences that keep what they were made of: the English text, its pattern, and the named values in it.

A check writes its sentences long before anybody reads them. A :class:`Sentence` is the English text – a ``str``
like any other, for files, searching and sorting – and carries the pattern and the values, so that whoever shows
it can translate the pattern and write the numbers and days in the reader's way (``sites/saying.py``). Where a number
decides the words, the pattern has a second form.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from functools import lru_cache
from numbers import Integral, Real
from typing import Any, Final, SupportsIndex

from .words import Plural

SAY: Final = "say"
MANY: Final = "many"
WITH: Final = "with"
COUNT: Final = "count"
_BY: Final = "by"
_PERCENT: Final = "percent"
_DAY: Final = "day"
_NOT_FINITE: Final = "not finite"


class Figure:
    """A number in a sentence, written as the pattern says, with a true minus sign and the reader's decimal sign."""

    __slots__ = ("_decimal_sign", "_number")

    def __init__(self, number: Real, decimal_sign: str = ".") -> None:
        self._number, self._decimal_sign = number, decimal_sign

    def __format__(self, spec: str) -> str:
        return format(self._number, spec).replace("-", "−").replace(".", self._decimal_sign)

    def __str__(self) -> str:
        return format(self)

    def __int__(self) -> int:
        return int(float(self._number))


class Sentence(str):
    """An English text with the pattern and the values that it was made of; values may be sentences themselves.

    ``many`` is the form for any number but one, ``by`` the name of the value that counts; without it there is one
    form. A pattern is filled in as ``str.format`` does, one of the framework as ``%`` does (``percent``).
    """

    __slots__ = ("_kept", "by", "many", "pattern", "percent", "values")

    pattern: str
    many: str
    by: str
    percent: bool
    values: Mapping[str, Any]
    _kept: dict[str, Any] | None

    def __new__(
        cls,
        pattern: str,
        values: Mapping[str, Any],
        many: str = "",
        by: str = COUNT,
        percent: bool = False,
    ) -> Sentence:
        form = many if many and values[by] != 1 else pattern
        negative = {name: Figure(value) for name, value in values.items() if _is_negative(value)}
        shown = {**values, **negative} if negative else values
        made = str.__new__(cls, form % shown if percent else form.format_map(shown))
        made.pattern, made.values, made._kept = pattern, values, None
        made.many, made.by, made.percent = many, by, percent
        return made

    def __reduce_ex__(self, protocol: SupportsIndex) -> tuple[Any, ...]:
        return Sentence, (self.pattern, dict(self.values), self.many, self.by, self.percent)

    @property
    def form(self) -> str:
        """The English pattern that goes with the count."""
        return self.many if self.many and self.values[self.by] != 1 else self.pattern

    def as_json(self) -> dict[str, Any]:
        """Pattern and values as plain values, from which :func:`sentence_of` makes the sentence again."""
        if self._kept is None:
            kept: dict[str, Any] = {SAY: self.pattern}
            if self.many:
                kept[MANY] = self.many
            if self.by != COUNT:
                kept[_BY] = self.by
            if self.percent:
                kept[_PERCENT] = True
            if self.values:
                kept[WITH] = {name: _plain(value) for name, value in self.values.items()}
            self._kept = kept
        return self._kept


def sentence(pattern: str | Plural, /, **values: Any) -> Sentence:
    """A sentence of a pattern, marked for translation where it is written, and the values it names.

    A pattern with two forms (``ngettext_lazy``) goes by the value ``count``.

    >>> said = sentence("{station} is {excess:.1f} dB over", station="L-1/A", excess=2.04)
    >>> said
    'L-1/A is 2.0 dB over'
    >>> sentence_of(said.as_json()).values["excess"]
    2.04
    >>> sentence("over I/N {limit:g} dB", limit=-6.0)
    'over I/N −6 dB'
    >>> sentence(Plural("{count} link", "{count} links"), count=1)
    '1 link'
    """
    return _made(pattern, values)


def _made(pattern: str | Plural, values: Mapping[str, Any]) -> Sentence:
    if isinstance(pattern, Plural):
        return Sentence(pattern.one, values, pattern.many)
    return Sentence(pattern, values)


@lru_cache(maxsize=8192, typed=True)
def repeated(pattern: str | Plural, /, **values: Any) -> Sentence:
    """A sentence that many findings have alike: made once, as long as it is asked for."""
    return _made(pattern, values)


def joined(separator: str, parts: Iterable[str]) -> Sentence:
    """Several sentences in one, one after the other with a separator between them.

    >>> joined("; ", [sentence("less power"), sentence("{n} channels away", n=2)])
    'less power; 2 channels away'
    """
    values = {f"part{number}": part for number, part in enumerate(parts)}
    return Sentence(separator.join(f"{{{name}}}" for name in values), values)


def sentence_of(kept: Mapping[str, Any]) -> Sentence:
    """The sentence of which pattern and values were kept."""
    return Sentence(
        kept[SAY],
        {name: _value(value) for name, value in kept.get(WITH, {}).items()},
        kept.get(MANY, ""),
        kept.get(_BY, COUNT),
        kept.get(_PERCENT, False),
    )


def sentences_in(value: Any, at: str = "") -> dict[str, dict[str, Any]]:
    """What is to be kept of the sentences within a structure of plain values, by where they stand in it.

    A place is written as a JSON pointer (RFC 6901), that of a name in an object with a ``#`` behind it.

    >>> sentences_in({"troubles": [{"row": 2, "message": sentence("no name")}], "name": "x.csv"})
    {'/troubles/0/message': {'say': 'no name'}}
    """
    if isinstance(value, Sentence):
        return {at: value.as_json()}
    found: dict[str, dict[str, Any]] = {}
    if isinstance(value, Mapping):
        for name, inner in value.items():
            place = place_of(at, name)
            if isinstance(name, Sentence):
                found[f"{place}#"] = name.as_json()
            found |= sentences_in(inner, place)
    elif isinstance(value, list | tuple):
        for number, inner in enumerate(value):
            found |= sentences_in(inner, place_of(at, number))
    return found


def place_of(at: str, name: str | int) -> str:
    """The place of a name or number within a structure at a place."""
    return f"{at}/{str(name).replace('~', '~0').replace('/', '~1')}"


def _is_negative(value: Any) -> bool:
    # The order spares texts and Python's own numbers the slow question after an abstract class.
    return not isinstance(value, str) and isinstance(value, (float, int, Real)) and float(value) < 0


def _plain(value: Any) -> Any:
    if isinstance(value, Sentence):
        return value.as_json()
    if isinstance(value, str | int):
        return value
    if isinstance(value, dt.date):
        return {_DAY: value.isoformat()}
    if isinstance(value, Integral):  # numpy's whole numbers are no int
        return int(value)
    if not isinstance(value, Real):  # an object of the register goes by what it is called
        return str(value)
    number = float(value)
    return number if math.isfinite(number) else {_NOT_FINITE: str(number)}


def _value(kept: Any) -> Any:
    if not isinstance(kept, Mapping):
        return kept
    if SAY in kept:
        return sentence_of(kept)
    if _DAY in kept:
        return dt.date.fromisoformat(kept[_DAY])
    return float(kept[_NOT_FINITE])
