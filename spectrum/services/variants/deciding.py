"""The end of a variant: accepted as a whole into the register, or dropped."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from licences.models import Holder
from sites.errors import NotAllowedError, RegisterError, StaleWriteError
from sites.models import Person
from sites.services import record
from sites.services.record import Author, as_register_error
from spectrum.models import Link, PlannedChange, Variant
from spectrum.services import held_pairs, links

from .planned import rows_to_save
from .state import held_open, is_checked

# What frees a frequency comes before what takes one.
_ORDER = {PlannedChange.Kind.RETIRE: 0, PlannedChange.Kind.CHANGE: 1, PlannedChange.Kind.ADD: 2}


def accept(variant: Variant, *, by: Person, reason: str = "") -> Variant:
    """Carry out every planned change in one transaction; if one is refused, none is made.

    The variant must have been checked as it is drawn up. StaleWriteError names the link that
    somebody changed after it was drawn up; RegisterError what the register refuses.
    """
    with held_pairs.one_at_a_time(), transaction.atomic():
        held_pairs.wait_for_turn()
        stored = held_open(variant)
        changes = sorted(
            stored.changes.select_related("link"), key=lambda c: (_ORDER[PlannedChange.Kind(c.kind)], c.pk)
        )
        if not changes:
            raise RegisterError(
                gettext("The variant {variant} plans no changes; there is nothing to accept.").format(
                    variant=stored
                )
            )
        if not is_checked(stored):
            raise RegisterError(
                gettext(
                    "The variant {variant} was not checked as it is drawn up now. Check it, read what would be "
                    "new, then accept it."
                ).format(variant=stored)
            )
        for change in changes:
            _may(by, change)
            try:
                _carry_out(change, Author.of(by), f"variant {stored}")
            except StaleWriteError as error:
                raise StaleWriteError(
                    gettext(
                        "{message} Nothing of the variant was accepted: take {change} out of it, draw it up again "
                        "and check the variant."
                    ).format(message=error.message, change=change.code)
                ) from error
            except ValidationError as error:
                said = as_register_error(error)
                raise RegisterError(
                    gettext("{change} is refused: {message} Nothing of the variant was accepted.").format(
                        change=change.code, message=said.message
                    )
                ) from error
            except held_pairs.PairHeldError as error:
                raise held_pairs.PairHeldError(
                    gettext("{change} is refused: {message} Nothing of the variant was accepted.").format(
                        change=change.code, message=error.message
                    )
                ) from error
            except RegisterError as error:
                raise RegisterError(
                    gettext("{change} is refused: {message} Nothing of the variant was accepted.").format(
                        change=change.code, message=error.message
                    )
                ) from error
        return _decide(stored, Variant.Status.ACCEPTED, by, reason)


def drop(variant: Variant, *, by: Person, reason: str = "") -> Variant:
    """Put a variant aside; it stays to be read, and nothing of it was ever in the register."""
    with transaction.atomic():
        return _decide(held_open(variant), Variant.Status.DROPPED, by, reason)


def _decide(variant: Variant, status: str, by: Person, reason: str) -> Variant:
    variant.status = status
    variant.decided_by, variant.decided_at, variant.decided_reason = by, timezone.now(), reason.strip()
    return record.change(variant, by=Author.of(by), reason=reason)


def _may(person: Person, change: PlannedChange) -> None:
    wanted = "spectrum.add_link" if change.kind == PlannedChange.Kind.ADD else "spectrum.change_link"
    if not person.has_perm(wanted):
        raise NotAllowedError(
            gettext(
                "{change} needs a role that includes it; a planner accepts variants. Nothing was accepted."
            ).format(change=change)
        )
    holders = {change.planned["link"]["holder_id"]} if change.planned else set()
    if change.link is not None:
        holders.add(change.link.holder_id)
    others = Holder.objects.filter(pk__in=holders, own=False).exists()
    if others and not person.has_perm("spectrum.what_others_hold"):
        raise NotAllowedError(
            gettext("{change} is a link of another party; your role does not include those.").format(
                change=change
            )
        )


def _carry_out(change: PlannedChange, by: Author, reason: str) -> None:
    link = change.link
    if change.kind == PlannedChange.Kind.RETIRE:
        assert link is not None and change.last_day is not None  # noqa: S101 - the table demands both
        link.ends_on = change.last_day
        if change.last_day < timezone.localdate():
            link.status = Link.Status.RETIRED
        links.save_link(
            link, list(link.stations.all()), by=by, expected_version=change.link_version, reason=reason
        )
        return
    rows = rows_to_save(change, link)
    links.save_link(*rows, by=by, expected_version=change.link_version, reason=reason)
