"""What is said about the files of the tests is said of files that are there, and puts them in the order meant."""

from __future__ import annotations

import pytest

from deploy.bootstrap.running import ROOT
from tests import scheduling


@pytest.mark.parametrize("named", sorted({*scheduling.SHARED, *scheduling.LONG, scheduling.TOGETHER}))
def test_what_is_named_is_there(named: str) -> None:
    file, _, test = named.partition("::")
    assert (ROOT / file).exists()
    assert not test or f"def {test}(" in (ROOT / file).read_text(encoding="utf-8")


def test_what_takes_longest_begins_first_and_the_rest_stays_in_its_order() -> None:
    rest = ["tests/sites/test_words.py::test_b", "tests/sites/test_record.py::test_a"]
    long = [f"{file}::test_it" for file in (scheduling.LONG[0], scheduling.LONG[2])]
    assert sorted([*rest, *reversed(long)], key=scheduling.place) == [*long, *rest]
