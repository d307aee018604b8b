"""Whether the page after an act offers to undo it."""

from __future__ import annotations

import uuid

from sites.errors import RegisterError
from sites.models import ChangeRecord, Person

from .undoing import MOST_ENTRIES, refuse_if_never


def is_offered(act: uuid.UUID, by: Person) -> bool:
    """Whether a person may take back what they just did, as far as that can be known at once."""
    try:
        refuse_if_never(list(ChangeRecord.objects.filter(act=act).order_by("id")[: MOST_ENTRIES + 1]), by)
    except RegisterError:
        return False
    return True
