"""Sentences that keep what they were made of: the English text, its pattern, and the named values in it.

A check writes its sentences long before anybody reads them. A :class:`Sentence` is the English text – a ``str``
like any other, for files, searching and sorting – and carries the pattern and the values, so that whoever shows
it can translate the pattern and write the numbers and days in the reader's way (``sites/saying.py``).
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from functools import lru_cache
from numbers import Integral, Real
from typing import Any, Final, SupportsIndex

SAY: Final = "say"
WITH: Final = "with"
_DAY: Final = "day"
_NOT_FINITE: Final = "not finite"


class Figure:
    """A number in a sentence, written as the pattern says, with a true minus sign and the reader's decimal sign."""

    __slots__ = ("_decimal_sign", "_number")

    def __init__(self, number: Real, decimal_sign: str = ".") -> None:
        self._number, self._decimal_sign = number, decimal_sign

    def __format__(self, spec: str) -> str:
        return format(self._number, spec).replace("-", "−").replace(".", self._decimal_sign)


class Sentence(str):
    """An English text with the pattern and the values that it was made of; values may be sentences themselves."""

    __slots__ = ("_kept", "pattern", "values")

    pattern: str
    values: Mapping[str, Any]
    _kept: dict[str, Any] | None

    def __new__(cls, pattern: str, values: Mapping[str, Any]) -> Sentence:
        negative = {name: Figure(value) for name, value in values.items() if _is_negative(value)}
        made = str.__new__(cls, pattern.format_map({**values, **negative} if negative else values))
        made.pattern, made.values, made._kept = pattern, values, None
        return made

    def __reduce_ex__(self, protocol: SupportsIndex) -> tuple[Any, ...]:
        return Sentence, (self.pattern, dict(self.values))

    def as_json(self) -> dict[str, Any]:
        """Pattern and values as plain values, from which :func:`sentence_of` makes the sentence again."""
        if self._kept is None:
            self._kept = {SAY: self.pattern}
            if self.values:
                self._kept[WITH] = {name: _plain(value) for name, value in self.values.items()}
        return self._kept


def sentence(pattern: str, /, **values: Any) -> Sentence:
    """A sentence of a pattern, marked for translation where it is written, and the values it names.

    >>> said = sentence("{station} is {excess:.1f} dB over", station="L-1/A", excess=2.04)
    >>> said
    'L-1/A is 2.0 dB over'
    >>> sentence_of(said.as_json()).values["excess"]
    2.04
    >>> sentence("over I/N {limit:g} dB", limit=-6.0)
    'over I/N −6 dB'
    """
    return Sentence(pattern, values)


@lru_cache(maxsize=8192, typed=True)
def repeated(pattern: str, /, **values: Any) -> Sentence:
    """A sentence that many findings have alike: made once, as long as it is asked for."""
    return Sentence(pattern, values)


def joined(separator: str, parts: Iterable[str]) -> Sentence:
    """Several sentences in one, one after the other with a separator between them.

    >>> joined("; ", [sentence("less power"), sentence("{n} channels away", n=2)])
    'less power; 2 channels away'
    """
    values = {f"part{number}": part for number, part in enumerate(parts)}
    return Sentence(separator.join(f"{{{name}}}" for name in values), values)


def sentence_of(kept: Mapping[str, Any]) -> Sentence:
    """The sentence of which pattern and values were kept."""
    return Sentence(kept[SAY], {name: _value(value) for name, value in kept.get(WITH, {}).items()})


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
