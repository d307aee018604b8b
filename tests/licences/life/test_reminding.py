"""Which reminders follow from a licence's dates and its authority's policy. The days were counted with a calendar."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from licences.life import Life, StepKind, Terms, Topic, due_on_day, reminder_steps
from licences.models import RenewalPolicy

day = dt.date.fromisoformat
LIFE = Life(granted_on=day("2020-01-01"), in_force_from=day("2020-01-01"), expires_on=day("2026-12-31"))
TERMS = Terms(window_opens_days=90, last_filing_days=30, reminder_steps_days=(30, 7, 0))


def steps_of(life: Life, terms: Terms = TERMS) -> list[tuple[str, int, str]]:
    return [(s.kind.value, s.days_before, str(s.due_on)) for s in reminder_steps(life, terms)]


def test_the_steps_of_a_renewal_in_the_order_they_fall_due() -> None:
    assert steps_of(LIFE) == [
        ("window_opens", 0, "2026-10-02"),
        ("before_last_day", 30, "2026-11-01"),
        ("before_last_day", 7, "2026-11-24"),
        ("before_last_day", 0, "2026-12-01"),
        ("expired", -1, "2027-01-01"),
    ]


def test_steps_before_the_window_before_the_expiry_and_after_it() -> None:
    terms = replace(
        TERMS, window_steps_days=(14,), reminder_steps_days=(), expiry_steps_days=(10,),
        after_expiry_steps_days=(1, 30),
    )  # fmt: skip
    assert steps_of(LIFE, terms) == [
        ("window_opens", 14, "2026-09-18"),
        ("before_expiry", 10, "2026-12-21"),
        ("expired", -1, "2027-01-01"),
        ("expired", -30, "2027-01-30"),
    ]


def test_steps_before_use_its_notice_and_a_fee() -> None:
    life = Life(
        granted_on=day("2026-01-01"), in_force_from=day("2026-01-01"), bring_into_use_by=day("2026-07-01"),
        use_notice_by=day("2026-07-15"), fee_due_on=day("2026-06-30"),
    )  # fmt: skip
    terms = Terms(use_steps_days=(30,), notice_steps_days=(14,), fee_steps_days=(7, 0))
    assert steps_of(life, terms) == [
        ("bring_into_use", 30, "2026-06-01"),
        ("fee", 7, "2026-06-23"),
        ("fee", 0, "2026-06-30"),
        ("use_notice", 14, "2026-07-01"),
    ]
    done = replace(life, brought_into_use_on=day("2026-05-01"), use_notified_on=day("2026-05-02"))
    assert {kind for kind, _, _ in steps_of(done, terms)} == {"fee"}


@pytest.mark.parametrize(
    ("change", "left"),
    [
        ({"renewal_filed_on": day("2026-11-01")}, {"undecided"}),
        ({"let_expire_on": day("2026-11-01")}, {"expired"}),
        ({"ended_on": day("2027-06-01")}, set()),
        ({"granted_on": None, "in_force_from": None}, set()),
    ],
    ids=["filed", "let expire", "an end is known", "applied for"],
)
def test_what_was_decided_ends_the_reminders_of_a_renewal(change: dict[str, Any], left: set[str]) -> None:
    terms = replace(TERMS, expiry_steps_days=(10,))
    assert {kind for kind, _, _ in steps_of(replace(LIFE, **change), terms)} == left


@pytest.mark.parametrize("continues", [True, False])
def test_what_was_filed_and_is_undecided_after_the_expiry_is_reminded_of_until_it_is_decided(
    continues: bool,
) -> None:
    terms = replace(TERMS, after_expiry_steps_days=(1, 30), continues_while_undecided=continues)
    filed = replace(LIFE, renewal_filed_on=day("2026-11-01"))
    assert steps_of(filed, terms) == [("undecided", -1, "2027-01-01"), ("undecided", -30, "2027-01-30")]
    assert due_on_day(filed, terms, day("2026-12-31")) == []
    renewed = replace(filed, renewal_filed_on=None, expires_on=day("2031-12-31"))
    assert "undecided" not in {kind for kind, _, _ in steps_of(renewed, terms)}
    assert steps_of(replace(filed, ended_on=day("2027-02-01"), ended_how="refused"), terms) == []


def test_what_cannot_be_renewed_is_reminded_of_before_its_expiry_only() -> None:
    terms = replace(TERMS, renewable=False, expiry_steps_days=(10,))
    assert {kind for kind, _, _ in steps_of(LIFE, terms)} == {"before_expiry", "expired"}


def test_only_the_latest_step_of_each_topic_matters() -> None:
    life = replace(LIFE, fee_due_on=day("2026-12-05"))
    terms = replace(TERMS, fee_steps_days=(30,))
    assert due_on_day(life, terms, day("2026-10-01")) == []
    renewal, fee = due_on_day(life, terms, day("2026-11-30"))
    assert (renewal.matters.kind, renewal.matters.days_before) == (StepKind.BEFORE_LAST_DAY, 7)
    assert [each.days_before for each in renewal.overtaken] == [0, 30]
    assert (fee.matters.topic, fee.matters.act_by, fee.overtaken) == (Topic.FEE, day("2026-12-05"), ())


def test_on_one_day_the_more_urgent_step_matters() -> None:
    terms = Terms(window_opens_days=30, last_filing_days=0, reminder_steps_days=(30,))
    (due,) = due_on_day(LIFE, terms, day("2026-12-01"))
    assert due.matters.kind is StepKind.BEFORE_LAST_DAY
    assert [each.kind for each in due.overtaken] == [StepKind.WINDOW_OPENS]


def test_the_day_to_act_by_is_the_last_filing_day_and_not_the_expiry() -> None:
    acts = {step.kind.value: str(step.act_by) for step in reminder_steps(LIFE, TERMS)}
    assert acts == {
        "window_opens": "2026-12-01",
        "before_last_day": "2026-12-01",
        "expired": "2026-12-31",
    }


days = st.dates(dt.date(1, 1, 1), dt.date(9999, 12, 31))
counts = st.integers(0, 4000)


@given(days, days, counts, counts, st.lists(counts, max_size=5, unique=True))
def test_no_dates_break_it(
    expires_on: dt.date, on: dt.date, window: int, last: int, steps: list[int]
) -> None:
    terms = Terms(
        window_opens_days=max(window, last), last_filing_days=min(window, last),
        reminder_steps_days=tuple(steps), expiry_steps_days=tuple(steps), fee_steps_days=tuple(steps),
    )  # fmt: skip
    life = Life(
        granted_on=dt.date.min, in_force_from=dt.date.min, expires_on=expires_on, fee_due_on=expires_on
    )
    for due in due_on_day(life, terms, on):
        assert due.matters.due_on <= on
        assert all(each.due_on <= due.matters.due_on for each in due.overtaken)
        assert all(each.topic is due.matters.topic for each in due.overtaken)


def test_a_new_policy_reminds_on_the_day_the_window_opens() -> None:
    first = reminder_steps(LIFE, RenewalPolicy().terms)[0]
    assert first.due_on == day("2026-12-31") - dt.timedelta(days=180)
