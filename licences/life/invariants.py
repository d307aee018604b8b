"""What is true of a licence's dates whatever steps were taken."""

from __future__ import annotations

from licences.standing import Ending

from .days import renewal_of
from .records import Life, Terms

_IN_ORDER = (
    ("applied_on", "granted_on", "The grant lies before the application."),
    ("granted_on", "in_force_from", "The first day in force lies before the grant."),
    ("in_force_from", "expires_on", "The expiry lies before the first day in force."),
    ("in_force_from", "brought_into_use_on", "It was brought into use before it was in force."),
    ("brought_into_use_on", "use_notified_on", "The use was notified before it began."),
    ("granted_on", "bring_into_use_by", "The bring-into-use date lies before the grant."),
    ("bring_into_use_by", "use_notice_by", "The notice date lies before the bring-into-use date."),
    ("granted_on", "fee_due_on", "A fee is due before the grant."),
)


def broken_invariants(life: Life, terms: Terms) -> list[str]:
    """What contradicts itself in the dates, each in one sentence; an empty list is as it should be."""
    broken = [
        sentence
        for earlier, later, sentence in _IN_ORDER
        if getattr(life, earlier) and getattr(life, later) and getattr(life, earlier) > getattr(life, later)
    ]
    if (life.granted_on is None) != (life.in_force_from is None):
        broken.append("A grant and a first day in force belong together.")
    if life.granted_on is None and life.applied_on is None:
        broken.append("It was neither applied for nor granted.")
    if life.granted_on is None and any(
        (life.brought_into_use_on, life.use_notified_on, life.renewal_filed_on, life.expires_on)
    ):
        broken.append("It has dates of a granted licence and is not granted.")
    if life.use_notified_on and life.brought_into_use_on is None:
        broken.append("The use was notified and there is no day on which it began.")
    broken += _of_renewal(life, terms)
    if (life.ended_on is None) != (life.ended_how == ""):
        broken.append("An end needs its day and how it came.")
    if life.ended_how and life.ended_how not in set(Ending):
        broken.append(f"{life.ended_how!r} is no way in which a licence ends.")
    first = life.granted_on or life.applied_on
    if life.ended_on and first and life.ended_on < first:
        broken.append("It ended before it began.")
    return broken


def _of_renewal(life: Life, terms: Terms) -> list[str]:
    filed = life.renewal_filed_on
    if filed is None:
        return []
    dates = renewal_of(life, terms)
    if dates is None:
        return ["A renewal is filed for what has no expiry or is not renewed."]
    broken = []
    if not dates.window_opens_on <= filed <= dates.last_filing_on:
        broken.append("The renewal is filed outside its window.")
    if life.let_expire_on is not None:
        broken.append("The renewal is filed, and it is to expire.")
    return broken
