"""What is true of a licence's dates whatever steps were taken."""

from __future__ import annotations

from licences.standing import Ending
from sites.words import gettext, gettext_noop

from .days import renewal_of
from .records import Life, Terms

_IN_ORDER = (
    ("applied_on", "granted_on", gettext_noop("The grant lies before the application.")),
    ("granted_on", "in_force_from", gettext_noop("The first day in force lies before the grant.")),
    ("in_force_from", "expires_on", gettext_noop("The expiry lies before the first day in force.")),
    ("in_force_from", "brought_into_use_on", gettext_noop("It was brought into use before it was in force.")),
    ("brought_into_use_on", "use_notified_on", gettext_noop("The use was notified before it began.")),
    ("granted_on", "bring_into_use_by", gettext_noop("The bring-into-use date lies before the grant.")),
    (
        "bring_into_use_by",
        "use_notice_by",
        gettext_noop("The notice date lies before the bring-into-use date."),
    ),
    ("granted_on", "fee_due_on", gettext_noop("A fee is due before the grant.")),
)


def broken_invariants(life: Life, terms: Terms) -> list[str]:
    """What contradicts itself in the dates, each in one sentence; an empty list is as it should be."""
    broken = [
        gettext(sentence)
        for earlier, later, sentence in _IN_ORDER
        if getattr(life, earlier) and getattr(life, later) and getattr(life, earlier) > getattr(life, later)
    ]
    if (life.granted_on is None) != (life.in_force_from is None):
        broken.append(gettext("A grant and a first day in force belong together."))
    if life.granted_on is None and life.applied_on is None:
        broken.append(gettext("It was neither applied for nor granted."))
    if life.granted_on is None and any(
        (life.brought_into_use_on, life.use_notified_on, life.renewal_filed_on, life.expires_on)
    ):
        broken.append(gettext("It has dates of a granted licence and is not granted."))
    if life.use_notified_on and life.brought_into_use_on is None:
        broken.append(gettext("The use was notified and there is no day on which it began."))
    broken += _of_renewal(life, terms)
    if (life.ended_on is None) != (life.ended_how == ""):
        broken.append(gettext("An end needs its day and how it came."))
    if life.ended_how and life.ended_how not in set(Ending):
        broken.append(gettext("{how} is no way in which a licence ends.").format(how=repr(life.ended_how)))
    first = life.granted_on or life.applied_on
    if life.ended_on and first and life.ended_on < first:
        broken.append(gettext("It ended before it began."))
    return broken


def _of_renewal(life: Life, terms: Terms) -> list[str]:
    filed = life.renewal_filed_on
    if filed is None:
        if life.ended_how == Ending.REFUSED:
            return [gettext("It ended by the refusal of a renewal, and none is filed.")]
        return []
    dates = renewal_of(life, terms)
    if dates is None:
        return [gettext("A renewal is filed for what has no expiry or is not renewed.")]
    broken = []
    if not dates.window_opens_on <= filed <= dates.last_filing_on:
        broken.append(gettext("The renewal is filed outside its window."))
    if life.let_expire_on is not None:
        broken.append(gettext("The renewal is filed, and it is to expire."))
    return broken
