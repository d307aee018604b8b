"""A number that decides the words has a form for one and a form for many: “1 links” is no English, nor any language."""

from __future__ import annotations

import re

import pytest

from tests.marked import texts_with_one_form

#: A value that counts, and behind it a noun in the plural, perhaps with a word between them.
COUNTED = re.compile(
    r"(?:\{(?:count|n|days|times|rest|more|attempts)\}|(?:^|; |\bof |\bthan )\{number\})(?: \w+)? \w+[^s\W]s\b"
)


@pytest.mark.parametrize("folder", ["sites", "licences", "spectrum"])
def test_a_sentence_with_a_count_has_two_forms(folder: str) -> None:
    assert [text for text in texts_with_one_form(folder) if COUNTED.search(text)] == []


@pytest.mark.parametrize(
    "text", ["in force for {days} days", "{number} further transmitters", "{count} links"]
)
def test_a_plural_by_hand_is_found(text: str) -> None:
    assert COUNTED.search(text)


@pytest.mark.parametrize("text", ["Rule {number} is {one}", "{named} and {count} more", "{count} less"])
def test_what_counts_nothing_is_let_through(text: str) -> None:
    assert not COUNTED.search(text)
