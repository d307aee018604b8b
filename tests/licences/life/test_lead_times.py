"""Renewal and construction terms as data: public examples, each row of the table of lead times beside its dates.

The table (lead_times.csv) cites the texts; a row marked "memory" was not verified in a text, and says so here too.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from licences.life import Life, Step, StepRefusedError, Taken, Terms, take
from licences.life.days import lapses_on, renewal_of
from tests.reference_tables import outside_table


def day(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


#: Regulator, event of the table → the terms as the register keeps them.
US = Terms(window_opens_days=90, last_filing_days=0, longest_term_months=120)
US_MICROWAVE = Terms(bring_into_use_months=18, use_notice_days=15)
US_LAND_MOBILE = Terms(bring_into_use_months=12, use_notice_days=15)
# Six calendar months are 181 to 184 days; the shortest opens the window a little late, never early.
AU = Terms(window_opens_days=181, last_filing_days=-60)
USED = [
    (
        "FCC",
        "Renewal of wireless licence",
        "47 CFR 1.949(a)",
        "no sooner than 90 days before and no later than expiry",
    ),
    ("FCC", "Maximum term", "47 CFR 1.955(a)(1)", "10 years"),
    ("FCC", "Construction of a Part 101 microwave station", "47 CFR 101.63", "18 months of grant"),
    ("FCC", "Construction of a Part 90 land-mobile station", "47 CFR 90.155", "12 months from grant"),
    (
        "FCC",
        "Construction notification",
        "47 CFR 1.946(d)",
        "within 15 days after the construction period ends",
    ),
    ("ACMA", "Renewal of apparatus licence", "s129(3)", "6 months before expiry to 60 days after expiry"),
    ("ACMA", "Licence may carry renewal statement", "s103A", "store on the licence"),
    ("RSM NZ", "Licence", "memory", "annual fee on due date"),
]


@pytest.mark.parametrize(("regulator", "event", "source", "words"), USED)
def test_the_table_of_lead_times_says_so(regulator: str, event: str, source: str, words: str) -> None:
    rows = [r for r in outside_table("trade/lead_times.csv") if r["regulator"] == regulator]
    row = next(r for r in rows if r["event"].startswith(event))
    assert source in row["source"]
    assert words in f"{row['window']} {row['consequence']}"


def held(**changes: Any) -> Life:
    values = {
        "granted_on": day("2016-07-01"),
        "in_force_from": day("2016-07-01"),
        "expires_on": day("2026-06-30"),
    }
    return Life(**{**values, **changes})


def filed(terms: Terms, on: str) -> bool:
    try:
        take(held(), terms, Taken(step=Step.FILE_RENEWAL, on=day(on)), today=day("2027-01-01"))
    except StepRefusedError:
        return False
    return True


def test_a_us_renewal_is_filed_in_the_ninety_days_up_to_the_expiry() -> None:
    """47 CFR 1.949(a): 90 days before 30 June 2026 is 1 April."""
    assert [filed(US, on) for on in ("2026-03-31", "2026-04-01", "2026-06-30", "2026-07-01")] == [
        False, True, True, False,
    ]  # fmt: skip


def test_a_us_term_is_ten_years_at_most() -> None:
    """47 CFR 1.955(a)(1)."""
    life = Life(applied_on=day("2026-01-01"))
    granted = Taken(step=Step.GRANT, on=day("2026-02-01"), until=day("2036-02-01"))
    assert take(life, US, granted, today=day("2026-03-01")).expires_on == day("2036-02-01")
    with pytest.raises(StepRefusedError, match="at most 120 months"):
        take(life, US, Taken(step=Step.GRANT, on=day("2026-02-01")), today=day("2026-03-01"))


@pytest.mark.parametrize(
    ("terms", "use_by", "notice_by"),
    [(US_MICROWAVE, "2027-08-15", "2027-08-30"), (US_LAND_MOBILE, "2027-02-15", "2027-03-02")],
    ids=["47 CFR 101.63 and 1.946(d)", "47 CFR 90.155 (12 months from memory) and 1.946(d)"],
)
def test_us_construction_and_its_notice_are_two_dates(terms: Terms, use_by: str, notice_by: str) -> None:
    granted = Taken(step=Step.GRANT, on=day("2026-02-15"), until=day("2036-02-14"))
    life = take(Life(applied_on=day("2026-01-01")), terms, granted, today=day("2026-03-01"))
    assert (life.bring_into_use_by, life.use_notice_by) == (day(use_by), day(notice_by))


def test_an_australian_renewal_may_still_be_filed_sixty_days_after_the_expiry() -> None:
    """Radiocommunications Act 1992 s129(3): 60 days after 30 June 2026 is 29 August."""
    dates = renewal_of(held(), AU)
    assert dates is not None
    assert dates.last_filing_on == day("2026-08-29")
    assert day("2025-12-30") <= dates.window_opens_on <= day("2026-01-01")
    assert [filed(AU, on) for on in ("2025-12-29", "2026-07-15", "2026-08-29", "2026-08-30")] == [
        False, True, True, False,
    ]  # fmt: skip


def test_a_licence_that_states_it_is_not_renewed_is_not() -> None:
    """Radiocommunications Act 1992 s103A, s130(2C): the statement stands on the licence."""
    assert not filed(Terms(renewable=False), "2026-06-01")


def test_a_yearly_fee_unpaid_after_its_grace_ends_the_licence() -> None:
    """Annual fee, cancelled if unpaid (New Zealand; from memory). The thirty days of grace are invented."""
    life = held(expires_on=None, fee_due_on=day("2026-07-01"))
    assert lapses_on(life, Terms(fee_grace_days=30)) == day("2026-08-01")
