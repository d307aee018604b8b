"""What an application for a licence asks, whether it is complete, and which step leads where. No framework."""

from licences.applying.fields import (
    DEFAULT_ASKED,
    FIELDS,
    GENERAL,
    Field,
    Filled,
    SheetField,
    Where,
    completeness,
    unknown_fields,
)
from licences.applying.states import Act, State, StepError, next_state, possible_acts

__all__ = [
    "DEFAULT_ASKED",
    "FIELDS",
    "GENERAL",
    "Act",
    "Field",
    "Filled",
    "SheetField",
    "State",
    "StepError",
    "Where",
    "completeness",
    "next_state",
    "possible_acts",
    "unknown_fields",
]
