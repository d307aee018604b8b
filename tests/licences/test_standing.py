"""How a licence stands on a day: dates worked out by hand with a calendar; the rules are our own."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from licences.models import RenewalPolicy
from licences.standing import (
    ChannelDates,
    Ending,
    Standing,
    channel_dates,
    renewal_dates,
    standing,
)


def day(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


@dataclass
class Policy:
    window_opens_days: int = 90
    last_filing_days: int = 30
    renewable: bool = True
    continues_while_undecided: bool = False


LICENCE = ChannelDates(day("2026-01-01"), day("2026-12-31"), None, None)


def test_dates_of_a_renewal_count_back_from_the_last_day_of_validity() -> None:
    dates = renewal_dates(day("2026-12-31"), Policy())
    assert (dates.window_opens_on, dates.last_filing_on) == (day("2026-10-02"), day("2026-12-01"))


@pytest.mark.parametrize(
    ("on", "expected"),
    [
        ("2025-12-31", Standing.NOT_YET_IN_FORCE),
        ("2026-01-01", Standing.IN_FORCE),
        ("2026-10-01", Standing.IN_FORCE),
        ("2026-10-02", Standing.RENEWAL_OPEN),
        ("2026-12-01", Standing.RENEWAL_OPEN),
        ("2026-12-02", Standing.FILING_MISSED),
        ("2026-12-31", Standing.FILING_MISSED),
        ("2027-01-01", Standing.EXPIRED),
    ],
)
def test_each_day_of_change_is_on_the_right_side(on: str, expected: Standing) -> None:
    assert standing(LICENCE, Policy(), day(on)) is expected


def test_a_filed_renewal_shows_from_the_day_it_was_filed() -> None:
    filed = replace(LICENCE, renewal_filed_on=day("2026-11-01"))
    assert standing(filed, Policy(), day("2026-10-31")) is Standing.RENEWAL_OPEN
    assert standing(filed, Policy(), day("2026-11-01")) is Standing.FILED
    assert standing(filed, Policy(), day("2026-12-15")) is Standing.FILED
    assert standing(filed, Policy(), day("2027-01-01")) is Standing.EXPIRED


@pytest.mark.parametrize(
    ("filed", "last_filing_days", "after"),
    [
        ("2026-12-01", 30, Standing.CONTINUES),
        ("2026-12-02", 30, Standing.EXPIRED),  # after the last filing day
        ("2026-12-31", 0, Standing.CONTINUES),
        ("2027-01-01", -60, Standing.EXPIRED),  # it was not pending when the licence expired
    ],
)
def test_a_renewal_pending_at_the_expiry_keeps_it_in_force_where_the_authority_says_so(
    filed: str, last_filing_days: int, after: Standing
) -> None:
    """47 CFR 1.62(a)(1), 2017 edition: proper and timely, pending when it expired; until the final determination."""
    lets = Policy(last_filing_days=last_filing_days, continues_while_undecided=True)
    licence = replace(LICENCE, renewal_filed_on=day(filed))
    for on in ("2027-01-01", "2029-01-01"):
        assert standing(licence, lets, day(on)) is after
        assert standing(licence, replace(lets, continues_while_undecided=False), day(on)) is Standing.EXPIRED
    assert standing(licence, lets, day("2026-12-31")) is not Standing.CONTINUES
    refused = replace(licence, ended_on=day("2027-02-01"), ended_how="refused")
    assert standing(refused, lets, day("2027-01-31")) is after
    assert standing(refused, lets, day("2027-02-01")) is Standing.REFUSED


@pytest.mark.parametrize(
    ("own", "after"),
    [(None, Standing.CONTINUES), ("2026-12-31", Standing.CONTINUES), ("2026-12-30", Standing.EXPIRED)],
)
def test_a_channel_continues_with_its_licence_unless_its_own_end_is_earlier(
    own: str | None, after: Standing
) -> None:
    lets = Policy(continues_while_undecided=True)
    licence = replace(LICENCE, renewal_filed_on=day("2026-10-15"))
    dates = channel_dates(licence, expires_on=None if own is None else day(own))
    assert standing(dates, lets, day("2027-01-01")) is after
    assert standing(dates, lets, day("2026-12-30")) is Standing.FILED


def test_an_end_before_its_time_counts_from_its_day() -> None:
    ended = replace(LICENCE, ended_on=day("2026-06-01"))
    assert standing(ended, Policy(), day("2026-05-31")) is Standing.IN_FORCE
    assert standing(ended, Policy(), day("2026-06-01")) is Standing.ENDED
    assert standing(ended, Policy(), day("2028-01-01")) is Standing.ENDED


@pytest.mark.parametrize("how", Ending)
def test_an_end_says_how_it_came(how: Ending) -> None:
    ended = replace(LICENCE, ended_on=day("2026-06-01"), ended_how=how.value)
    assert standing(ended, Policy(), day("2026-06-01")).value == how.value


def test_what_is_not_granted_is_applied_for() -> None:
    applied = ChannelDates(None, None, None, None)
    assert standing(applied, Policy(), day("2026-06-01")) is Standing.APPLIED
    assert channel_dates(applied, in_force_from=day("2026-03-01")).in_force_from is None


def test_what_cannot_be_renewed_is_in_force_until_its_last_day() -> None:
    never = Policy(renewable=False)
    assert standing(LICENCE, never, day("2026-12-31")) is Standing.IN_FORCE
    assert standing(LICENCE, never, day("2027-01-01")) is Standing.EXPIRED


def test_a_channel_ended_alone_says_how_it_ended_and_not_how_its_licence_did() -> None:
    later = replace(LICENCE, ended_on=day("2026-09-01"), ended_how="cancelled")
    own = channel_dates(later, ended_on=day("2026-06-01"), ended_how="surrendered")
    assert (own.ended_on, own.ended_how) == (day("2026-06-01"), "surrendered")
    assert channel_dates(later, ended_on=day("2026-10-01"), ended_how="surrendered").ended_how == "cancelled"


def test_without_a_fixed_end_it_stays_in_force() -> None:
    assert standing(replace(LICENCE, expires_on=None), Policy(), day("2099-01-01")) is Standing.IN_FORCE


@pytest.mark.parametrize("each", Standing)
def test_every_standing_has_words_and_says_whether_it_allows_transmission(each: Standing) -> None:
    assert each.words
    allowed = {
        Standing.IN_FORCE, Standing.RENEWAL_OPEN, Standing.FILED, Standing.FILING_MISSED, Standing.CONTINUES,
    }  # fmt: skip
    assert each.allows_transmission is (each in allowed)


def test_a_channel_is_valid_within_its_licence() -> None:
    own = channel_dates(LICENCE, in_force_from=day("2026-03-01"), expires_on=day("2026-09-30"))
    assert (own.in_force_from, own.expires_on) == (day("2026-03-01"), day("2026-09-30"))
    assert channel_dates(LICENCE) == LICENCE
    outside = channel_dates(LICENCE, in_force_from=day("2025-01-01"), expires_on=day("2030-01-01"))
    assert outside == LICENCE
    endless = replace(LICENCE, expires_on=None)
    assert channel_dates(endless, expires_on=day("2026-09-30")).expires_on == day("2026-09-30")
    ended = replace(LICENCE, ended_on=day("2026-06-01"))
    assert channel_dates(ended, ended_on=day("2026-08-01")).ended_on == day("2026-06-01")


days = st.dates(dt.date(1, 1, 1), dt.date(9999, 12, 31))
counts = st.integers(0, 4000)


@given(days, days, counts, counts)
def test_no_dates_break_it(expires_on: dt.date, on: dt.date, window: int, last: int) -> None:
    policy = Policy(max(window, last), min(window, last))
    dates = renewal_dates(expires_on, policy)
    assert dates.window_opens_on <= dates.last_filing_on <= expires_on
    licence = ChannelDates(dt.date.min, expires_on, None, None)
    assert (standing(licence, policy, on) is Standing.EXPIRED) == (on > expires_on)


def test_the_model_is_a_policy() -> None:
    dates = renewal_dates(day("2026-12-31"), RenewalPolicy())
    assert dates.window_opens_on == day("2026-12-31") - dt.timedelta(days=180)
