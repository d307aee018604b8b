"""What the life of a licence is told in: its dates, its authority's terms, and steps."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, fields
from enum import StrEnum

from sites.words import gettext, gettext_noop


class Step(StrEnum):
    """What can happen to a licence; SURRENDER and CANCEL also to one of its channels alone."""

    GRANT = "grant"
    BRING_INTO_USE = "bring_into_use"
    NOTIFY_USE = "notify_use"
    FILE_RENEWAL = "file_renewal"
    RENEW = "renew"
    REFUSE_RENEWAL = "refuse_renewal"
    LET_EXPIRE = "let_expire"
    PAY_FEE = "pay_fee"
    LAPSE = "lapse"
    TRANSFER = "transfer"
    SURRENDER = "surrender"
    CANCEL = "cancel"
    CORRECT = "correct"

    @property
    def words(self) -> str:
        """The step as a heading: what one does."""
        return gettext(_WORDS[self][0])

    @property
    def done(self) -> str:
        """The step as an entry of the past: what was done."""
        return gettext(_WORDS[self][1])


_WORDS = {
    Step.GRANT: (gettext_noop("Enter the grant"), gettext_noop("granted")),
    Step.BRING_INTO_USE: (gettext_noop("Bring into use"), gettext_noop("brought into use")),
    Step.NOTIFY_USE: (
        gettext_noop("Notify the bringing into use"),
        gettext_noop("bringing into use notified"),
    ),
    Step.FILE_RENEWAL: (gettext_noop("File the renewal"), gettext_noop("renewal filed")),
    Step.RENEW: (gettext_noop("Enter the renewal"), gettext_noop("renewed")),
    Step.REFUSE_RENEWAL: (
        gettext_noop("Enter the refusal of the renewal"),
        gettext_noop("renewal refused"),
    ),
    Step.LET_EXPIRE: (gettext_noop("Let it expire"), gettext_noop("decided to let it expire")),
    Step.PAY_FEE: (gettext_noop("Enter a paid fee"), gettext_noop("fee paid")),
    Step.LAPSE: (gettext_noop("Enter the lapse for an unpaid fee"), gettext_noop("lapsed for an unpaid fee")),
    Step.TRANSFER: (gettext_noop("Transfer to another holder"), gettext_noop("transferred")),
    Step.SURRENDER: (gettext_noop("Surrender"), gettext_noop("surrendered")),
    Step.CANCEL: (
        gettext_noop("Enter a cancellation by the authority"),
        gettext_noop("cancelled by the authority"),
    ),
    Step.CORRECT: (gettext_noop("Correct the record"), gettext_noop("record corrected")),
}

#: The steps that can be taken with one channel and leave the rest of the licence as it is.
CHANNEL_STEPS = (Step.SURRENDER, Step.CANCEL)
#: The steps that name a first day without the licence, which may lie ahead.
ENDING_STEPS = (Step.SURRENDER, Step.CANCEL, Step.LAPSE)


@dataclass(frozen=True, kw_only=True)
class Life:
    """The dates of a licence, named as the model names them; ``holder_id`` says whose it is.

    ``ended_on`` is the first day without it, ``expires_on`` the last day with it, unless it continues
    beyond that day while its renewal is undecided (:func:`licences.standing.continues`).
    """

    applied_on: dt.date | None = None
    granted_on: dt.date | None = None
    in_force_from: dt.date | None = None
    bring_into_use_by: dt.date | None = None
    brought_into_use_on: dt.date | None = None
    use_notice_by: dt.date | None = None
    use_notified_on: dt.date | None = None
    expires_on: dt.date | None = None
    renewal_filed_on: dt.date | None = None
    let_expire_on: dt.date | None = None
    fee_due_on: dt.date | None = None
    ended_on: dt.date | None = None
    ended_how: str = ""
    holder_id: int | None = None


FIELDS = tuple(field.name for field in fields(Life))


@dataclass(frozen=True, kw_only=True)
class Terms:
    """What an authority sets for a licence. Days count calendar days, months calendar months.

    Attributes
    ----------
    window_opens_days : first day for filing a renewal, in days before the expiry
    last_filing_days : last day for it, in days before the expiry; negative: after it
    renewable : False where the licence says that it is not renewed
    conditions : on what a renewal depends, in words
    continues_while_undecided : a licence stays in force after its expiry until a renewal that was filed in
        time is decided (47 CFR 1.62(a)(1) is such a rule); False: it ends on its day
    window_steps_days, reminder_steps_days, expiry_steps_days, use_steps_days, notice_steps_days,
    fee_steps_days : when to remind: days before the window opens, the last filing day, the expiry, the
        bring-into-use date, the notice of it, the day the fee is due
    after_expiry_steps_days : the same in days after the expiry
    bring_into_use_months : from the grant; None: no such date
    use_notice_days : for the notice, from the bring-into-use date; None: no notice is asked for
    longest_term_months : of a grant or renewal; None: no limit
    fee_grace_days : after the due date, before the authority may let the licence lapse
    fee_every_months : from one fee to the next
    """

    window_opens_days: int = 180
    last_filing_days: int = 0
    renewable: bool = True
    conditions: str = ""
    continues_while_undecided: bool = False
    window_steps_days: tuple[int, ...] = (0,)
    reminder_steps_days: tuple[int, ...] = ()
    expiry_steps_days: tuple[int, ...] = ()
    after_expiry_steps_days: tuple[int, ...] = (1,)
    use_steps_days: tuple[int, ...] = ()
    notice_steps_days: tuple[int, ...] = ()
    fee_steps_days: tuple[int, ...] = ()
    bring_into_use_months: int | None = None
    use_notice_days: int | None = None
    longest_term_months: int | None = None
    fee_grace_days: int = 30
    fee_every_months: int = 12


@dataclass(frozen=True, kw_only=True)
class Taken:
    """A step as somebody enters it. What else a step needs: ``in_force_from`` and ``until`` for a grant,
    ``until`` for a renewal, ``holder_id`` for a transfer, ``corrected`` (field, value) for a correction.
    """

    step: Step
    on: dt.date
    in_force_from: dt.date | None = None
    until: dt.date | None = None
    fee_due_on: dt.date | None = None
    holder_id: int | None = None
    corrected: tuple[tuple[str, dt.date | str | None], ...] = ()


class StepRefusedError(ValueError):
    """A step that cannot be taken; the sentence says why, ``field`` what has to be entered otherwise."""

    def __init__(self, sentence: str, field: str = "on") -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field
