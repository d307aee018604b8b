"""Taking back what a person just did, from the change record's entries of that act."""

from .around import around
from .offering import is_offered
from .undoing import MOST_ENTRIES, Undone, undo

__all__ = ["MOST_ENTRIES", "Undone", "around", "is_offered", "undo"]
