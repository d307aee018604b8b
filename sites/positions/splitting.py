"""Where, in one text, the first coordinate ends and the second begins."""

from __future__ import annotations

import re
from itertools import pairwise

from sites.positions.angles import unreadable_word
from sites.positions.errors import PositionError
from sites.sentences import sentence
from sites.words import gettext_noop as _
from sites.words import ngettext_lazy

_LETTER = re.compile(r"[NSEW]")
_NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?")
_EXPONENT = re.compile(r"\dE[+-]?\d")
_STRONG_SEPARATOR = re.compile(r"\s*[;/|]\s*")
_COMMA_NOT_IN_A_NUMBER = re.compile(r"(?<!\d)\s*,\s*|\s+,\s*|,\s+|,(?!\d)")
_COMMA_IN_A_NUMBER = re.compile(r"(?<=\d),(?=\d)")

EXPECTED = _("latitude and longitude, or easting and northing, parted by a comma and a space")
EXAMPLE = "50.1234, 24.5678"


def split_position(plain: str, typed: str) -> tuple[str, str]:
    """Part a normalised text into its two coordinates.

    Parameters
    ----------
    plain : the text after :func:`sites.positions.angles.normalise`
    typed : the text as typed, for the error

    Returns
    -------
    first, second : the two texts, in the order typed

    Raises
    ------
    PositionError
        No place, or more than one, where the text can be parted.

    Examples
    --------
    >>> split_position("50,1234 24,5678", "50,1234 24,5678")
    ('50,1234', '24,5678')
    >>> split_position("50 07 24 N 24 33 10 E", "")
    ('50 07 24 N', '24 33 10 E')
    """
    if word := unreadable_word(plain):
        raise _error(sentence(_("“{word}” cannot be read."), word=word), typed)
    letters = list(_LETTER.finditer(plain))
    if len(letters) > 2:
        raise _error(sentence(_("it has more than two of the letters N, S, E and W.")), typed)
    if len(letters) == 1 and _EXPONENT.search(plain):
        raise _error(sentence(_("the E can mean a power of ten or east.")), typed)
    for separator in (_STRONG_SEPARATOR, _COMMA_NOT_IN_A_NUMBER):
        parts = separator.split(plain)
        if len(parts) == 2 and all(_NUMBER.search(part) for part in parts):
            return parts[0].strip(), parts[1].strip()
        if len(parts) > 2:
            raise _error(
                sentence(
                    ngettext_lazy("it falls into {count} part.", "it falls into {count} parts."),
                    count=len(parts),
                ),
                typed,
            )
    if letters and (by_letter := _split_at_letter(plain, letters)):
        return by_letter
    return _split_at_comma(plain, typed) or _split_at_space(plain, typed)


def _split_at_letter(plain: str, letters: list[re.Match[str]]) -> tuple[str, str] | None:
    leading = not _NUMBER.search(plain[: letters[0].start()])
    if leading and len(letters) == 1:
        return None
    at = letters[1].start() if leading else letters[0].end()
    first, second = plain[:at].strip(), plain[at:].strip(" ,")
    return (first, second) if _NUMBER.search(second) and _NUMBER.search(first) else None


def _split_at_comma(plain: str, typed: str) -> tuple[str, str] | None:
    """Commas with a digit on either side: between the coordinates, or decimal signs inside them."""
    commas = list(_COMMA_IN_A_NUMBER.finditer(plain))
    if not commas:
        return None
    if len(commas) == 1:
        first, second = plain[: commas[0].start()].strip(), plain[commas[0].end() :].strip()
        counts = len(_NUMBER.findall(first)), len(_NUMBER.findall(second))
        if "." in plain or (counts[0] == counts[1] and counts[0] > 1):
            return first, second
        if counts == (1, 1):
            raise _error(sentence(_("the comma can part two whole numbers or be a decimal sign.")), typed)
    elif len(commas) > 2 or "." in plain:
        raise _error(sentence(_("its commas do not show which of them part the coordinates.")), typed)
    return None


def _split_at_space(plain: str, typed: str) -> tuple[str, str]:
    joined = _COMMA_IN_A_NUMBER.sub(".", plain)
    numbers = list(_NUMBER.finditer(joined))
    after = [joined[a.end() : b.start()] for a, b in pairwise(numbers)]
    degree_marks = [i for i, number in enumerate(numbers) if joined[number.end() :].lstrip().startswith("°")]
    signed = [i for i, number in enumerate(numbers) if i and number[0][0] in "+-"]
    if len(degree_marks) == 2:
        at = degree_marks[1]
    elif len(signed) == 1:
        at = signed[0]
    elif len(numbers) in (2, 4, 6):
        at = len(numbers) // 2
    else:
        raise _error(
            sentence(
                ngettext_lazy(
                    "it holds {count} number, which cannot be shared out between two coordinates.",
                    "it holds {count} numbers, which cannot be shared out between two coordinates.",
                ),
                count=len(numbers),
            ),
            typed,
        )
    gap = after[at - 1]
    marks = re.search(r"[°'\"NSEW]", gap)
    if ":" in gap or not (" " in gap or marks):
        raise _error(sentence(_("it does not show where the second coordinate begins.")), typed)
    cut = numbers[at].start()
    return plain[:cut].strip(), plain[cut:].strip()


def _error(problem: str, typed: str) -> PositionError:
    return PositionError(problem, field="position", typed=typed, expected=sentence(EXPECTED), example=EXAMPLE)
