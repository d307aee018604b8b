"""Transmitting high and low from one mast; documented exceptions."""

from __future__ import annotations

import pytest

from sites.band_exceptions import BandException, BandExceptionError, band_exceptions
from spectrum.conflicts.drafts import Draft
from spectrum.conflicts.network import StationRecord
from tests.spectrum.conflicts.made import TODAY
from tests.spectrum.conflicts.site_checks.made import at_one_site, judged, of_kind

LOW = at_one_site(1, 410.1, 420.1)
HIGH = at_one_site(2, 424.5, 414.5)


def clashes(
    *stations: StationRecord, exceptions: dict[int, tuple[BandException, ...]] | None = None
) -> list[Draft]:
    return of_kind(judged(stations, exceptions=exceptions), "band_half_clash")


def test_one_finding_names_who_sends_high_and_who_sends_low() -> None:
    (draft,) = clashes(LOW, HIGH)
    assert (draft.parties.link_id, draft.parties.other_link_id, draft.severity) == (2, 1, "must_fix")
    assert "L-002/A transmits high, L-001/A transmits low" in draft.headline
    assert clashes(HIGH, LOW)[0].identity == draft.identity


@pytest.mark.parametrize(
    "other",
    [
        at_one_site(2, 411.0, 421.0),  # low like the first
        at_one_site(2, 460.0, 450.0),  # high, in another band
        at_one_site(2, 430.2, 420.2),  # high, its halves a whole spacing further up
        at_one_site(2, 424.5, None),  # hears nothing
        at_one_site(1, 424.5, 414.5, label="B", id=999),  # the same link
        at_one_site(2, 424.5, 414.5, link={"starts_on": TODAY.replace(year=2040)}),
        at_one_site(2, 424.5, 414.5, site_id=2, latitude_deg=47.0 + 60.0 / 111_180.0),  # another mast
    ],
)  # fmt: skip
def test_who_does_not_clash(other: StationRecord) -> None:
    early = at_one_site(1, 410.1, 420.1, link={"ends_on": TODAY.replace(year=2039)})
    assert clashes(early, other) == []


def test_the_ends_of_the_halves_clash_too() -> None:
    """410 to 420 and 420 to 430 MHz: the lowest pair with the highest."""
    assert len(clashes(at_one_site(1, 410.0125, 420.0125), at_one_site(2, 429.9875, 419.9875))) == 1


def test_two_records_of_one_mast_are_one_mast() -> None:
    near = at_one_site(2, 424.5, 414.5, site_id=2, latitude_deg=47.0 + 40.0 / 111_180.0)
    assert [d.parties.site_id for d in clashes(LOW, near)] == [2]


def test_with_another_party_a_person_decides_and_among_others_nothing_is_said() -> None:
    theirs = at_one_site(2, 424.5, 414.5, link={"own": False})
    assert [d.severity for d in clashes(LOW, theirs)] == ["decide"]
    assert clashes(at_one_site(1, 410.1, 420.1, link={"own": False}), theirs) == []


def test_a_documented_exception_is_a_note_with_its_reason() -> None:
    reason = "one hop turned round, letter of 2024-03-04"
    (draft,) = clashes(LOW, HIGH, exceptions={1: (BandException(410.0, 430.0, reason),)})
    assert draft.severity == "note"
    assert reason in draft.cure
    assert any(row.value == reason for row in draft.evidence)
    assert draft.identity == clashes(LOW, HIGH)[0].identity


@pytest.mark.parametrize(
    "exceptions",
    [
        {1: (BandException(450.0, 470.0, "another band"),)},
        {1: (BandException(410.0, 424.0, "does not hold all four frequencies"),)},
        {7: (BandException(410.0, 430.0, "another site"),)},
    ],
)
def test_an_exception_holds_for_its_site_and_band_only(
    exceptions: dict[int, tuple[BandException, ...]],
) -> None:
    assert [d.severity for d in clashes(LOW, HIGH, exceptions=exceptions)] == ["must_fix"]


def test_exceptions_are_read_one_a_line() -> None:
    text = "410-430: letter of 2024-03-04\n\n 450.5 to 460 MHz : agreed: both ways\n"
    assert band_exceptions(text) == (
        BandException(410.0, 430.0, "letter of 2024-03-04"),
        BandException(450.5, 460.0, "agreed: both ways"),
    )


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("410-430", "Line 1"),
        ("\nupper band: yes", "Line 2"),
        ("430-410: turned", "lower end must come first"),
        ("410-430:", "Line 1"),
    ],
)
def test_what_is_no_exception_is_refused_in_words(text: str, said: str) -> None:
    with pytest.raises(BandExceptionError, match=said):
        band_exceptions(text)
