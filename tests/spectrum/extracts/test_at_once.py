"""Two people bring in one extract in the same second: the register is as after one of them, and nobody sees a failure."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from licences.models import Licence
from sites.models import ChangeRecord
from spectrum.models import ExtractRun
from spectrum.services.extracts import Outcome, described, import_extract
from tests.at_once import all_at_once
from tests.made import TESTS
from tests.spectrum.extracts.made import csv_bytes, description
from tests.spectrum.extracts.test_importing import HOP, brought, sizes, totals

pytestmark = pytest.mark.django_db(transaction=True)
PEOPLE = 4
LONGER = tuple({**one, "Expires": "2035-05-01"} for one in HOP)


def bring(*rows: dict[str, str]) -> Any:
    def act() -> Outcome:
        return import_extract(
            csv_bytes(*rows), "extract.csv", described(description()), by=TESTS, as_of=dt.date(2026, 6, 1)
        )

    return act


def written(results: list[object]) -> list[dict[str, int]]:
    """What each import has written; none may fail."""
    assert all(isinstance(result, Outcome) for result in results), [
        r for r in results if not isinstance(r, Outcome)
    ]
    outcomes = [result for result in results if isinstance(result, Outcome)]
    return [totals(outcome, "new") | totals(outcome, "changed") for outcome in outcomes]


def test_a_mapping_and_an_authority_that_nobody_has_saved_yet() -> None:
    told = written(all_at_once([bring(*HOP)] * PEOPLE))
    assert [one for one in told if one] == [
        {
            "antenna types": 1, "radio types": 1, "radio modes": 1, "holders": 1, "sites": 2, "licences": 1,
            "licensed channels": 2, "links": 2, "stations": 4,
        }
    ]  # fmt: skip
    assert ExtractRun.objects.count() == PEOPLE
    before = sizes()
    assert totals(brought(*HOP), "new") == {}
    assert sizes() == before | {"ExtractRun": PEOPLE + 1}


def test_a_change_comes_in_once() -> None:
    brought(*HOP)
    told = written(all_at_once([bring(*LONGER)] * PEOPLE))
    assert [one for one in told if one] == [{"licences": 1}]
    assert {licence.expires_on for licence in Licence.objects.all()} == {dt.date(2035, 5, 1)}
    changes = ChangeRecord.objects.filter(action=ChangeRecord.Action.CHANGE, object_type="licences.licence")
    assert changes.count() == 1
