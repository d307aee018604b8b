"""Who reads: the language, the dates and decimals, the unit of a transmitter's power and the time zone of a person.

Pages and mails are written for somebody: inside :func:`as_read_by` texts are in that person's language, figures and
days as that person writes them. Where nobody reads – files, the interface for programs, jobs, logs – the reader is
:data:`NEUTRAL`: English, ISO 8601 dates, the decimal point, dBm, UTC. What is written to a file while a page is
asked for stands inside :func:`neutral`, or inside :func:`neutral_figures` where its words may follow the person.

Django's own time zone is left alone on purpose: ``timezone.localdate()`` is the register's day, by which checks are
run, reservations lapse, and files and programs are answered; it is the same whoever asks. A page that says "today"
to somebody means the day where they are: :func:`day_here`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from typing import Any, Final, TypeVar
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones

from django.conf import settings
from django.utils import dateformat, timezone, translation
from django.utils.formats import get_format
from django.utils.translation import gettext_lazy as _

ISO: Final = "iso"
DBM: Final = "dBm"
WATT: Final = "W"
POWER_UNITS: Final = ((DBM, _("dBm")), (WATT, _("watts")))
#: The countries' ways of writing dates and decimals that can be chosen; Django keeps what each is.
_FORMATS: Final = (
    (ISO, _("international (ISO 8601)")),
    ("cs", _("Czech")),
    ("da", _("Danish")),
    ("de", _("German")),
    ("de-ch", _("German, Switzerland")),
    ("en-gb", _("English, United Kingdom")),
    ("es", _("Spanish")),
    ("fi", _("Finnish")),
    ("fr", _("French")),
    ("hu", _("Hungarian")),
    ("it", _("Italian")),
    ("nb", _("Norwegian")),
    ("nl", _("Dutch")),
    ("pl", _("Polish")),
    ("pt", _("Portuguese")),
    ("sk", _("Slovak")),
    ("sv", _("Swedish")),
)
_Part = TypeVar("_Part")
_SAMPLE_DAY: Final = dt.date(2026, 12, 31)


@dataclass(frozen=True)
class Reader:
    """How one person reads."""

    language: str = "en"
    formats: str = ISO
    power_unit: str = DBM
    time_zone: dt.tzinfo = dt.UTC


NEUTRAL: Final = Reader()
_current: ContextVar[Reader] = ContextVar("reader", default=NEUTRAL)


def current_reader() -> Reader:
    """The person for whom is being written; the neutral reader where nobody reads."""
    return _current.get()


@contextmanager
def as_read_by(person: Any) -> Iterator[Reader]:
    """Write for a person; for nobody in particular with None or somebody who has not signed in."""
    with _reading(reader_of(person)) as reader:
        yield reader


@contextmanager
def neutral() -> Iterator[Reader]:
    """Write for nobody in particular, whoever asked: a file that means the same to everybody."""
    with _reading(NEUTRAL) as reader:
        yield reader


@contextmanager
def neutral_figures() -> Iterator[Reader]:
    """Words in the language of the person, figures and days as in every file: a printed sheet."""
    with _reading(Reader(language=current_reader().language)) as reader:
        yield reader


def neutral_parts(parts: Iterable[_Part]) -> Iterator[_Part]:
    """The parts of a file that is made while it is sent, each written for nobody in particular."""
    made = iter(parts)
    while True:
        with neutral():
            try:
                part = next(made)
            except StopIteration:
                return
        yield part


@contextmanager
def _reading(reader: Reader) -> Iterator[Reader]:
    before = _current.set(reader)
    try:
        with translation.override(reader.language):
            yield reader
    finally:
        _current.reset(before)


def reader_of(person: Any) -> Reader:
    """How a person reads. What was stored and is offered no more is read as the usual."""
    if person is None or not person.is_authenticated:
        return NEUTRAL
    return Reader(
        person.language if person.language in dict(settings.LANGUAGES) else NEUTRAL.language,
        person.formats if person.formats in dict(_FORMATS) else ISO,
        person.power_unit if person.power_unit in dict(POWER_UNITS) else DBM,
        zone_of(person),
    )


def zone_of(person: Any) -> dt.tzinfo:
    """The time zone of a person; UTC when what is stored is not one that is known."""
    try:
        return ZoneInfo(person.time_zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return dt.UTC


# --- What can be chosen ---


@cache
def time_zones() -> tuple[str, ...]:
    """The names of the time zones that are known here (IANA), in order."""
    return tuple(sorted(available_timezones()))


def languages() -> list[tuple[str, str]]:
    """The languages in which the register can be read here (deploy/env.example: LANGUAGES)."""
    return [(code, str(name)) for code, name in settings.LANGUAGES]


def ways_of_writing() -> list[tuple[str, str]]:
    """The ways of writing dates and decimals, each with a day and a figure written so."""
    return [(code, f"{name}: {_sample(code)}") for code, name in _FORMATS]


def _sample(code: str) -> str:
    sign, date_format = _conventions(code)
    return f"{dateformat.format(_SAMPLE_DAY, date_format)}, 457{sign}01250"


# --- Figures and days as the reader writes them ---


def decimal_sign() -> str:
    """The sign between the whole and the decimals: a point or a comma."""
    return _conventions(current_reader().formats)[0]


def written_day(day: dt.date) -> str:
    """A day, or the day of a moment where the reader is, with figures only: ``2026-12-31``, ``31.12.2026``."""
    reader = current_reader()
    if isinstance(day, dt.datetime):
        day = _there(day, reader)
    return dateformat.format(day, _conventions(reader.formats)[1])


def day_here() -> dt.date:
    """The day it is where the reader is; the register's own day where nobody reads."""
    there = current_reader().time_zone
    return timezone.localdate() if there is dt.UTC else timezone.localdate(timezone=there)


def written_moment(at: dt.datetime, *, seconds: bool = False) -> str:
    """A moment where the reader is, with its distance from UTC: ``2026-12-31 18:05 UTC+1``.

    The abbreviation of a time zone would say less: CST is a time of two continents.
    """
    there = _there(at, current_reader())
    return f"{written_day(there)} {there:{'%H:%M:%S' if seconds else '%H:%M'}} {_distance(there)}"


def _there(at: dt.datetime, reader: Reader) -> dt.datetime:
    return (at if at.tzinfo else at.replace(tzinfo=dt.UTC)).astimezone(reader.time_zone)


def _distance(there: dt.datetime) -> str:
    minutes = round((there.utcoffset() or dt.timedelta()).total_seconds() / 60)
    if minutes == 0:
        return "UTC"
    hours, rest = divmod(abs(minutes), 60)
    return f"UTC{'+' if minutes > 0 else '−'}{hours}{f':{rest:02d}' if rest else ''}"


@cache
def _conventions(code: str) -> tuple[str, str]:
    """The decimal sign and the short form of a day, as Django has them for a country."""
    if code == ISO:
        return ".", "Y-m-d"
    return (
        str(get_format("DECIMAL_SEPARATOR", lang=code, use_l10n=True)),
        str(get_format("SHORT_DATE_FORMAT", lang=code, use_l10n=True)),
    )
