"""Which step is allowed when, and what it sets. Every refusal is one sentence that says what is in the way."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from licences.standing import Ending, Standing, continues, standing_by_dates
from sites.words import gettext, ngettext, written_day

from .days import days_after, lapses_on, months_after, renewal_of, runs_out_before_fee
from .invariants import broken_invariants
from .records import CHANNEL_STEPS, ENDING_STEPS, FIELDS, Life, Step, StepRefusedError, Taken, Terms

Rule = Callable[[Life, Terms, Taken], dict[str, Any]]


def take(life: Life, terms: Terms, taken: Taken, *, today: dt.date, after: dt.date | None = None) -> Life:
    """The dates after a step.

    Parameters
    ----------
    life, terms : the licence as it stands, and its authority's terms
    taken : the step, its day, and what it sets
    today : the day of entry; only an end may lie after it
    after : the last day of an earlier step that set the same dates, or None

    Raises
    ------
    StepRefusedError
        With a sentence that says why, and the field that it is about.
    """
    if taken.on > today and taken.step not in ENDING_STEPS:
        raise StepRefusedError(
            gettext("{on} lies ahead; a step is entered when it has happened.").format(
                on=written_day(taken.on)
            )
        )
    if taken.step is not Step.CORRECT:
        _not_ended(life, taken)
        if after is not None and taken.on < after:
            raise StepRefusedError(
                gettext(
                    "An earlier entry about the same dates is of {after}; steps are entered in the order in "
                    "which they happened. If that entry is wrong, correct the record."
                ).format(after=written_day(after))
            )
    changes = _RULES[taken.step](life, terms, taken)
    result = replace(life, **changes)
    new = [one for one in broken_invariants(result, terms) if one not in broken_invariants(life, terms)]
    if new:
        raise StepRefusedError(" ".join(new))
    return result


def allowed_steps(life: Life, terms: Terms, today: dt.date) -> dict[Step, str]:
    """Every step, with an empty sentence where it can be entered today, else why it cannot.

    A step that happened before and was not entered counts as well, so the days of change are tried too.
    """
    dates = renewal_of(life, terms)
    tried = [today, life.granted_on, life.in_force_from, life.brought_into_use_on, life.expires_on]
    tried += [dates.window_opens_on, dates.last_filing_on] if dates else []
    days = [day for day in tried if day is not None and day <= today]
    return {step: _why_not(life, terms, step, days, today) for step in Step}


def _why_not(life: Life, terms: Terms, step: Step, days: list[dt.date], today: dt.date) -> str:
    said = []
    for day in days:
        try:
            take(life, terms, _example(life, terms, step, day), today=today)
        except StepRefusedError as error:
            said.append(error.sentence)
        else:
            return ""
    return said[0]


#: Which dates a step sets; an end closes everything. Earlier entries on the same dates come first in time.
SETS: dict[Step, tuple[str, ...]] = {
    Step.GRANT: (
        "granted_on", "in_force_from", "expires_on", "bring_into_use_by", "use_notice_by", "fee_due_on",
    ),
    Step.BRING_INTO_USE: ("brought_into_use_on",),
    Step.NOTIFY_USE: ("use_notified_on",),
    Step.FILE_RENEWAL: ("renewal_filed_on", "let_expire_on"),
    Step.RENEW: ("expires_on", "renewal_filed_on"),
    Step.REFUSE_RENEWAL: FIELDS,
    Step.LET_EXPIRE: ("let_expire_on",),
    Step.PAY_FEE: ("fee_due_on",),
    Step.LAPSE: FIELDS,
    Step.TRANSFER: ("holder_id",),
    Step.SURRENDER: FIELDS,
    Step.CANCEL: FIELDS,
    Step.CORRECT: (),
}  # fmt: skip


def end_channel(
    licence: Life, terms: Terms, ended_on: dt.date | None, first: dt.date | None, taken: Taken
) -> dict[str, Any]:
    """What ending one channel alone sets on the channel; ``first`` is its first day of validity, if it has its own.

    ``licence`` and ``terms`` are those of its licence.
    """
    if taken.step not in CHANNEL_STEPS:
        raise StepRefusedError(
            gettext("“{step}” is a step of the whole licence, not of one channel.").format(
                step=taken.step.words
            ),
            "step",
        )
    if ended_on is not None:
        raise StepRefusedError(
            gettext("The channel ended on {day} already.").format(day=written_day(ended_on))
        )
    if licence.ended_on is not None and licence.ended_on <= taken.on:
        raise StepRefusedError(
            gettext("Its licence ended on {day}, and the channel with it.").format(
                day=written_day(licence.ended_on)
            )
        )
    begins = first or licence.in_force_from
    if begins is not None and taken.on < begins:
        raise StepRefusedError(
            gettext("The channel begins on {begins}; it cannot end on {on}.").format(
                begins=written_day(begins), on=written_day(taken.on)
            )
        )
    _before_its_end(licence, terms, taken)
    return {"ended_on": taken.on, "ended_how": _ENDINGS[taken.step]}


_ENDINGS = {
    Step.SURRENDER: Ending.SURRENDERED.value,
    Step.CANCEL: Ending.CANCELLED.value,
    Step.LAPSE: Ending.LAPSED.value,
}


def _not_ended(life: Life, taken: Taken) -> None:
    if life.ended_on is None:
        return
    how = Standing(life.ended_how).words if life.ended_how else gettext("ended")
    if taken.step in ENDING_STEPS or taken.step is Step.REFUSE_RENEWAL:
        raise StepRefusedError(
            gettext("It is {how} from {day} already.").format(how=how, day=written_day(life.ended_on))
        )
    if taken.on >= life.ended_on:
        raise StepRefusedError(
            gettext("It is {how} from {day}; nothing follows an end.").format(
                how=how, day=written_day(life.ended_on)
            )
        )


def _granted(life: Life, what: str) -> None:
    if life.granted_on is None:
        raise StepRefusedError(
            gettext("It is applied for and not granted; {what} comes after the grant.").format(what=what)
        )


def _before_its_end(life: Life, terms: Terms, taken: Taken) -> None:
    """Refuse what comes after the expiry; a licence that continues until its renewal is decided has no such day."""
    last = life.expires_on
    if last is not None and taken.on > last and not continues(life, renewal_of(life, terms)):
        raise StepRefusedError(gettext("It expired on {day}.").format(day=written_day(last)))


def _in_force(life: Life, terms: Terms, on: dt.date, what: str) -> None:
    _granted(life, what)
    state = standing_by_dates(life, renewal_of(life, terms), on)
    if not state.allows_transmission:
        raise StepRefusedError(
            gettext("On {on} it was {state}; {what} needs a licence in force on that day.").format(
                on=written_day(on), state=state.words, what=what
            )
        )


def _term_fits(terms: Terms, begins: dt.date, until: dt.date | None) -> None:
    if terms.longest_term_months is None:
        return
    last = months_after(begins, terms.longest_term_months)
    if until is None or until > last:
        raise StepRefusedError(
            ngettext(
                "The authority grants at most {months} month from {begins}: until {last}.",
                "The authority grants at most {months} months from {begins}: until {last}.",
                terms.longest_term_months,
            ).format(months=terms.longest_term_months, begins=written_day(begins), last=written_day(last)),
            "until",
        )


def _grant(life: Life, terms: Terms, taken: Taken) -> dict[str, Any]:
    if life.granted_on is not None:
        raise StepRefusedError(
            gettext("It was granted on {day} already.").format(day=written_day(life.granted_on))
        )
    first = taken.in_force_from or taken.on
    _term_fits(terms, first, taken.until)
    use_by, notice_by = life.bring_into_use_by, life.use_notice_by
    if use_by is None and terms.bring_into_use_months is not None:
        use_by = months_after(taken.on, terms.bring_into_use_months)
    if notice_by is None and use_by is not None and terms.use_notice_days is not None:
        notice_by = days_after(use_by, terms.use_notice_days)
    return {
        "granted_on": taken.on,
        "in_force_from": first,
        "expires_on": taken.until,
        "bring_into_use_by": use_by,
        "use_notice_by": notice_by,
        "fee_due_on": taken.fee_due_on or life.fee_due_on,
    }


def _bring_into_use(life: Life, terms: Terms, taken: Taken) -> dict[str, Any]:
    if life.brought_into_use_on is not None:
        raise StepRefusedError(
            gettext("It was brought into use on {day} already.").format(
                day=written_day(life.brought_into_use_on)
            )
        )
    _in_force(life, terms, taken.on, gettext("bringing it into use"))
    return {"brought_into_use_on": taken.on}


def _notify_use(life: Life, _terms: Terms, taken: Taken) -> dict[str, Any]:
    if life.use_notified_on is not None:
        raise StepRefusedError(
            gettext("The notice went out on {day} already.").format(day=written_day(life.use_notified_on))
        )
    if life.brought_into_use_on is None:
        raise StepRefusedError(
            gettext("It is not brought into use yet; enter that day first, then the notice of it.")
        )
    return {"use_notified_on": taken.on}


def _file_renewal(life: Life, terms: Terms, taken: Taken) -> dict[str, Any]:
    _granted(life, gettext("a renewal"))
    if life.renewal_filed_on is not None:
        raise StepRefusedError(
            gettext("The renewal was filed on {day} already.").format(day=written_day(life.renewal_filed_on))
        )
    if life.expires_on is None:
        raise StepRefusedError(gettext("It has no fixed end, so there is nothing to renew."))
    dates = renewal_of(life, terms)
    if dates is None:
        raise StepRefusedError(
            gettext("It cannot be renewed: its terms say so. A new application is needed.")
        )
    if taken.on < dates.window_opens_on:
        raise StepRefusedError(
            gettext("The renewal may be filed from {day} on.").format(day=written_day(dates.window_opens_on))
        )
    if taken.on > dates.last_filing_on:
        raise StepRefusedError(
            gettext(
                "The last filing day was {day}; a renewal cannot be asked for after it. Ask "
                "the authority what can still be done; a new application may be needed."
            ).format(day=written_day(dates.last_filing_on))
        )
    return {"renewal_filed_on": taken.on, "let_expire_on": None}


def _decided(life: Life, taken: Taken) -> dt.date:
    """The last day of what the authority decided to renew or not; refused where it had nothing to decide."""
    _granted(life, gettext("a renewal"))
    if life.renewal_filed_on is None or life.expires_on is None:
        raise StepRefusedError(
            gettext("No renewal is filed; enter the filing first, then what the authority decided.")
        )
    if taken.on < life.renewal_filed_on:
        raise StepRefusedError(
            gettext("The renewal was filed on {day}; it was not decided before that.").format(
                day=written_day(life.renewal_filed_on)
            )
        )
    return life.expires_on


def _renew(life: Life, terms: Terms, taken: Taken) -> dict[str, Any]:
    """The new term follows the old one; of a licence that continued meanwhile no day is missing.

    Its longest term may be counted from the decision where that came after the old last day.
    """
    last = _decided(life, taken)
    if taken.until is None or taken.until <= last:
        raise StepRefusedError(
            gettext("Give the new last day of validity: a day after {day}.").format(day=written_day(last)),
            "until",
        )
    _term_fits(terms, max(last, taken.on) if continues(life, renewal_of(life, terms)) else last, taken.until)
    return {"expires_on": taken.until, "renewal_filed_on": None}


def _refuse_renewal(life: Life, terms: Terms, taken: Taken) -> dict[str, Any]:
    """Before the expiry it ends on its day all the same; where it continues, the refusal ends it."""
    last = _decided(life, taken)
    if taken.on > last and continues(life, renewal_of(life, terms)):
        return {"ended_on": taken.on, "ended_how": Ending.REFUSED.value}
    return {"renewal_filed_on": None}


def _let_expire(life: Life, terms: Terms, taken: Taken) -> dict[str, Any]:
    _granted(life, gettext("its end"))
    if life.expires_on is None:
        raise StepRefusedError(gettext("It has no fixed end; surrender it instead."))
    if life.let_expire_on is not None:
        raise StepRefusedError(
            gettext("That was decided on {day} already.").format(day=written_day(life.let_expire_on))
        )
    if life.renewal_filed_on is not None:
        raise StepRefusedError(
            gettext("Its renewal was filed on {day}.").format(day=written_day(life.renewal_filed_on))
        )
    _before_its_end(life, terms, taken)
    return {"let_expire_on": taken.on}


def _pay_fee(life: Life, terms: Terms, taken: Taken) -> dict[str, Any]:
    _granted(life, gettext("a fee"))
    if life.fee_due_on is None:
        raise StepRefusedError(gettext("No fee is due: it has no fee date."))
    if life.expires_on is not None and runs_out_before_fee(life, terms):
        raise StepRefusedError(
            gettext("It expires on {day}, before the next fee is due ({fee_due_on}).").format(
                day=written_day(life.expires_on), fee_due_on=written_day(life.fee_due_on)
            )
        )
    return {"fee_due_on": months_after(life.fee_due_on, terms.fee_every_months)}


def _lapse(life: Life, terms: Terms, taken: Taken) -> dict[str, Any]:
    first = lapses_on(life, terms)
    if first is None or life.fee_due_on is None:
        raise StepRefusedError(gettext("No fee is due: it has no fee date."))
    if taken.on < first:
        raise StepRefusedError(
            ngettext(
                "The fee is due on {fee_due_on} and may be paid within {days} day after; it cannot lapse "
                "before {first}.",
                "The fee is due on {fee_due_on} and may be paid within {days} days after; it cannot lapse "
                "before {first}.",
                terms.fee_grace_days,
            ).format(
                fee_due_on=written_day(life.fee_due_on),
                days=terms.fee_grace_days,
                first=written_day(first),
            )
        )
    _before_its_end(life, terms, taken)
    return {"ended_on": taken.on, "ended_how": _ENDINGS[Step.LAPSE]}


def _transfer(life: Life, terms: Terms, taken: Taken) -> dict[str, Any]:
    _in_force(life, terms, taken.on, gettext("a transfer"))
    if taken.holder_id is None or taken.holder_id == life.holder_id:
        raise StepRefusedError(gettext("Name the new holder: another one than holds it now."), "holder")
    return {"holder_id": taken.holder_id}


def _end(life: Life, terms: Terms, taken: Taken) -> dict[str, Any]:
    _before_its_end(life, terms, taken)
    return {"ended_on": taken.on, "ended_how": _ENDINGS[taken.step]}


def _correct(_life: Life, _terms: Terms, taken: Taken) -> dict[str, Any]:
    unknown = [name for name, _ in taken.corrected if name not in FIELDS]
    if unknown or not taken.corrected:
        raise StepRefusedError(gettext("Say which date was entered wrongly and what it is."), "corrected")
    return dict(taken.corrected)


_RULES: dict[Step, Rule] = {
    Step.GRANT: _grant,
    Step.BRING_INTO_USE: _bring_into_use,
    Step.NOTIFY_USE: _notify_use,
    Step.FILE_RENEWAL: _file_renewal,
    Step.RENEW: _renew,
    Step.REFUSE_RENEWAL: _refuse_renewal,
    Step.LET_EXPIRE: _let_expire,
    Step.PAY_FEE: _pay_fee,
    Step.LAPSE: _lapse,
    Step.TRANSFER: _transfer,
    Step.SURRENDER: _end,
    Step.CANCEL: _end,
    Step.CORRECT: _correct,
}


def _example(life: Life, terms: Terms, step: Step, day: dt.date) -> Taken:
    """The step as it would be entered for a day, with what it needs filled in."""
    until = None
    if step is Step.GRANT and terms.longest_term_months is not None:
        until = months_after(day, terms.longest_term_months)
    if step is Step.RENEW and life.expires_on is not None:
        until = days_after(life.expires_on, 1)
    other = -1 if step is Step.TRANSFER else None
    same = tuple((name, getattr(life, name)) for name in ("expires_on",)) if step is Step.CORRECT else ()
    return Taken(step=step, on=day, until=until, holder_id=other, corrected=same)
