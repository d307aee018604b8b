"""One latitude or longitude as people write it: decimal degrees, degrees-minutes, degrees-minutes-seconds."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from sites.positions.errors import PositionError
from sites.sentences import joined, sentence
from sites.words import gettext_noop as _
from sites.words import ngettext_lazy


class Axis(StrEnum):
    LATITUDE = "latitude"
    LONGITUDE = "longitude"

    @property
    def limit_deg(self) -> float:
        return 90.0 if self is Axis.LATITUDE else 180.0

    @property
    def example(self) -> str:
        return "50°07'24.5\"N" if self is Axis.LATITUDE else "024°33'10.0\"E"

    @property
    def other(self) -> Axis:
        return Axis.LONGITUDE if self is Axis.LATITUDE else Axis.LATITUDE


class Notation(StrEnum):
    """How a position was written. The value is stored; who shows it translates it."""

    DECIMAL_DEGREES = _("decimal degrees")
    DEGREES_MINUTES = _("degrees and minutes")
    DEGREES_MINUTES_SECONDS = _("degrees, minutes and seconds")
    EASTING_NORTHING = _("easting and northing")


NOTATION_OF_COUNT = {
    1: Notation.DECIMAL_DEGREES,
    2: Notation.DEGREES_MINUTES,
    3: Notation.DEGREES_MINUTES_SECONDS,
}
AXIS_OF_LETTER = {"N": Axis.LATITUDE, "S": Axis.LATITUDE, "E": Axis.LONGITUDE, "W": Axis.LONGITUDE}
NEGATIVE_LETTERS = "SW"
#: To be translated where it is said.
ANGLE_EXPECTED = _("degrees, degrees and minutes, or degrees, minutes and seconds")

Number = int | float | Decimal


@dataclass(frozen=True)
class Angle:
    """One angle in signed decimal degrees; ``axis`` is known when a letter or the caller told it."""

    value_deg: float
    notation: Notation
    axis: Axis | None


_SIGNS = str.maketrans(
    {
        **dict.fromkeys("−–—‐‑", "-"),
        **dict.fromkeys("’‘′ʹʼ´`", "'"),
        **dict.fromkeys("″”“ʺ‶", '"'),
        **dict.fromkeys("º˚", "°"),
        **dict.fromkeys("\u00a0\u2009\u202f\r\n\t", " "),
    }
)
_NUMBER = r"\d+(?:\.\d+)?"
_WORDS = ((r"north", "N"), (r"south", "S"), (r"east", "E"), (r"west", "W"))
_WORD_END = r"(?![a-df-mo-rt-vx-z])\.?"  # only N, S, E or W may follow without a space
_DEGREE_WORD = re.compile(rf"(?<=\d)\s*(?:degrees?|deg|d){_WORD_END}", re.IGNORECASE)
_MINUTE_WORD = re.compile(rf"(?<=\d)\s*(?:minutes?|min|m){_WORD_END}", re.IGNORECASE)
_SECOND_WORD = re.compile(rf"(?<=\d)\s*(?:seconds?|sec){_WORD_END}", re.IGNORECASE)
_SECOND_S = re.compile(r"('\s*\d+(?:[.,]\d+)?)\s*(?:s(?![a-z])|S(?=\s*[NSEWnsew]))")
_UNCLEAR_S = re.compile(r"'\s*\d+(?:[.,]\d+)?\s*S(?!\s*[NSEWnsew])")
_LETTER_IN_THE_MIDDLE = re.compile(r"(?<![\d.NSEW])(\d{1,3})([NSEW])(\d\d)(\d\d(?:\.\d+)?)?(?![\d.°'\"NSEW])")
_RUN_TOGETHER = re.compile(r"(?<![\d.])(\d{2,3})(\d\d)(\d\d)?(\.\d+)?(?![\d.])")
_WORD = re.compile(r"[^\W\d_]+")
_KNOWN_WORD = re.compile(r"[NSEW]{1,2}|M[NE]?")
_PART = re.compile(rf"\s*({_NUMBER})\s*([°'\"]?)\s*:?")


def normalise(text: str) -> str:
    """One spelling for signs, primes, degree marks and unit words; letters N, S, E, W in capitals."""
    plain = text.strip().translate(_SIGNS).replace("''", '"')
    for word, letter in _WORDS:
        plain = re.sub(rf"\b{word}\b", letter, plain, flags=re.IGNORECASE)
    plain = _DEGREE_WORD.sub("°", plain)
    if "°" in plain:
        with_minutes = _MINUTE_WORD.sub("'", plain)
        with_seconds = _SECOND_WORD.sub('"', with_minutes)
        if with_minutes != plain:
            if _UNCLEAR_S.search(with_seconds):
                raise PositionError(
                    sentence(_("the S can mean seconds or south.")),
                    field="position",
                    typed=text,
                    expected=sentence(ANGLE_EXPECTED),
                    example=Axis.LATITUDE.example,
                )
            with_seconds = _SECOND_S.sub(r'\1"', with_seconds)
        plain = with_seconds
    plain = plain.upper()
    plain = re.sub(r"(?<=\d)-(?=\d)", ":", plain)
    return _LETTER_IN_THE_MIDDLE.sub(
        lambda m: " ".join(part for part in (m[1], m[3], m[4], m[2]) if part), plain
    )


def unreadable_word(plain: str) -> str:
    """The first word that is neither a letter of the compass nor the m of mE and mN; empty if none."""
    words = (word for word in _WORD.findall(plain) if not _KNOWN_WORD.fullmatch(word))
    return next(words, "").lower()


def angle_from_number(value: Number, axis: Axis) -> Angle:
    """Signed decimal degrees given as a number."""
    degrees = float(value) if isinstance(value, int | float | Decimal) else math.nan
    if not math.isfinite(degrees):
        raise _error(sentence(_("it is not a finite number.")), value, axis)
    return Angle(_in_range(degrees, value, axis), Notation.DECIMAL_DEGREES, axis)


def parse_angle(text: str, axis: Axis | None = None) -> Angle:
    """Read one latitude or longitude.

    Parameters
    ----------
    text : ``50.1234``, ``50 07.5 N``, ``-0 07 30``, ``50°07'24.5"N``, ``144-25-29.5 E``, ``50N0724``
    axis : which of the two is expected; None takes it from the letter, if there is one

    Returns
    -------
    Angle : signed decimal degrees, the notation, and the axis if known

    Raises
    ------
    PositionError
        Not an angle; minutes or seconds of 60 and more; beyond ±90 or ±180 degrees;
        sign and letter that disagree; a letter of the other axis.

    Source
    ------
    Sexagesimal arithmetic: degrees + minutes/60 + seconds/3600, the sign applied to the whole.

    Range
    -----
    Latitude −90…90, longitude −180…180; a sign before zero degrees counts.

    Examples
    --------
    >>> parse_angle("-0 07 30").value_deg
    -0.125
    >>> parse_angle("2°07'46.380\\"E").value_deg
    2.12955
    """
    plain = normalise(text)
    if word := unreadable_word(plain):
        raise _error(sentence(_("“{word}” cannot be read."), word=word), text, axis)
    letters = re.findall(r"[NSEW]", plain)
    if len(letters) > 1:
        raise _error(
            sentence(
                _("it has more than one of the letters N, S, E and W ({letters})."),
                letters=", ".join(letters),
            ),
            text,
            axis,
        )
    letter = letters[0] if letters else ""
    if letter:
        axis = _axis_by_letter(letter, text, axis)
    bare = plain.replace(letter, " ", 1).strip() if letter else plain
    if letter and not (plain.lstrip("+- ").startswith(letter) or plain.endswith(letter)):
        raise _error(
            sentence(_("the letter {letter} stands between the numbers."), letter=letter), text, axis
        )
    sign = bare[:1] if bare[:1] in ("+", "-") else ""
    body = _decimal_points(bare[len(sign) :].strip(), text, axis)
    if letter and (together := _RUN_TOGETHER.fullmatch(body)):
        body = _apart(together)
    value = _magnitude(_parts(body, text, axis), text, axis)
    if sign and letter and (sign == "-") != (letter in NEGATIVE_LETTERS):
        raise _error(
            sentence(_("the sign {sign} and the letter {letter} disagree."), sign=sign, letter=letter),
            text,
            axis,
        )
    if sign == "-" or (letter and letter in NEGATIVE_LETTERS):
        value = -value
    count = len(_PART.findall(body))
    return Angle(_in_range(value, text, axis), NOTATION_OF_COUNT[count], axis)


def _axis_by_letter(letter: str, text: str, axis: Axis | None) -> Axis:
    told = AXIS_OF_LETTER[letter]
    if axis is not None and told is not axis:
        other = (
            _("the letter {letter} belongs to a latitude; the axes look swapped.")
            if told is Axis.LATITUDE
            else _("the letter {letter} belongs to a longitude; the axes look swapped.")
        )
        raise _error(
            sentence(other, letter=letter),
            text,
            axis,
        )
    return told


def _apart(match: re.Match[str]) -> str:
    """DDMMSS or DDDMM.m run together, into its parts."""
    return " ".join(part for part in match.groups()[:3] if part) + (match[4] or "")


def _decimal_points(body: str, text: str, axis: Axis | None) -> str:
    if "," not in body:
        return body
    if "." in body or body.count(",") > 1 or not re.search(r"\d,\d", body):
        raise _error(
            sentence(_("its commas and points do not show which of them is the decimal sign.")), text, axis
        )
    return body.replace(",", ".")


def _parts(body: str, text: str, axis: Axis | None) -> list[str]:
    numbers: list[str] = []
    end = 0
    for match in _PART.finditer(body):
        if match.start() != end:
            break
        end = match.end()
        mark = match[2]
        if mark and (len(numbers) >= 3 or mark != "°'\""[len(numbers)]):
            raise _error(sentence(_("the mark {mark} stands in the wrong place."), mark=mark), text, axis)
        numbers.append(match[1])
    rest = body[end:].strip()
    if rest or not numbers:
        problem = sentence(_("“{word}” cannot be read."), word=rest)
        raise _error(problem if rest else sentence(_("it holds no number.")), text, axis)
    if len(numbers) > 3:
        raise _error(
            sentence(
                ngettext_lazy("it holds {count} number.", "it holds {count} numbers."), count=len(numbers)
            ),
            text,
            axis,
        )
    return numbers


def _magnitude(numbers: list[str], text: str, axis: Axis | None) -> float:
    names = (sentence(_("degrees")), sentence(_("minutes")), sentence(_("seconds")))
    for name, number in zip(names, numbers[:-1], strict=False):
        if "." in number:
            raise _error(
                sentence(
                    _("the {name} ({number}) have decimals although smaller units follow."),
                    name=name,
                    number=number,
                ),
                text,
                axis,
            )
    for name, number in zip(names[1:], numbers[1:], strict=False):
        if float(number) >= 60.0:
            raise _error(
                sentence(_("the {name} are {number}; they must be below 60."), name=name, number=number),
                text,
                axis,
            )
    value = 0.0
    for number in reversed(numbers[1:]):
        value = (value + float(number)) / 60.0
    return float(numbers[0]) + value


def _in_range(value: float, typed: object, axis: Axis | None) -> float:
    limit = axis.limit_deg if axis is not None else 180.0
    if abs(value) <= limit:
        return value
    beyond = {
        Axis.LATITUDE: _("a latitude of {value} degrees lies beyond ±{limit} degrees."),
        Axis.LONGITUDE: _("a longitude of {value} degrees lies beyond ±{limit} degrees."),
        None: _("an angle of {value} degrees lies beyond ±{limit} degrees."),
    }[axis]
    problem = sentence(beyond, value=f"{value:g}", limit=f"{limit:g}")
    if limit < abs(value) <= 180.0:
        problem = joined(" ", [problem, sentence(_("It fits only a longitude: the axes look swapped."))])
    raise _error(problem, typed, axis)


def _error(problem: str, typed: object, axis: Axis | None) -> PositionError:
    known = axis or Axis.LATITUDE
    angle = sentence(ANGLE_EXPECTED)
    expected = {
        Axis.LATITUDE: sentence(_("a latitude in {angle}"), angle=angle),
        Axis.LONGITUDE: sentence(_("a longitude in {angle}"), angle=angle),
        None: angle,
    }[axis]
    return PositionError(
        problem,
        field=axis.value if axis is not None else "position",
        typed=typed,
        expected=expected,
        example=known.example,
    )
