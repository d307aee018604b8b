"""What a request for features asks: box, time, and which part of the answer (OGC 17-069r4 § 7.15)."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Final

from sites.errors import RegisterError
from sites.on_day import PARAMETER as AS_OF
from sites.on_day import read_day

DEFAULT_LIMIT: Final = 100
LARGEST_LIMIT: Final = 5_000
EVERYWHERE: Final = ("f", AS_OF)  # what every address takes
_BOX_EXAMPLE: Final = "bbox=14.0,46.5,15.2,47.8 (west, south, east, north in degrees)"
_TIME_EXAMPLE: Final = "2026-11-25T00:00:00Z, 2026-01-01/2026-12-31 or 2026-11-25T00:00:00Z/.."
_MOMENT = re.compile(
    r"\d{4}-\d{2}-\d{2}(?:[Tt]\d{2}:\d{2}:\d{2}(?:\.\d{1,9})?(?:[Zz]|[+-]\d{2}:\d{2}))?"
)  # RFC 3339 § 5.6; a day alone stands for all of it


@dataclass(frozen=True)
class Box:
    """Degrees; ``west`` above ``east`` where the box holds the antimeridian."""

    west: float
    south: float
    east: float
    north: float

    @property
    def parts(self) -> list[tuple[float, float, float, float]]:
        """West, south, east, north of one box, or of the two on either side of the antimeridian."""
        if self.west <= self.east:
            return [(self.west, self.south, self.east, self.north)]
        return [(self.west, self.south, 180.0, self.north), (-180.0, self.south, self.east, self.north)]


@dataclass(frozen=True)
class Period:
    """From one moment to another, both included; None where it is open."""

    start: dt.datetime | None
    end: dt.datetime | None


@dataclass(frozen=True)
class Asked:
    """What one request for items asks."""

    box: Box | None
    period: Period | None
    limit: int
    offset: int


def asked(parameters: Mapping[str, str]) -> Asked:
    """Read the parameters of a request for items. RegisterError names the one that cannot be read."""
    known_only(parameters, ("bbox", "datetime", "limit", "offset", *EVERYWHERE))
    limit = _whole(parameters, "limit", DEFAULT_LIMIT, least=1)
    return Asked(
        box=_box(parameters["bbox"]) if "bbox" in parameters else None,
        period=_period(parameters["datetime"]) if "datetime" in parameters else None,
        limit=min(limit, LARGEST_LIMIT),
        offset=_whole(parameters, "offset", 0, least=0),
    )


def day_asked(parameters: Mapping[str, str]) -> dt.date | None:
    """The day as of which the register is read; None: as it stands. RegisterError for what is no day."""
    if AS_OF not in parameters:
        return None
    try:
        return read_day(parameters[AS_OF])
    except ValueError as error:
        raise RegisterError(str(error), field=AS_OF) from None


def known_only(parameters: Mapping[str, str], known: Collection[str]) -> None:
    """Refuse parameters that the description does not have (/req/core/query-param-unknown)."""
    if unknown := sorted(set(parameters) - set(known)):
        raise RegisterError(
            f"This address has no parameter {unknown[0][:60]!r}; it takes {', '.join(known)}.",
            field=unknown[0][:60],
        )
    if (wanted := parameters.get("f", "json")) not in ("json", "geojson"):
        raise RegisterError(f"f is {wanted[:40]!r}; only json is sent.", field="f")


def _whole(parameters: Mapping[str, str], name: str, usual: int, *, least: int) -> int:
    typed = parameters.get(name)
    if typed is None:
        return usual
    if not (typed.isascii() and typed.isdigit() and len(typed) <= 9 and int(typed) >= least):
        raise RegisterError(
            f"{name} is {typed[:40]!r}; a whole number from {least} was expected, for example {name}={usual or 100}.",
            field=name,
        )
    return int(typed)


def _box(typed: str) -> Box:
    def wrong(why: str) -> RegisterError:
        return RegisterError(f"bbox is {typed[:100]!r}: {why}. For example {_BOX_EXAMPLE}.", field="bbox")

    try:
        numbers = [float(part) for part in typed.split(",")]
    except ValueError:
        raise wrong("numbers separated by commas were expected") from None
    if len(numbers) == 6:  # with heights, which are not looked at: nothing here has one
        numbers = [*numbers[0:2], *numbers[3:5]]
    if len(numbers) != 4:
        raise wrong("four or six numbers were expected")
    if not all(math.isfinite(number) for number in numbers):
        raise wrong("finite numbers were expected")
    west, south, east, north = numbers
    if not (-180 <= west <= 180 and -180 <= east <= 180):
        raise wrong("longitudes lie from -180 to 180")
    if not -90 <= south <= north <= 90:
        raise wrong("latitudes lie from -90 to 90, the southern one first")
    return Box(west, south, east, north)


def _period(typed: str) -> Period:
    parts = typed.split("/")
    if len(parts) > 2:
        raise _wrong_time(typed)
    if len(parts) == 1:
        return Period(_moment(typed, typed, last=False), _moment(typed, typed, last=True))
    start, end = (
        None if part in ("", "..") else _moment(part, typed, last=last)
        for part, last in zip(parts, (False, True), strict=True)
    )
    if start is None and end is None:
        raise _wrong_time(typed)
    if start is not None and end is not None and start > end:
        raise _wrong_time(typed, "its end lies before its start")
    return Period(start, end)


def _moment(part: str, typed: str, *, last: bool) -> dt.datetime:
    if not _MOMENT.fullmatch(part):
        raise _wrong_time(typed)
    try:
        if len(part) == 10:
            at = dt.time.max if last else dt.time.min
            return dt.datetime.combine(dt.date.fromisoformat(part), at, dt.UTC)
        whole, fraction, zone = re.split(r"(?:\.(\d+))?(?=[Zz+-][\d:]*$)", part.upper(), maxsplit=1)
        cut = f"{whole}.{(fraction or '0')[:6]:0<6}{zone}"
        return dt.datetime.fromisoformat(cut).astimezone(dt.UTC)
    except (ValueError, OverflowError):
        raise _wrong_time(typed) from None


def _wrong_time(typed: str, why: str = "a moment or an interval (RFC 3339) was expected") -> RegisterError:
    return RegisterError(
        f"datetime is {typed[:100]!r}: {why}. For example {_TIME_EXAMPLE}.", field="datetime"
    )
