"""Any sequence of allowed steps keeps what is true of a licence. The rules are our own; the check is a search."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from licences.life import (
    FIELDS,
    Entered,
    Life,
    Step,
    StepRefusedError,
    Taken,
    Terms,
    allowed_steps,
    as_of,
    broken_invariants,
    coming_days,
    take,
)
from licences.life.days import renewal_of
from licences.life.steps import SETS
from licences.standing import Ending, Standing, continues, standing_by_dates

BEGIN = dt.date(2020, 1, 1)
TODAY = dt.date(2030, 1, 1)
ENDED = {Standing(each.value) for each in Ending}


def day(offset: int) -> dt.date:
    return BEGIN + dt.timedelta(days=offset)


days = st.integers(0, 3700).map(day)
terms_of_any_authority = st.builds(
    Terms,
    window_opens_days=st.integers(60, 400),
    last_filing_days=st.integers(-60, 60),
    renewable=st.booleans(),
    continues_while_undecided=st.booleans(),
    bring_into_use_months=st.none() | st.integers(1, 24),
    use_notice_days=st.none() | st.integers(0, 60),
    longest_term_months=st.none() | st.integers(12, 180),
    fee_grace_days=st.integers(0, 60),
)
wishes = st.builds(
    Taken,
    step=st.sampled_from(Step),
    on=days,
    in_force_from=st.none() | days,
    until=st.none() | days,
    fee_due_on=st.none() | days,
    holder_id=st.integers(1, 3),
    corrected=st.lists(
        st.tuples(
            st.sampled_from(["expires_on", "brought_into_use_on", "ended_on", "fee_due_on"]), st.none() | days
        ),
        max_size=2,
    ).map(tuple),
)
beginnings = st.one_of(
    st.builds(Life, applied_on=days, holder_id=st.just(1)),
    st.builds(
        lambda granted, wait, lasts, fee: Life(
            granted_on=day(granted), in_force_from=day(granted + wait),
            expires_on=day(granted + wait + lasts) if lasts else None,
            fee_due_on=day(granted + fee) if fee else None, holder_id=1,
        ),
        st.integers(0, 900), st.integers(0, 60), st.integers(0, 2500), st.integers(0, 800),
    ),
)  # fmt: skip


@dataclass
class Walk:
    """A licence led through the steps that are allowed, with what each replaced; its own bookkeeping."""

    life: Life
    terms: Terms
    entered: list[tuple[Taken, dict[str, tuple[Any, Any]]]] = field(default_factory=list)

    def wish(self, taken: Taken) -> bool:
        last = [
            one.on
            for one, changes in self.entered
            if one.step is not Step.CORRECT and set(changes) & set(SETS[taken.step])
        ]
        try:
            after = take(self.life, self.terms, taken, today=TODAY, after=max(last, default=None))
        except StepRefusedError as refused:
            assert refused.sentence.endswith(".")
            return False
        changes = {
            name: (getattr(self.life, name), getattr(after, name))
            for name in FIELDS
            if getattr(self.life, name) != getattr(after, name)
        }
        if taken.step is not Step.CORRECT:
            assert set(changes) <= set(SETS[taken.step])
        self.entered.append((taken, changes))
        self.life = after
        return True

    def stands(self, on: dt.date) -> Standing:
        return standing_by_dates(self.life, renewal_of(self.life, self.terms), on)


@settings(max_examples=300, deadline=None)
@given(beginnings, terms_of_any_authority, st.lists(wishes, max_size=14))
def test_any_sequence_of_allowed_steps_keeps_the_invariants(
    begin: Life, terms: Terms, sequence: list[Taken]
) -> None:
    walk = Walk(begin, terms)
    assert broken_invariants(begin, terms) == []
    for taken in sequence:
        before = walk.life
        took = walk.wish(taken)
        assert broken_invariants(walk.life, terms) == []
        if not took:
            assert walk.life == before
            continue
        if before.ended_on is not None and taken.step is not Step.CORRECT:
            assert (walk.life.ended_on, walk.life.ended_how) == (before.ended_on, before.ended_how)
            assert taken.on < before.ended_on
        if walk.life.ended_on is not None:
            for later in (0, 1, 400):
                assert walk.stands(walk.life.ended_on + dt.timedelta(days=later)) in ENDED
        if walk.life.granted_on is None:
            assert not walk.stands(taken.on).allows_transmission
        if taken.step in (Step.BRING_INTO_USE, Step.TRANSFER):
            assert standing_by_dates(before, renewal_of(before, terms), taken.on).allows_transmission
        _is_decided_as_it_should(before, walk, taken)
        days_ahead = [one.on for one in coming_days(walk.life, terms)]
        assert days_ahead == sorted(days_ahead)
        assert all(walk.life.ended_on is None or one < walk.life.ended_on for one in days_ahead)


def _is_decided_as_it_should(before: Life, walk: Walk, taken: Taken) -> None:
    """After a step: what continues is valid after its expiry, no day is missing once it is renewed, a refusal ends it."""
    went_on = continues(before, renewal_of(before, walk.terms))
    last = before.expires_on
    if taken.step is Step.CORRECT or last is None:
        return
    if went_on and taken.on > last and before.ended_on is None:
        assert walk.terms.continues_while_undecided
        assert standing_by_dates(before, renewal_of(before, walk.terms), taken.on) is Standing.CONTINUES
        if taken.step is Step.REFUSE_RENEWAL:
            assert walk.stands(taken.on) is Standing.REFUSED
            assert walk.stands(taken.on - dt.timedelta(days=1)).allows_transmission
        if taken.step is Step.RENEW:
            assert walk.life.expires_on is not None and walk.life.expires_on > last
            assert walk.stands(last + dt.timedelta(days=1)).allows_transmission
    elif taken.step is Step.REFUSE_RENEWAL:
        assert (walk.life.ended_on, walk.life.expires_on) == (before.ended_on, last)
        assert walk.stands(last + dt.timedelta(days=1)) is Standing.EXPIRED


filed_and_past = st.builds(
    lambda lasts, filed: Life(
        granted_on=BEGIN, in_force_from=BEGIN, expires_on=day(lasts),
        renewal_filed_on=day(lasts - filed), holder_id=1,
    ),
    st.integers(500, 900), st.integers(0, 60),
)  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(filed_and_past, st.integers(1, 300), st.lists(wishes, max_size=4), st.data())
def test_what_continues_is_renewed_refused_or_ended_from_the_day_on_which_that_is_decided(
    life: Life, later: int, sequence: list[Taken], data: st.DataObject
) -> None:
    terms = Terms(window_opens_days=60, last_filing_days=0, continues_while_undecided=True)
    walk = Walk(life, terms)
    last = life.expires_on
    assert last is not None
    for taken in sequence:
        walk.wish(taken)
    step = data.draw(st.sampled_from([Step.RENEW, Step.REFUSE_RENEWAL, Step.SURRENDER, Step.CANCEL]))
    before, on = walk.life, last + dt.timedelta(days=later)
    took = walk.wish(Taken(step=step, on=on, until=last + dt.timedelta(days=400)))
    if took:
        _is_decided_as_it_should(before, walk, Taken(step=step, on=on))
        assert walk.stands(on).allows_transmission is (step is Step.RENEW)
    elif not walk.entered:
        raise AssertionError(f"{step} on {on} was refused.")


@settings(max_examples=200, deadline=None)
@given(beginnings, terms_of_any_authority, st.lists(wishes, max_size=14), days)
def test_the_past_is_what_stood_then_and_the_present_is_untouched(
    begin: Life, terms: Terms, sequence: list[Taken], asked: dt.date
) -> None:
    walk = Walk(begin, terms)
    for taken in sequence:
        if taken.step is not Step.CORRECT:
            walk.wish(taken)
    history = [
        Entered(taken.step, taken.on, {name: old for name, (old, _) in changes.items()})
        for taken, changes in walk.entered
    ]
    stood = as_of(walk.life, history, asked)
    for name in (
        FIELDS
    ):  # each date by itself: what the last step of its own left by that day, else what was entered first
        expected = getattr(begin, name)
        for taken, changes in walk.entered:
            if name in changes and taken.on <= asked:
                expected = changes[name][1]
        assert getattr(stood, name) == expected, name
    assert as_of(walk.life, history, dt.date.max) == walk.life


@settings(max_examples=150, deadline=None)
@given(beginnings, terms_of_any_authority, st.lists(wishes, max_size=8))
def test_a_step_that_is_offered_can_be_taken_and_one_that_is_not_says_why(
    begin: Life, terms: Terms, sequence: list[Taken]
) -> None:
    walk = Walk(begin, terms)
    for taken in sequence:
        walk.wish(taken)
    offered = allowed_steps(walk.life, terms, TODAY)
    assert set(offered) == set(Step)
    for step in Step:
        if offered[step]:
            assert offered[step].endswith(".")
            example = Taken(
                step=step, on=TODAY, until=day(9000), holder_id=99, corrected=(("expires_on", day(9000)),)
            )
            try:
                take(walk.life, terms, example, today=TODAY)
            except StepRefusedError:
                continue
            # It could be entered with other dates than the offer tried: only a step with an own day may.
            raise AssertionError(f"{step} was not offered ({offered[step]}) and could be taken.")
