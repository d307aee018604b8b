"""What each kind of object becomes by its own dates, and what is to be said of it on a day: told by the apps."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from typing import Any

from django.db import models

Ahead = Callable[[dt.date], Iterable[Any]]
Said = Callable[[Any, dt.date], Iterable[tuple[str, str]]]
_ahead: dict[type[models.Model], Ahead] = {}
_said: dict[type[models.Model], Said] = {}


def looks_ahead(model: type[models.Model], becomes: Ahead) -> None:
    """``becomes(day)`` gives the objects that will differ on a coming day if nothing is entered, as they will be."""
    _ahead[model] = becomes


def says(model: type[models.Model], said: Said) -> None:
    """``said(obj, day)`` gives what follows from an object's dates on a day: name and words."""
    _said[model] = said


def becoming(day: dt.date) -> Iterable[tuple[type[models.Model], Iterable[Any]]]:
    """For each kind that looks ahead, its objects that will differ."""
    return [(model, becomes(day)) for model, becomes in _ahead.items()]


def said_of(obj: models.Model, day: dt.date) -> list[tuple[str, str]]:
    """What follows from an object's dates on a day."""
    said = _said.get(type(obj))
    return list(said(obj, day)) if said else []
