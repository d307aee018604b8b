"""Each step of a licence: when it is allowed, what dates follow, and the sentence where it is not."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import pytest

from licences.life import Life, Step, StepRefusedError, Taken, Terms, allowed_steps, coming_days, take
from licences.life.days import months_after
from licences.life.records import CHANNEL_STEPS
from licences.life.steps import end_channel


def day(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


TODAY = day("2026-06-01")
APPLIED = Life(applied_on=day("2026-01-10"), holder_id=1)
HELD = Life(
    granted_on=day("2021-07-01"), in_force_from=day("2021-07-01"), expires_on=day("2026-08-31"),
    fee_due_on=day("2026-07-01"), holder_id=1,
)  # fmt: skip
TERMS = Terms(
    window_opens_days=180, last_filing_days=30, bring_into_use_months=18, use_notice_days=15, longest_term_months=120,
    fee_grace_days=30,
)  # fmt: skip


def step(
    life: Life, kind: Step, on: str, *, terms: Terms = TERMS, today: dt.date = TODAY, **more: Any
) -> Life:
    return take(life, terms, Taken(step=kind, on=day(on), **more), today=today)


def refused(life: Life, kind: Step, on: str, **more: Any) -> str:
    with pytest.raises(StepRefusedError) as caught:
        step(life, kind, on, **more)
    return caught.value.sentence


def test_a_grant_gives_the_dates_that_follow_from_the_terms() -> None:
    held = step(APPLIED, Step.GRANT, "2026-03-15", until=day("2036-03-14"))
    assert (held.granted_on, held.in_force_from) == (day("2026-03-15"), day("2026-03-15"))
    assert (held.bring_into_use_by, held.use_notice_by) == (day("2027-09-15"), day("2027-09-30"))
    assert "at most 120 months" in refused(APPLIED, Step.GRANT, "2026-03-15", until=day("2036-03-16"))
    assert "granted on 2021-07-01 already" in refused(HELD, Step.GRANT, "2026-03-15")
    assert "before the application" in refused(APPLIED, Step.GRANT, "2026-01-09", until=day("2030-01-01"))


def test_nothing_but_the_grant_or_an_end_follows_an_application() -> None:
    open_steps = {kind for kind, why in allowed_steps(APPLIED, TERMS, TODAY).items() if not why}
    assert open_steps == {Step.GRANT, Step.SURRENDER, Step.CANCEL, Step.CORRECT}


def test_a_step_is_entered_when_it_has_happened_and_an_end_may_lie_ahead() -> None:
    assert "lies ahead" in refused(HELD, Step.BRING_INTO_USE, "2026-06-02")
    assert step(HELD, Step.SURRENDER, "2026-07-15").ended_on == day("2026-07-15")


def test_the_notice_of_use_has_its_own_day_and_comes_after_the_use() -> None:
    assert "not brought into use yet" in refused(HELD, Step.NOTIFY_USE, "2026-05-01")
    used = step(HELD, Step.BRING_INTO_USE, "2026-05-01")
    assert "before it began" in refused(used, Step.NOTIFY_USE, "2026-04-30")
    assert step(used, Step.NOTIFY_USE, "2026-05-04").use_notified_on == day("2026-05-04")
    assert "already" in refused(used, Step.BRING_INTO_USE, "2026-05-02")
    assert "needs a licence in force" in refused(HELD, Step.BRING_INTO_USE, "2021-06-30")


@pytest.mark.parametrize(
    ("on", "allowed"), [("2026-03-03", False), ("2026-03-04", True), ("2026-06-01", True)]
)
def test_a_renewal_is_filed_inside_its_window(on: str, allowed: bool) -> None:
    if allowed:
        assert step(HELD, Step.FILE_RENEWAL, on).renewal_filed_on == day(on)
    else:
        assert refused(HELD, Step.FILE_RENEWAL, on) == "The renewal may be filed from 2026-03-04 on."


def test_a_renewal_cannot_be_asked_for_after_the_last_filing_day() -> None:
    late = day("2026-08-20")
    assert step(HELD, Step.FILE_RENEWAL, "2026-08-01", today=late).renewal_filed_on == day("2026-08-01")
    assert "last filing day was 2026-08-01" in refused(HELD, Step.FILE_RENEWAL, "2026-08-02", today=late)
    # What was filed in time and not entered is still offered.
    assert allowed_steps(HELD, TERMS, late)[Step.FILE_RENEWAL] == ""


def test_a_renewal_prolongs_the_licence_and_opens_the_next_term() -> None:
    filed = step(HELD, Step.FILE_RENEWAL, "2026-05-01")
    assert "No renewal is filed" in refused(HELD, Step.RENEW, "2026-05-20", until=day("2031-08-31"))
    assert "a day after 2026-08-31" in refused(filed, Step.RENEW, "2026-05-20", until=day("2026-08-31"))
    assert "not decided before" in refused(filed, Step.RENEW, "2026-04-20", until=day("2031-08-31"))
    renewed = step(filed, Step.RENEW, "2026-05-20", until=day("2031-08-31"))
    assert (renewed.expires_on, renewed.renewal_filed_on) == (day("2031-08-31"), None)


def test_what_is_not_renewable_is_let_expire() -> None:
    never = replace(TERMS, renewable=False)
    assert "cannot be renewed" in refused(HELD, Step.FILE_RENEWAL, "2026-05-01", terms=never)
    assert [each.kind for each in coming_days(HELD, never)] == ["fee", "expires"]
    left = step(HELD, Step.LET_EXPIRE, "2026-05-01")
    assert [each.kind for each in coming_days(left, TERMS)] == ["fee", "expires"]
    # A change of mind: the filing takes the decision back.
    assert step(left, Step.FILE_RENEWAL, "2026-05-02").let_expire_on is None


def test_a_paid_fee_moves_to_its_next_anniversary_and_an_unpaid_one_lets_the_licence_lapse() -> None:
    long = replace(HELD, expires_on=None, fee_due_on=day("2026-04-01"))
    paid = step(long, Step.PAY_FEE, "2026-05-20")
    assert paid.fee_due_on == day("2027-04-01")
    assert "cannot lapse before 2026-05-02" in refused(long, Step.LAPSE, "2026-05-01")
    lapsed = step(long, Step.LAPSE, "2026-05-02")
    assert (lapsed.ended_on, lapsed.ended_how) == (day("2026-05-02"), "lapsed")
    assert "lapsed for an unpaid fee from 2026-05-02" in refused(lapsed, Step.PAY_FEE, "2026-05-20")


def test_nothing_follows_an_end_but_a_correction() -> None:
    given = step(HELD, Step.SURRENDER, "2026-05-01")
    open_steps = {kind for kind, why in allowed_steps(given, TERMS, TODAY).items() if not why}
    # A step of a day before the end, not entered in time, may still be entered.
    assert Step.CORRECT in open_steps
    assert not open_steps & {Step.SURRENDER, Step.CANCEL, Step.LAPSE, Step.GRANT}
    assert "nothing follows an end" in refused(given, Step.TRANSFER, "2026-05-02", holder_id=2)
    undone = step(given, Step.CORRECT, "2026-05-02", corrected=(("ended_on", None), ("ended_how", "")))
    assert undone == HELD


def test_a_transfer_needs_another_holder_and_a_licence_in_force() -> None:
    assert step(HELD, Step.TRANSFER, "2026-05-01", holder_id=2).holder_id == 2
    assert "another one" in refused(HELD, Step.TRANSFER, "2026-05-01", holder_id=1)
    assert "after the grant" in refused(APPLIED, Step.TRANSFER, "2026-05-01", holder_id=2)


def test_steps_about_the_same_dates_follow_each_other_in_time() -> None:
    with pytest.raises(StepRefusedError, match="in the order in which they happened"):
        take(
            HELD, TERMS, Taken(step=Step.PAY_FEE, on=day("2026-05-01")), today=TODAY, after=day("2026-05-02")
        )


GOES_ON = replace(TERMS, continues_while_undecided=True, longest_term_months=60)
PENDING = replace(
    HELD, expires_on=day("2026-03-31"), renewal_filed_on=day("2026-02-20"), fee_due_on=day("2026-05-01")
)


def test_a_licence_that_continues_lives_on_until_its_renewal_is_decided() -> None:
    assert step(PENDING, Step.TRANSFER, "2026-05-01", terms=GOES_ON, holder_id=2).holder_id == 2
    assert step(PENDING, Step.BRING_INTO_USE, "2026-05-01", terms=GOES_ON).brought_into_use_on
    assert step(PENDING, Step.PAY_FEE, "2026-05-01", terms=GOES_ON).fee_due_on == day("2027-05-01")
    assert step(PENDING, Step.SURRENDER, "2026-05-01", terms=GOES_ON).ended_on == day("2026-05-01")
    assert [one.kind for one in coming_days(PENDING, GOES_ON) if one.kind in ("fee", "expires")] == [
        "expires",
        "fee",
    ]
    ends = end_channel(PENDING, GOES_ON, None, None, Taken(step=Step.CANCEL, on=TODAY))
    assert ends["ended_on"] == TODAY
    for kind in (Step.TRANSFER, Step.BRING_INTO_USE, Step.PAY_FEE, Step.SURRENDER):
        assert "expire" in refused(PENDING, kind, "2026-05-01", holder_id=2), kind
    with pytest.raises(StepRefusedError, match="expired on 2026-03-31"):
        end_channel(PENDING, TERMS, None, None, Taken(step=Step.CANCEL, on=TODAY))


def test_a_late_decision_renews_from_the_old_last_day_and_its_longest_term_may_count_from_the_decision() -> (
    None
):
    renewed = step(PENDING, Step.RENEW, "2026-05-10", terms=GOES_ON, until=day("2031-05-10"))
    assert (renewed.expires_on, renewed.renewal_filed_on) == (day("2031-05-10"), None)
    assert "until 2031-05-10" in refused(
        PENDING, Step.RENEW, "2026-05-10", terms=GOES_ON, until=day("2031-05-11")
    )
    ends = replace(GOES_ON, continues_while_undecided=False)
    assert "until 2031-03-31" in refused(
        PENDING, Step.RENEW, "2026-05-10", terms=ends, until=day("2031-04-01")
    )


def test_a_refusal_ends_what_continues_on_its_day_and_nothing_else() -> None:
    ended = step(PENDING, Step.REFUSE_RENEWAL, "2026-05-10", terms=GOES_ON)
    assert (ended.ended_on, ended.ended_how) == (day("2026-05-10"), "refused")
    before = step(PENDING, Step.REFUSE_RENEWAL, "2026-03-31", terms=GOES_ON)
    assert (before.ended_on, before.renewal_filed_on) == (None, None)
    elsewhere = step(PENDING, Step.REFUSE_RENEWAL, "2026-05-10")
    assert (elsewhere.ended_on, elsewhere.renewal_filed_on) == (None, None)
    assert "No renewal is filed" in refused(HELD, Step.REFUSE_RENEWAL, "2026-05-10")
    assert "not decided before that" in refused(PENDING, Step.REFUSE_RENEWAL, "2026-02-19", terms=GOES_ON)
    assert "from 2026-05-10 already" in refused(ended, Step.REFUSE_RENEWAL, "2026-05-11", terms=GOES_ON)
    corrected = (("renewal_filed_on", None),)
    assert "none is filed" in refused(ended, Step.CORRECT, "2026-05-11", terms=GOES_ON, corrected=corrected)


def test_one_channel_is_ended_and_the_licence_stays() -> None:
    ends = end_channel(HELD, TERMS, None, None, Taken(step=Step.CANCEL, on=TODAY))
    assert ends == {"ended_on": TODAY, "ended_how": "cancelled"}
    for kind in set(Step) - set(CHANNEL_STEPS):
        with pytest.raises(StepRefusedError, match="whole licence"):
            end_channel(HELD, TERMS, None, None, Taken(step=kind, on=TODAY))
    with pytest.raises(StepRefusedError, match="already"):
        end_channel(HELD, TERMS, TODAY, None, Taken(step=Step.CANCEL, on=TODAY))
    with pytest.raises(StepRefusedError, match="begins on"):
        end_channel(HELD, TERMS, None, day("2026-06-02"), Taken(step=Step.CANCEL, on=TODAY))


@pytest.mark.parametrize(
    ("begin", "months", "expected"),
    [("2024-02-29", 12, "2025-02-28"), ("2026-08-31", 1, "2026-09-30"), ("2026-12-31", 2, "2027-02-28")],
)
def test_months_end_on_the_last_day_where_the_month_is_shorter(
    begin: str, months: int, expected: str
) -> None:
    assert months_after(day(begin), months) == day(expected)
