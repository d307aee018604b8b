"""Emission limits of 47 CFR against the tables computed from the rules' text, and masks made from them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from spectrum.radio.masks import Mask, cfr90_210, cfr101_111
from spectrum.radio.masks.limit import MASK_ERROR_DB
from spectrum.radio.ranges import RadioRangeError
from spectrum.radio.rejection import frequency_dependent_rejection
from tests.reference_tables import project_table

AS_PRINTED = 6e-5


def test_cfr90_210_masks_csv() -> None:
    masks = set()
    for row in project_table("cfr90_210_masks.csv"):
        attenuation = float(
            cfr90_210.attenuation_db(
                row["mask"], float(row["fd_kHz"]), float(row["P_W"]), float(row["authorized_bw_kHz"])
            )
        )
        if row["attenuation_dB"]:
            assert attenuation == pytest.approx(float(row["attenuation_dB"]), abs=AS_PRINTED), row
        else:  # the rule states nothing for mask G up to 10 kHz
            assert math.isnan(attenuation), row
        assert float(row["authorized_bw_kHz"]) == cfr90_210.AUTHORISED_BANDWIDTH_KHZ[row["mask"]]
        masks.add(row["mask"])
    assert masks == set("BCDEGHIJ")


@pytest.mark.parametrize(
    ("mask", "fd_khz", "formula"),
    [
        ("B", 10.001, 25),
        ("B", 20.001, 35),
        ("B", 50.001, 43 + 10),
        ("C", 5.001, 83 * math.log10(5.001 / 5)),
        ("C", 10.001, 29 * math.log10(10.001**2 / 11)),
        ("C", 50.001, 43 + 10),
        ("D", 5.626, 7.27 * (5.626 - 2.88)),
        ("D", 12.501, 60),
        ("E", 3.001, 30 + 16.67 * 0.001),
        ("E", 4.601, 65),
        ("G", 10.001, 116 * math.log10(10.001 / 6.1)),
        ("G", 50.001, 43 + 10),
        ("H", 4.001, 107 * math.log10(4.001 / 4)),
        ("H", 8.55, 40.5 * math.log10(8.55 / 1.16)),
        ("H", 15.001, 116 * math.log10(15.001 / 6.1)),
        ("H", 25.001, 43 + 10),
        ("I", 6.801, 25),
        ("I", 9.001, 35),
        ("I", 15.001, 43 + 10),
        ("J", 2.501, 53 * math.log10(2.501 / 2.5)),
        ("J", 6.251, 103 * math.log10(6.251 / 3.9)),
        ("J", 9.501, 157 * math.log10(9.501 / 5.3)),
    ],
)
def test_47_cfr_90_210_each_interval_begins_right_after_its_edge(
    mask: str, fd_khz: float, formula: float
) -> None:
    assert float(cfr90_210.attenuation_db(mask, fd_khz, 10)) == pytest.approx(formula, abs=1e-9)


def test_cfr101_111_digital_below15ghz_csv() -> None:
    for row in project_table("cfr101_111_digital_below15GHz.csv"):
        given = float(row["P_percent"]), float(row["B_MHz"])
        bare = float(cfr101_111.digital_attenuation_db(*given, bounded=False))
        assert bare == pytest.approx(float(row["A_raw_dB"]), abs=AS_PRINTED)
        applied = float(cfr101_111.digital_attenuation_db(*given))
        assert applied == pytest.approx(float(row["A_applied_dB"]), abs=AS_PRINTED)


def test_cfr101_111_mas_12k5_csv() -> None:
    for row in project_table("cfr101_111_mas_12k5.csv"):
        attenuation = cfr101_111.multiple_address_attenuation_db(float(row["fd_kHz"]), float(row["P_W"]))
        assert float(attenuation) == pytest.approx(float(row["attenuation_dB"]), abs=AS_PRINTED), row


@pytest.mark.parametrize("name", list("BCDEGHIJ"))
@pytest.mark.parametrize("power", [0.1, 10.0, 100.0])
def test_a_mask_made_from_a_limit_stays_within_its_stated_error(name: str, power: float) -> None:
    bandwidth = cfr90_210.AUTHORISED_BANDWIDTH_KHZ[name]
    for reference in (0.1, bandwidth):
        mask = cfr90_210.emission_mask(name, power, reference)
        offset = np.linspace(0, 10 * bandwidth, 40_001)[1:-1]
        allowed = 10 * math.log10(bandwidth / reference) - cfr90_210.attenuation_db(name, offset, power)
        allowed = np.clip(np.nan_to_num(allowed, nan=0.0), -200, 0)
        # At a step the mask shows the higher level, the rule gives the step's own point to one side.
        step = np.isin(offset, np.array(mask.offset_khz))
        error = mask.level_at_db(offset) - allowed
        assert np.abs(error[~step]).max() <= MASK_ERROR_DB
        assert error[step].min(initial=0.0) >= -1e-9
        assert mask.is_symmetric
        assert len(mask.offset_khz) < 400


def test_other_limits_make_masks_within_the_same_error() -> None:
    offset = np.linspace(1300, 6249, 5001)
    allowed = 10 * math.log10(2500 / 4) - cfr101_111.digital_attenuation_db(offset / 25, 2.5)
    assert cfr101_111.digital_emission_mask(2.5, 1.0).level_at_db(offset) == pytest.approx(
        allowed, abs=MASK_ERROR_DB
    )
    offset = np.linspace(0.01, 124, 5001)
    allowed = 10 * math.log10(12.5 / 0.3) - cfr101_111.multiple_address_attenuation_db(offset, 5.0)
    assert cfr101_111.multiple_address_emission_mask(5.0, 0.3).level_at_db(offset) == pytest.approx(
        np.minimum(allowed, 0), abs=MASK_ERROR_DB
    )


def test_a_made_mask_goes_into_the_rejection_as_any_other() -> None:
    mask = cfr90_210.emission_mask("D", 10.0, 0.1)
    fdr = frequency_dependent_rejection(mask, Mask.rectangle(11.25), [0.0, 12.5, 25.0]).fdr_db
    assert np.all(np.diff(fdr) > 0)
    assert 0 < float(fdr[0]) < 1
    # At 25 kHz the receiver sees −60 dB in each 100 Hz, −39.5 dB relative to the density in the channel.
    assert float(fdr[2]) == pytest.approx(60 - 10 * math.log10(112.5), abs=1.0)


def test_shapes_nan_and_both_signs() -> None:
    assert np.ndim(cfr90_210.attenuation_db("C", 8, 10)) == 0
    block = cfr90_210.attenuation_db("B", [[0.0], [60.0], [np.nan]], [1.0, 10.0, np.nan], 20.0)
    assert np.isnan(block).tolist() == [[False, False, True], [False, False, True], [True, True, True]]
    assert block[1, :2] == pytest.approx([43, 53])
    wide = cfr90_210.attenuation_db("B", 22.0, 10.0, [20.0, 40.0])
    assert wide == pytest.approx([35, 25])
    offset = np.linspace(0, 60, 61)
    for name in "BCDEHIJ":
        assert cfr90_210.attenuation_db(name, offset, 5) == pytest.approx(
            cfr90_210.attenuation_db(name, -offset, 5)
        )


def test_refusals_name_the_argument_its_value_and_its_range() -> None:
    with pytest.raises(ValueError, match="mask is 'F'; it must be one of B, C, D, E, G, H, I, J"):
        cfr90_210.attenuation_db("F", 10, 10)
    with pytest.raises(RadioRangeError, match="power_w is 0"):
        cfr90_210.attenuation_db("B", 10, 0)
    with pytest.raises(RadioRangeError, match=r"removed_percent is 50; .*101\.111"):
        cfr101_111.digital_attenuation_db(50, 2.5)
    with pytest.raises(RadioRangeError, match="cut_off_khz is 30; it must lie between 50"):
        cfr90_210.emission_mask("B", 10, 0.3, cut_off_khz=30)
