"""What rows are held against: what an empty cell means, and the rules of the stored tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import CheckConstraint, Q

from sites.models import Registered
from sites.saying import written

from .tables import key_field, key_paths

Key = tuple[Any, ...]
NEEDED = object()


def when_empty(each: Any) -> Any:
    """What an empty cell means: nothing, the usual value, or that a value is needed."""
    if each.null:
        return None
    if each.has_default():
        return each.get_default()
    return "" if each.blank and each.empty_strings_allowed else NEEDED


def ends_of(each: Any) -> list[Any]:
    if each.related_model is None:
        return [each]
    return [key_field(each.related_model, path) for path in key_paths(each.related_model)]


def flat(values: Iterable[Any]) -> Key:
    return tuple(part for value in values for part in (value if isinstance(value, tuple) else (value,)))


def portions(items: list[Any], size: int = 500) -> Iterator[list[Any]]:
    for start in range(0, len(items), size):
        yield items[start : start + size]


@cache
def _all_of(model: type[Registered]) -> CheckConstraint | None:
    """The rules of a model's table as one, so that an object in order is asked about once."""
    condition = Q()
    for rule in _rules_of(model):
        condition &= Q(rule.condition)
    return CheckConstraint(condition=condition, name="all") if condition else None


def _rules_of(model: type[Registered]) -> list[CheckConstraint]:
    return [rule for rule in model._meta.constraints if isinstance(rule, CheckConstraint)]


def broken_rules(obj: Registered) -> Iterator[tuple[set[str], str]]:
    """The rules of its table that an object breaks: the fields each is about, and what it says."""
    model: type[Registered] = type(obj)
    together = _all_of(model)
    if together is None or _keeps(together, obj):
        return
    for rule in _rules_of(model):
        if not _keeps(rule, obj):
            about = {path.partition("__")[0] for path, _value in _conditions(rule.condition)}
            yield about, written(rule.violation_error_message, {"name": rule.name})


def _keeps(rule: CheckConstraint, obj: Registered) -> bool:
    try:
        rule.validate(type(obj), obj)
    except ValidationError:
        return False
    return True


def _conditions(condition: Any) -> Iterator[tuple[str, Any]]:
    for part in condition.children:
        if isinstance(part, Q):
            yield from _conditions(part)
        else:
            yield part
