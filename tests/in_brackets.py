"""What of a text did not go through the catalogue, read in the language of ``tests.pseudo``."""

from __future__ import annotations

import re


def left_out(text: object) -> str:
    """The part of a text that stands outside the brackets, where it has a word; nested brackets count as one.

    >>> left_out("⟦Give the ⟦name⟧.⟧"), left_out("⟦name⟧ (m)"), left_out("name ⟦of⟧")
    ('', '', 'name ')
    """
    depth, outside = 0, ""
    for sign in str(text):
        depth += (sign == "⟦") - (sign == "⟧")
        if depth == 0 and sign != "⟧":
            outside += sign
    return outside if re.search(r"[A-Za-z]{2,}", outside) else ""
