"""What a licence's dates were on a day: the row with the later steps undone."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from .records import Life, Step


@dataclass(frozen=True)
class Entered:
    """A step that was entered: its day, and what it replaced, by field."""

    step: Step
    on: dt.date
    before: Mapping[str, Any]


def read(name: str, stored: Any) -> Any:
    """A value of a field as a step keeps it (plain JSON) back in its own kind."""
    if name == "ended_how":
        return stored or ""
    return dt.date.fromisoformat(stored) if isinstance(stored, str) else stored


def as_of(now: Life, entered: Iterable[Entered], day: dt.date) -> Life:
    """The dates as they stood at the end of a day.

    ``entered`` is in the order of entry. Steps on the same field follow each other in time
    (:func:`licences.life.steps.take` is called with the last such day), so undoing from the
    newest gives what stood. A correction is not undone: what it replaced was never true.

    >>> renewed = Entered(Step.RENEW, dt.date(2026, 3, 1), {"expires_on": dt.date(2026, 6, 30)})
    >>> as_of(Life(expires_on=dt.date(2031, 6, 30)), [renewed], dt.date(2026, 2, 1)).expires_on
    datetime.date(2026, 6, 30)
    """
    life = now
    for one in reversed(list(entered)):
        if one.on > day and one.step is not Step.CORRECT:
            life = replace(life, **one.before)
    return life
