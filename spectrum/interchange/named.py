"""Structures that refer to objects by number: in a file the name of the object stands in place of its number.

The number of an object says nothing in another register; its key does.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Final

from django.db import models

from licences.models import Holder
from sites.models import AntennaType, Site
from spectrum.models import RadioType

from .tables import key_paths

Key = tuple[Any, ...]
Numbered = dict[str, type[models.Model]]

#: Model and field of a structure → which of its entries are numbers, and of what.
_NUMBERED: Final[dict[tuple[str, str], Numbered]] = {
    ("spectrum.filedstation", "figures"): {
        "site_id": Site,
        "radio_type_id": RadioType,
        "antenna_type_id": AntennaType,
    },
    ("licences.licenceevent", "changes"): {"holder_id": Holder},
}


def numbered(field: Any) -> Numbered:
    """Which entries of a stored structure are numbers of objects; none for any other field."""
    return _NUMBERED.get((field.model._meta.label_lower, field.name), {})


def exchanged(value: Any, which: Numbered, new: Callable[[type[models.Model], Any], Any]) -> Any:
    """A structure with every such entry exchanged for what ``new`` gives for it; a list entry by entry."""
    if isinstance(value, list):
        return [exchanged(each, which, new) for each in value]
    if not isinstance(value, dict):
        return value
    return {
        name: _each(inner, which[name], new) if name in which else exchanged(inner, which, new)
        for name, inner in value.items()
    }


def _each(value: Any, model: type[models.Model], new: Callable[[type[models.Model], Any], Any]) -> Any:
    if isinstance(value, list):
        return [_each(each, model, new) for each in value]
    return None if value is None else new(model, value)


def names_in(value: Any, which: Numbered) -> Iterator[tuple[type[models.Model], Key]]:
    """The objects that a structure names, as it stands in a file."""
    found: list[tuple[type[models.Model], Key]] = []
    exchanged(value, which, lambda model, name: found.append((model, (str(name),))))
    yield from found


def with_names(field: Any) -> Callable[[Any], Any]:
    """What makes the form for a file of a stored structure. An object that was removed since is left empty."""
    which = numbered(field)
    names: dict[type[models.Model], dict[int, Any]] = {}
    for model in which.values():
        (path,) = key_paths(model)
        names[model] = dict(model._default_manager.values_list("pk", path))
    return lambda value: exchanged(value, which, lambda model, number: names[model].get(number))
