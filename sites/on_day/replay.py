"""An object as it was, from what it is and what was done to it since. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

Values = dict[str, Any]
Act = tuple[str, Mapping[str, Sequence[Any]]]  # create, change or remove; field → [before, after]


def before(now: Mapping[str, Any] | None, acts: Iterable[Act]) -> Values | None:
    """The values before some acts, which come latest first; None where the object was not there.

    ``now`` are the values after the last of them, None where the object is not there.
    """
    values = None if now is None else dict(now)
    for action, changes in acts:
        if action == "create":
            values = None
        elif action == "remove":
            values = {name: pair[0] for name, pair in changes.items()}
        elif values is not None:
            values.update({name: pair[0] for name, pair in changes.items()})
    return values
