"""Variants: planned changes drawn up, checked together without touching the register, then accepted whole or dropped."""

from .checking import ask_for_check, check_variant
from .deciding import accept, drop
from .drawing_up import (
    add_link,
    change_link,
    draw_up,
    rename,
    retire_link,
    take_out,
)
from .planned import as_changes, loose_rows
from .state import (
    all_variants,
    changed_since,
    check_under_way,
    drawn_up_digest,
    findings_of,
    is_checked,
    last_check,
)

__all__ = [
    "accept",
    "add_link",
    "all_variants",
    "as_changes",
    "ask_for_check",
    "change_link",
    "changed_since",
    "check_under_way",
    "check_variant",
    "draw_up",
    "drawn_up_digest",
    "drop",
    "findings_of",
    "is_checked",
    "last_check",
    "loose_rows",
    "rename",
    "retire_link",
    "take_out",
]
