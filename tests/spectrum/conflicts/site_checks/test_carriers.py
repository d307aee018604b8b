"""Transmitter noise and blocking at receivers near by: each term by hand, sums in watts, what is left out."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from spectrum.conflicts.drafts import Draft
from spectrum.conflicts.network import StationRecord
from spectrum.conflicts.site_checks import Equipment
from tests.spectrum.conflicts.made import TODAY
from tests.spectrum.conflicts.site_checks.made import WHOLE, at_one_site, judged, of_kind, value

#: No filter, and that is known: separate antennas far enough apart.
OPEN = Equipment(
    spacing_vertical_m=8.0, blocking_level_dbm=-20.0, transmitter_noise_dbc_per_hz=-160.0, third_order_intercept_dbm=0.0
)  # fmt: skip
# 22 + 20 log(d/λ) − 2 × 6 dBi, d = 5 m, f = 410 MHz: the rule of the trade, worked by hand
SIDE_BY_SIDE_DB = 22.0 + 20.0 * math.log10(5.0 * 410e6 / 299_792_458.0) - 12.0


def sender(number: int = 1, mhz: float = 410.0, **changes: object) -> StationRecord:
    return at_one_site(number, mhz, None, **changes)


def victim(number: int = 9, mhz: float = 412.0, **changes: object) -> StationRecord:
    return at_one_site(number, None, mhz, **changes)


def pairs(drafts: list[Draft], kind: str) -> list[Draft]:
    return [d for d in of_kind(drafts, kind) if d.parties.other_link_id is not None]


def sums(drafts: list[Draft], kind: str) -> list[Draft]:
    return [d for d in of_kind(drafts, kind) if d.parties.other_link_id is None]


def test_every_term_of_blocking_by_hand() -> None:
    (draft,) = pairs(judged([sender(), victim()], OPEN), "receiver_blocking")
    assert value(draft, "Isolation between the antennas, estimate") == pytest.approx(-SIDE_BY_SIDE_DB)
    assert draft.margin == pytest.approx(-20.0 - (37.0 - 2.0 - SIDE_BY_SIDE_DB - 2.0))
    # Nobody has entered the spacing: an assumption is never a must-fix.
    assert draft.severity == "decide"
    assert any("5 m horizontally" in sentence for sentence in draft.not_judged)
    assert (draft.parties.link_id, draft.parties.other_link_id, draft.parties.site_id) == (1, 9, 1)
    assert "never power into an open port" in draft.cure


def test_every_term_of_transmitter_noise_by_hand() -> None:
    """kTB at 290 K in 12.5 kHz with 7 dB: −126.006 dBm (table of thermal noise)."""
    (draft,) = pairs(judged([sender(), victim()], OPEN), "transmitter_noise")
    level = 37.0 - 160.0 + 10.0 * math.log10(12_500.0) - 2.0 - SIDE_BY_SIDE_DB - 2.0
    assert value(draft, "Transmitter noise at the receiver's input") == pytest.approx(level)
    assert draft.margin == pytest.approx(-6.0 - (level + 126.006), abs=0.001)


def test_a_height_difference_isolates_by_the_angle() -> None:
    """Slant formula, 5 m across and 5 m up: halfway between the two directions."""
    low = sender(antenna_height_agl_m=15.0)
    (draft,) = pairs(judged([low, victim(antenna_height_agl_m=20.0)], OPEN), "receiver_blocking")
    upright = 28.0 + 40.0 * math.log10(5.0 * 410e6 / 299_792_458.0)
    between = (SIDE_BY_SIDE_DB + upright) / 2.0
    assert value(draft, "Isolation between the antennas, estimate") == pytest.approx(-between)


def test_two_equal_carriers_are_3_db_more() -> None:
    drafts = judged([sender(1, 410.0), sender(2, 410.0001), victim()], OPEN)
    single = pairs(drafts, "receiver_blocking")
    (total,) = sums(drafts, "receiver_blocking")
    assert len(single) == 2
    assert single[0].margin is not None
    assert total.margin == pytest.approx(single[0].margin - 10.0 * math.log10(2.0), abs=0.001)
    assert total.parties.link_id == 9


def test_a_duplexer_has_its_isolation_at_the_other_frequency_and_half_of_it_halfway() -> None:
    loud = sender(1, 410.0, tx_power_dbm=60.0, antenna_height_agl_m=20.0)
    for carrier_mhz, taken_db in ((410.0, 60.0), (415.0, 30.0), (408.0, 60.0), (421.0, 0.0)):
        receiver = at_one_site(9, 410.0, 420.0, tx_power_dbm=0.0)
        filtered = replace(WHOLE, duplexer_isolation_db=60.0)
        drafts = judged(
            [replace(loud, tx_frequency_hz=round(carrier_mhz * 1e6)), receiver],
            {11: OPEN, 10: OPEN, 90: filtered},
        )
        found = [d for d in pairs(drafts, "receiver_blocking") if d.parties.other_link_id == 9]
        taken = value(found[0], "Receiver's duplexer") if found else -60.0
        assert taken == pytest.approx(-taken_db)


def test_unknown_filters_make_a_note_at_the_receiver_and_no_pairs() -> None:
    unknown = replace(OPEN, spacing_vertical_m=None)
    drafts = judged([sender(), victim()], unknown)
    assert pairs(drafts, "receiver_blocking") == []
    (note,) = sums(drafts, "receiver_blocking")
    assert note.severity == "note"
    assert "does not say which filters" in note.not_judged[0]
    assert note.margin is not None


def test_a_missing_figure_is_said_at_our_receivers() -> None:
    (note,) = sums(judged([sender(), victim()], replace(OPEN, blocking_level_dbm=None)), "receiver_blocking")
    assert (note.severity, note.margin) == ("note", None)
    assert "no blocking level" in note.not_judged[0]


@pytest.mark.parametrize(
    "other",
    [
        victim(mhz=410.03),  # shares frequencies with the emission: a matter of interference
        victim(mhz=450.0),  # more than 5 % away
        victim(link={"starts_on": TODAY.replace(year=2030)}),
        victim(link={"own": False}),
    ],
)
def test_what_is_not_counted(other: StationRecord) -> None:
    before = sender(link={"ends_on": TODAY.replace(year=2029), "own": other.link.own})
    assert of_kind(judged([before, other], OPEN), "receiver_blocking") == []


def test_others_receivers_are_victims_of_ours_only() -> None:
    theirs = sender(2, 410.2, link={"own": False})
    drafts = judged([sender(), theirs, victim(link={"own": False})], OPEN)
    assert [d.parties.link_id for d in pairs(drafts, "receiver_blocking")] == [1]


def test_between_near_sites_distance_and_pattern_count_and_it_must_be_fixed() -> None:
    """100 m further north: 22 + 20 log(d/λ) less the gains of two whips at the same height."""
    north = 47.0 + 100.0 / 111_180.0  # metres a degree at 47° (handbook of geodesy)
    far = victim(latitude_deg=north, site_id=2, site_code="S2")
    (draft,) = pairs(judged([sender(tx_power_dbm=60.0), far], OPEN), "receiver_blocking")
    isolation = 22.0 + 20.0 * math.log10(100.0 * 410e6 / 299_792_458.0) - 12.0
    assert value(draft, "Isolation between the antennas, estimate") == pytest.approx(-isolation, abs=0.05)
    assert draft.severity == "must_fix"
    assert draft.parties.site_id == 2


def test_beyond_the_near_site_distance_nothing_is_found() -> None:
    far = victim(latitude_deg=47.0 + 510.0 / 111_180.0, site_id=2)
    assert of_kind(judged([sender(tx_power_dbm=60.0), far], OPEN), "receiver_blocking") == []


def test_the_order_of_stations_changes_nothing() -> None:
    stations = [sender(1, 410.0), sender(2, 410.3), sender(3, 410.9), victim()]
    one, other = (
        {d.identity: round(d.margin or 0.0, 6) for d in judged(order, OPEN)}
        for order in (stations, stations[::-1])
    )
    assert one == other
