"""Which function does which kind of job, and which kinds are done by the clock."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Protocol

from django.utils.module_loading import autodiscover_modules

from sites.models import Person

Payload = dict[str, Any]
Result = dict[str, Any]


class Progress(Protocol):
    """What a handler is told about its job, and how it says how far it is."""

    @property
    def job_id(self) -> uuid.UUID: ...

    @property
    def asked_by(self) -> Person | None: ...

    def step(self, done: int, total: int) -> None: ...

    def hold(self, seconds: float) -> None: ...


Work = Callable[[Payload, Progress], Result | None]


@dataclass(frozen=True)
class Handler:
    """A kind of job: what does it, and at which times of the day (UTC) it is due without being asked for."""

    kind: str
    work: Work
    daily_at: tuple[dt.time, ...] = ()

    def latest_due(self, now: dt.datetime) -> dt.datetime | None:
        """The last moment of today (UTC) at which this kind was due, or None when it was not yet."""
        today = now.astimezone(dt.UTC).date()
        passed = [slot for at in self.daily_at if (slot := dt.datetime.combine(today, at, dt.UTC)) <= now]
        return max(passed, default=None)


_handlers: dict[str, Handler] = {}


def handler(kind: str, *, daily_at: Sequence[dt.time] = ()) -> Callable[[Work], Work]:
    """Register the function that does jobs of this kind; it belongs in the ``tasks`` module of an app.

    The function gets the payload and a :class:`Progress`. It calls
    ``progress.step(done, total)`` between steps, outside of a transaction, at
    least once per lease (settings.JOBS_LEASE_S) and with done = total right
    before it stores what it found: that is where a cancelled job, or one that
    another worker took over, stops with nothing written.

    ``daily_at`` are times in UTC at which the kind is also due by the clock.
    """

    def register(work: Work) -> Work:
        known = _handlers.get(kind)
        if known is not None and known.work.__module__ != work.__module__:
            raise ValueError(f"{kind!r} is handled by {known.work.__module__} already; choose another name.")
        _handlers[kind] = Handler(kind, work, tuple(daily_at))
        return work

    return register


@cache
def _load() -> None:
    autodiscover_modules("tasks")


def handler_of(kind: str) -> Handler:
    """The handler of a kind. KeyError, naming the kinds there are, for any other."""
    _load()
    try:
        return _handlers[kind]
    except KeyError:
        known = ", ".join(sorted(_handlers)) or "none"
        raise KeyError(f"No handler does jobs of the kind {kind!r}; known kinds: {known}.") from None


def scheduled() -> list[Handler]:
    """The kinds that are due by the clock."""
    _load()
    return [each for each in _handlers.values() if each.daily_at]
