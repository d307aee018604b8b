"""A mapping that cannot work is refused by the part that has to change."""

from __future__ import annotations

import json
from typing import Any

import pytest

from spectrum.extracts.mapping import MappingError
from spectrum.services.extracts import READY, ready_mappings
from tests.spectrum.extracts.made import BAND, COLUMNS, mapping


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"code": "Valley fixed"}, "code: 'Valley fixed' was given"),
        ({"columns": {"tx_frequncy": "MHz"}}, "Did you mean tx_frequency?"),
        ({"columns": {"holder": ""}}, "no column is named for holder"),
        ({"columns": []}, "an object with named values was expected"),
        ({"reading": {"decimal_sign": ";"}}, "reading: decimal_sign is ';'"),
        ({"reading": {"encoding": "latin-99"}}, "encoding is 'latin-99'"),
        ({"reading": {"date_format": "%d %m"}}, "date_format is '%d %m'"),
        ({"reading": {"frequency_unit": "mhz"}}, "expected Hz, kHz, MHz, GHz"),
        ({"reading": {"expected_area": [1, 2]}}, "[west, south, east, north]"),
        ({"reading": {"colour": "red"}}, "'colour' is not known here"),
        ({"statuses": {"ended": ["live"]}}, "stands under in_use and under ended"),
        ({"statuses": {"in_use": []}}, "no status counts as in_use"),
        ({"key": ["tx_frequency"]}, "must hold licence_number"),
        ({"key": ["licence_number", "tx_site_code"]}, "no column is named for it"),
        ({"own_registrants": "us"}, "a list of texts was expected"),
        ({"stand_ins": {"bands": []}}, "bands is empty"),
        ({"stand_ins": {"bands": [{**BAND, "tx_power_dbm": "30"}]}}, "band '6 GHz': tx_power_dbm is '30'"),
        ({"stand_ins": {"bands": [{**BAND, "to_mhz": 1}]}}, "from_mhz must be positive and below to_mhz"),
        ({"stand_ins": {"bands": [{**BAND, "mode": ""}]}}, "a name was expected"),
        ({"stand_ins": {"polarisation": "X"}}, "H or V was expected"),
    ],
)
def test_what_is_wrong_with_a_mapping_is_said(changes: dict[str, Any], said: str) -> None:
    with pytest.raises(MappingError) as caught:
        mapping(**changes)
    assert said in str(caught.value)
    assert caught.value.part in changes


def test_the_nearest_band_stands_in_just_outside_it_and_none_far_away() -> None:
    stand_ins = mapping().stand_ins
    assert stand_ins.band_of(6_000_000_000) == (stand_ins.bands[0], True)
    assert stand_ins.band_of(5_874_850_000) == (stand_ins.bands[0], False)
    assert stand_ins.band_of(5_500_000_000) is None
    assert stand_ins.band_of(6_425_000_000) == (stand_ins.bands[0], True)


def test_the_mappings_that_come_with_the_program_are_named_by_what_they_read() -> None:
    assert ready_mappings() == ["us_fixed_microwave"]
    for code in ready_mappings():
        described = json.loads((READY / f"{code}.json").read_text(encoding="utf-8"))
        assert described["code"] == code
        assert set(described["columns"]) <= set(COLUMNS)
        for equipment in described["stand_ins"]["radio_types"] + described["stand_ins"]["antenna_types"]:
            assert equipment["notes"].startswith("Invented")
